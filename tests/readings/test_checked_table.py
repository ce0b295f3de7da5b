"""The two place columns of a readings file."""

from __future__ import annotations

import pytest
from readings.small_field import table

from zoning.readings.cells import Cells
from zoning.readings.checked_table import PLACE_COLUMNS, place_columns


def read(text: str, *, crs_given: bool = False) -> tuple[str, list[str]]:
    cells = Cells(table(text, *PLACE_COLUMNS), PLACE_COLUMNS)
    kind, _, _ = place_columns(cells, crs_given=crs_given)
    return kind, [str(f) for f in cells.faults]


def test_degrees_and_grid() -> None:
    assert read("lon,lat\n1,52\n") == ("degrees", [])
    assert read("easting,northing\n312000,5784000\n", crs_given=True) == ("grid", [])


def test_one_place_off_the_globe_is_a_fault_of_its_row() -> None:
    _, faults = read("lon,lat\n1,52\n1,520\n1,52\n")
    assert len(faults) == 1
    assert faults[0].startswith("t.csv:3: lat: Found 1, 520.")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("lon,lat\n1,\n", "t.csv:2: lat: The cell is blank"),
        ("lon,lat\n52,100\n52,101\n", "Did you swap lon and lat?"),
        ("lon,lat\n312000,5784000\n", "Name metres easting and northing"),
        ("easting,northing\n1,2\n", "no coordinate system is named"),
        ("easting,x\n1,2\n", "Give both easting and northing"),
        ("lat,x\n1,2\n", "lon: This column is missing"),
        ("lon,lat,easting,northing\n1,52,1,2\n", "Keep one pair"),
    ],
)
def test_what_is_no_place(text: str, said: str) -> None:
    assert any(said in fault for fault in read(text)[1])
