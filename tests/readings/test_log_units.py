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
