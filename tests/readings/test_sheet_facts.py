"""What is gathered of a sheet; names of cells against openpyxl."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.utils import column_index_from_string, coordinate_to_tuple, get_column_letter
from readings.small_field import faults_of

from zoning.readings.sheet_facts import SheetError, SheetFacts, cell_name, column_number


@given(st.integers(1, 1_048_576), st.integers(1, 16_384))
def test_cells_bear_the_names_that_spreadsheets_show(row: int, column: int) -> None:
    assert coordinate_to_tuple(cell_name(row, column)) == (row, column)
    letters = get_column_letter(column)
    assert column_number(letters) == column_index_from_string(letters) == column


def test_the_rectangle_and_the_text_of_a_sheet_are_bounded() -> None:
    facts = SheetFacts("cone")
    facts.reach(1, 16_384, 0)
    with pytest.raises(SheetError, match="Sheet cone reaches to cell XFD1000, 16384000 cells"):
        facts.reach(1000, 1, 0)
    with pytest.raises(SheetError, match="more text"):
        SheetFacts("cone").reach(1, 1, 10**9)


def test_faults_stand_at_the_first_row_and_name_cells_in_their_order() -> None:
    facts = SheetFacts("cone", merged=["B9:C9", "AA2:AA3", "B2:C2"], errors=["A12"])
    merged, error = faults_of(lambda: facts.check("r.xlsx, sheet cone"))
    assert merged.startswith("r.xlsx, sheet cone:2: Cells B2:C2, AA2:AA3, B9:C9 are merged.")
    assert error.startswith("r.xlsx, sheet cone:12: Cell A12 holds an error")


def test_a_sound_sheet_has_no_fault() -> None:
    SheetFacts("cone", rows=2, columns=2).check("r.xlsx")
