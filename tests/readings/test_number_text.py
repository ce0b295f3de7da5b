"""Numbers as a text spells them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from zoning.readings.number_text import plain_number


@given(st.floats(allow_nan=False, allow_infinity=False, width=32))
def test_numbers_come_back_as_written(value: float) -> None:
    assert plain_number(repr(value)) == value


@pytest.mark.parametrize("cell", ["", "1_0", "nan", "inf", "1e400", "0x1", "1,5", "１"])
def test_what_is_no_plain_number_is_nan(cell: str) -> None:
    assert math.isnan(plain_number(cell))
