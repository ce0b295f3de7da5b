"""Dates in the orders that leave no doubt."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from zoning.readings.dates import date_remedy, read_dates


@pytest.mark.parametrize(
    ("cell", "iso"),
    [
        ("2026-09-03", "2026-09-03"),
        ("2026-09-03T10:30:00Z", "2026-09-03"),
        ("2026-09-03 00:00", "2026-09-03"),
        ("2026/9/3", "2026-09-03"),
        ("3.9.2026", "2026-09-03"),
        ("14.10.2026 8:05", "2026-10-14"),
        ("25/09/2026", "2026-09-25"),
        ("9/25/2026 10:00", "2026-09-25"),
        ("25-9-2026", "2026-09-25"),
    ],
)
def test_a_date_that_can_be_one_day_only_is_read(cell: str, iso: str) -> None:
    assert read_dates({cell}).iso == {cell: iso}


@pytest.mark.parametrize(
    "cell", ["03/09/2026", "3-9-2026", "14.10.26", "31.02.2026", "13/13/2026", "2026-09-03 noon"]
)
def test_a_date_that_could_be_two_days_or_none_is_not_read(cell: str) -> None:
    assert read_dates({cell}).iso == {}


@given(st.dates(date(1900, 1, 1), date(2200, 12, 31)), st.sampled_from("/-"))
def test_one_clear_date_settles_the_order_of_a_column(day: date, mark: str) -> None:
    early = f"{day.day:02}{mark}{day.month:02}{mark}{day.year}"
    read = read_dates({early, f"28{mark}02{mark}2026"})
    assert read.iso[early] == day.isoformat()
    assert read.orders == ("day/month/year",)


def test_two_orders_in_one_column_settle_nothing() -> None:
    assert read_dates({"25/09/2026", "09/25/2026"}).iso == {}


@pytest.mark.parametrize(
    ("cell", "words"),
    [
        ("2206-09-03", "The year must lie from 1900 to 2200."),
        ("3.9.1026", "The year must lie from 1900 to 2200."),
        ("3/9/2206 10:30", "The year must lie from 1900 to 2200."),
        ("46266", "It is a spreadsheet's number of a day"),
        ("03/09/2026", "Give the date as YEAR-MONTH-DAY, 2026-09-03."),
        ("2026-02-30", "Give the date as YEAR-MONTH-DAY, 2026-09-03."),
        ("some day", "Give the date as YEAR-MONTH-DAY, 2026-09-03."),
    ],
)
def test_what_is_no_date_says_what_to_mend(cell: str, words: str) -> None:
    assert cell not in read_dates({cell}).iso
    assert date_remedy(cell).startswith(words)
