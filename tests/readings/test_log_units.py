"""A log whose numbers belong to another unit is refused, with the unit that would fit."""

from __future__ import annotations

import pytest
from readings.small_field import blob

from zoning.readings.cone import read_cone


def said(depth: str, index: str, rows: list[tuple[float, float]]) -> str:
    text = f"station,lon,lat,{depth},{index}\n" + "".join(f"A,1,52,{d},{i}\n" for d, i in rows)
    checked = read_cone(blob(text, "cone.csv"), cone_unit=None, crs_given=False, areas=[])
    return "\n".join(str(f) for f in checked.faults)


@pytest.mark.parametrize(
    ("column", "deepest", "fits"),
    [
        ("depth_cm", 600, "_mm would give 60 cm"),  # a 60 cm profile that says 600 cm
        ("depth_in", 60, "_cm would give 60 cm"),
        ("depth_mm", 45, "_cm would give 45 cm"),
        ("depth_mm", 18, "_in would give 45.72 cm"),
        ("depth_cm", 0.45, "depths are in cm, mm or in"),
    ],
)
def test_depth_in_another_unit(column: str, deepest: float, fits: str) -> None:
    text = said(column, "cone_index_mpa", [(deepest / 2, 1.5), (deepest, 2.0)])
    assert fits in text


@pytest.mark.parametrize(
    ("column", "typical", "fits"),
    [
        ("cone_index_mpa", 1500, "would fit kPa"),
        ("cone_index_mpa", 290, "kPa or psi"),
        ("cone_index_kpa", 1.5, "would fit MPa"),
        ("cone_index_psi", 2000, "would fit kPa"),
        ("cone_index_mpa", 20, "divide by 10 for MPa"),  # numbers in bar
    ],
)
def test_cone_index_in_another_unit(column: str, typical: float, fits: str) -> None:
    assert fits in said(
        "depth_cm", column, [(10, typical), (20, typical * 1.2), (30, typical * 0.9)]
    )


def test_one_impossible_cone_index_is_a_fault_of_its_row() -> None:
    text = said("depth_cm", "cone_index_mpa", [(10, 1.5), (20, 42.0), (30, 2.0)])
    assert text.startswith("cone.csv:3: cone_index_mpa")
    assert "\n" not in text


@pytest.mark.parametrize("values", [(0, 0, 0), (0.2, 0.3, 0.2), (3.0, 5.9, 8.0)])
def test_soft_and_hard_soil_pass(values: tuple[float, ...]) -> None:
    assert said("depth_cm", "cone_index_mpa", [(10.0 * i, v) for i, v in enumerate(values)]) == ""


def test_a_log_of_60_cm_headed_millimetres_is_refused_with_the_heading_that_fits() -> None:
    text = said("depth_mm", "cone_index_mpa", [(30, 1.5), (60, 2.0)])
    assert "6 cm" in text
    assert "_cm" in text


def wide(numbers: list[list[str]], unit: str) -> list[str]:
    rows = "".join(f"A{i},1,52,{','.join(row)}\n" for i, row in enumerate(numbers))
    text = f"station,lon,lat,10 cm,20 cm,30 cm\n{rows}"
    checked = read_cone(blob(text, "cone.csv"), cone_unit=unit, crs_given=False, areas=[])
    return [str(fault) for fault in checked.faults]


@pytest.mark.parametrize("unit", ["kPa", "MPa", "psi"])
@pytest.mark.parametrize(
    "numbers",
    [
        [["400", "950", "1.200"], ["380", "720", "2.060"]],  # median as read is 550
        [["950", "1.810", "1.200"], ["1.380", "720", "2.060"]],  # median as read is 1.595
    ],
)
def test_points_between_thousands_are_told_as_such_once(
    numbers: list[list[str]], unit: str
) -> None:
    (fault,) = wide(numbers, unit)
    assert fault.startswith("cone.csv:2: ")
    assert "may be thousands marks. Without them the numbers fit " in fault
    assert "kPa" in fault


@pytest.mark.parametrize(
    ("numbers", "unit"),
    [
        ([["1.234", "2.100", "1.875"]], "MPa"),
        ([["0.950", "2.100", "1.875"]], "MPa"),
        ([["812.500", "640.125", "900.000"]], "kPa"),
        ([["1234.567", "640.125", "900.000"]], "kPa"),
        ([["1200", "640", "950"]], "kPa"),
    ],
)
def test_decimals_that_fit_their_unit_are_decimals(numbers: list[list[str]], unit: str) -> None:
    assert wide(numbers, unit) == []


def test_many_impossible_numbers_are_one_fault_with_their_rows() -> None:
    rows = [["1.5", "2.5", f"{30 + i}.25"] for i in range(30)]
    (fault,) = wide(rows, "MPa")
    assert fault.startswith("cone.csv: rows 2-31: readings.cone_unit: Found 30 cone indices above")
    assert "the hardest 59.2 MPa" in fault


def test_eastings_with_points_between_thousands_are_told() -> None:
    head = "station,easting,northing,depth_cm,cone_index_mpa\n"
    rows = "".join(f"A,351.97{i},5843212,{d},1.5\n" for i, d in enumerate((5, 10, 15)))
    checked = read_cone(blob(head + rows, "c.csv"), cone_unit=None, crs_given=True, areas=[])
    (fault,) = checked.faults
    assert "Found '351.970' and 2 more such numbers: the points may be thousands" in fault.what
