"""Boxes of a form turned into numbers."""

from __future__ import annotations

import re

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from zoning.review.forms import next_name, number, pit_texts, read_pit_form, shown


@pytest.mark.parametrize(
    ("text", "value"), [("31.5", 31.5), ("31,5", 31.5), ("", None), ("-0.8", -0.8)]
)
def test_numbers_with_point_or_comma(text: str, value: float | None) -> None:
    assert number(text) == value


@pytest.mark.parametrize(
    "text", ["1_0", "nan", "inf", "1e400", "٣", "1.2.3", "1 000", "--1", "0x1f"]
)
def test_anything_else_is_no_number(text: str) -> None:
    with pytest.raises(ValueError, match=re.escape(text)):
        number(text)


@given(st.floats(-180.0, 180.0))
@example(12.87903651675034)  # from easting and northing
@example(12.876583333333333)  # from 12°52.595'E
@example(-0.00001234567890123)
def test_every_place_that_the_form_is_filled_with_is_read_again(degrees: float) -> None:
    assert number(shown(degrees)) == degrees


def test_a_pit_fills_the_form_that_reads_as_that_pit() -> None:
    given = {"pit": "A1", "phase": "after", "lon": "0.80123456789", "lat": "52.7", "pan": "yes",
             "pan_top_cm": "20", "note": "a\r\nb"}  # fmt: skip
    first = read_pit_form(given, 2026, ("body",))
    assert first.pit is not None
    again = read_pit_form(pit_texts(first.pit), 2026, ("body",))
    assert again.pit == first.pit


def test_every_fault_is_found_at_once() -> None:
    filled = read_pit_form({"phase": "after", "lon": "x", "date": "soon"}, 2026, ())
    assert {"pit", "lon", "date"} <= set(filled.faults)


def test_the_next_name_is_free() -> None:
    assert next_name([]) == "A1"
    assert next_name(["A1", "A3"]) == "A2"
