"""Points between thousands: which cells can be nothing else, which may be either."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from zoning.readings.number_text import plain_number
from zoning.readings.thousands import (
    all_seem_parted,
    parts_thousands,
    seems_parted,
    without_points,
)


@given(st.integers(1_000_000, 10**12))
def test_a_million_written_with_points_is_no_number_and_is_known(number: int) -> None:
    cell = f"{number:,}".replace(",", ".")
    assert math.isnan(plain_number(cell))
    assert parts_thousands(cell)
    assert without_points(cell) == number


@given(st.integers(1000, 999_999))
def test_a_thousand_written_with_a_point_may_be_either(number: int) -> None:
    cell = f"{number:,}".replace(",", ".")
    assert seems_parted(cell)
    assert not parts_thousands(cell)
    assert without_points(cell) == number


@pytest.mark.parametrize(
    "cell", ["0.400", "1.25", "1234.567", "1.2345", "52.632741", "1.", "", "a"]
)
def test_a_decimal_point_is_none_between_thousands(cell: str) -> None:
    assert not seems_parted(cell)
    assert not parts_thousands(cell)


def test_one_certain_decimal_settles_a_column() -> None:
    assert all_seem_parted(["950", "1.200", ""])
    assert not all_seem_parted(["950", "1.200", "0.4"])
    assert not all_seem_parted(["950", "1200"])


def test_a_letter_among_the_digits_settles_nothing() -> None:
    assert all_seem_parted(["950", "1.200", "O.9"])
