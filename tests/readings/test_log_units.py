"""A log whose numbers belong to another unit is refused, with the unit that would fit."""

from __future__ import annotations

import pandas as pd
import pytest
from readings.small_field import blob, open_data

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
    assert fault.startswith("cone.csv: rows 2-31: 30 cm: Found 30 cone indices above")
    assert "the hardest 59.2 MPa" in fault


@pytest.mark.parametrize(
    ("row", "heading"),
    [(["1.5", "29", "2.5"], "20 cm"), (["41", "2.5", "29"], "10 cm to 30 cm")],
)
def test_an_impossible_number_of_a_wide_log_is_told_with_its_heading(
    row: list[str], heading: str
) -> None:
    (fault,) = wide([["1.5", "2.5", "2.0"], row, ["1.5", "2.5", "2.0"]], "MPa")
    assert fault.startswith(f"cone.csv:3: {heading}: Found ")


def test_eastings_with_points_between_thousands_are_told() -> None:
    head = "station,easting,northing,depth_cm,cone_index_mpa\n"
    rows = "".join(f"A,351.97{i},5843212,{d},1.5\n" for i, d in enumerate((5, 10, 15)))
    checked = read_cone(blob(head + rows, "c.csv"), cone_unit=None, crs_given=True, areas=[])
    (fault,) = checked.faults
    assert "Found '351.970' and 2 more such numbers: the points may be thousands" in fault.what


def told(text: str, unit: str | None, name: str = "cone.csv") -> list[tuple[str, str]]:
    """Cautions of a log that is read."""
    checked = read_cone(blob(text, name), cone_unit=unit, crs_given=False, areas=[])
    assert checked.faults == ()
    return [(n.code, n.text) for n in checked.notices if n.level == "caution"]


def pushes(*numbers: float, column: str = "") -> str:
    """A wide log of two rows, 3 in apart, all of one unit where `column` names it."""
    own = f",{column}" if column else ""
    heads = ",".join(f"{3 * i} in" for i in range(1, len(numbers) + 1))
    rows = "".join(f"{name},1,52{own},{','.join(map(str, numbers))}\n" for name in "AB")
    return f"station,lon,lat{',cone_unit' if column else ''},{heads}\n{rows}"


PAN_PSI = (103, 129, 450, 296, 182, 192, 180)  # peak of 450 psi, 3.1 MPa


def test_psi_read_as_kpa_is_asked_about() -> None:
    ((code, text),) = told(pushes(*PAN_PSI), "kPa")
    assert code == "cone-index-soft"
    assert "no reading above 0.7 MPa at any depth, the hardest 0.45 MPa. Is it psi?" in text
    assert told(pushes(*PAN_PSI), "psi") == []


def test_the_same_in_a_long_log() -> None:
    rows = "".join(f"A,1,52,{5 * i},{value}\n" for i, value in enumerate(PAN_PSI, start=1))
    assert told(f"station,lon,lat,depth_cm,cone_index_psi\n{rows}", None) == []
    ((code, _),) = told(f"station,lon,lat,depth_cm,cone_index_kpa\n{rows}", None)
    assert code == "cone-index-soft"


def test_kpa_read_as_psi_is_asked_about() -> None:
    kpa = (310, 480, 1400, 900, 600, 650, 640)
    ((code, text),) = told(pushes(*kpa), "psi")
    assert code == "cone-index-hard"
    assert "Is it kPa?" in text
    assert told(pushes(*kpa), "kPa") == []


def test_a_real_log_in_kpa_is_asked_about_as_psi_alone() -> None:
    """Marsden 2019, open data: kPa by its licence page; median 862, hardest 1863."""
    source = pd.read_csv(open_data("penetrometer", "marsden_2019", "readings.csv"))
    columns = {"id": "station", "cone_index": "cone_index_psi"}
    text = source.rename(columns=columns).to_csv(index=False)
    assert [code for code, _ in told(text, None)] == ["cone-index-hard"]
    assert told(text.replace("cone_index_psi", "cone_index_kpa"), None) == []


def test_a_file_says_its_own_unit_and_field_toml_that_of_the_others() -> None:
    own = read_cone(
        blob(pushes(*PAN_PSI, column="psi"), "c.csv"), cone_unit="kPa", crs_given=False, areas=[]
    )
    plain = read_cone(blob(pushes(*PAN_PSI), "c.csv"), cone_unit="psi", crs_given=False, areas=[])
    assert own.faults == plain.faults == ()
    assert own.frame.equals(plain.frame)
    assert [n.text for n in own.notices] == ["c.csv: read in psi, as its column cone_unit says."]
    assert plain.notices == ()
    assert told(pushes(*PAN_PSI, column="PSI"), None) == []


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (pushes(*PAN_PSI, column="bar"), "cone.csv: rows 2-3: cone_unit: Found 'bar', which is"),
        (pushes(*PAN_PSI, column=""), ""),
        (
            pushes(*PAN_PSI, column="psi").replace("B,1,52,psi", "B,1,52,kPa"),
            "cone.csv: cone_unit: The column holds kPa and psi. Give the rows of each unit a file",
        ),
        (
            pushes(*PAN_PSI, column="psi").replace("B,1,52,psi", "B,1,52,"),
            "cone.csv:3: cone_unit: The cell is blank.",
        ),
    ],
)
def test_a_unit_of_its_own_is_one_known_word_in_every_row(text: str, words: str) -> None:
    checked = read_cone(blob(text, "cone.csv"), cone_unit="psi", crs_given=False, areas=[])
    said = [str(fault) for fault in checked.faults]
    assert [one[: len(words)] for one in said] == ([words] if words else [])


def test_a_unit_that_does_not_fit_names_the_way_for_one_file_alone() -> None:
    kpa = pushes(2100, 3400, 8200, 4000, 3100, 2900)
    checked = read_cone(blob(kpa, "cone.csv"), cone_unit="psi", crs_given=False, areas=[])
    (fault,) = checked.faults
    assert "the numbers would fit kPa. If this file alone is in another unit, give it" in str(fault)


def test_a_name_that_says_another_unit_is_asked_about() -> None:
    kpa = pushes(310, 480, 2400, 900, 600, 650)
    ((code, text),) = told(kpa, "kPa", "day 2 (PSI).csv")
    assert code == "cone-unit-name"
    assert "the name says psi, and the file is read in kPa, as field.toml says." in text
    assert told(kpa, "kPa", "psi_to_kpa.csv") == told(kpa, "kPa", "psion.csv") == []


@pytest.mark.parametrize("head", ["3 in psi", "3 in (psi)", "3in, kPa", "CI 3 in [MPa]"])
def test_a_depth_with_the_unit_of_the_index_is_told_where_that_stands(head: str) -> None:
    text = pushes(*PAN_PSI).replace("lat,3 in", f'lat,"{head}"')
    checked = read_cone(blob(text, "cone.csv"), cone_unit="psi", crs_given=False, areas=[])
    (fault,) = checked.faults
    assert f"'{head}': no depth with its unit alone." in fault.what
    assert "column 'cone_unit' or in field.toml" in fault.remedy
