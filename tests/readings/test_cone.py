"""Long and wide cone logs. Unit factors: SI brochure and the 1959 yard and pound agreement."""

from __future__ import annotations

import numpy as np
import pytest
from readings.small_field import blob

from zoning.errors import InputRefused
from zoning.readings.checked_table import CheckedTable
from zoning.readings.cone import read_cone

HEAD = "station,lon,lat,depth_cm,cone_index_mpa\n"


def read(text: str, cone_unit: str | None = None) -> CheckedTable:
    return read_cone(
        blob(text, "cone.csv"), cone_unit=cone_unit, crs_given=False, areas=["old track"]
    )


def said(checked: CheckedTable) -> str:
    return "\n".join(str(f) for f in checked.faults)


@pytest.mark.parametrize(
    ("depth", "index", "depths", "indices"),
    [
        # 1 in = 2.54 cm; 300 psi = 2.068427 MPa (check value of the SI definition)
        ("depth_in", "cone_index_psi", (2, 10), (300, 290)),
        ("depth_mm", "cone_index_kpa", (50.8, 254), (2068.427188, 1999.479615)),
        ("depth_cm", "cone_index_mpa", (5.08, 25.4), (2.068427188, 1.999479615)),
    ],
)
def test_the_ending_of_a_heading_is_its_unit(
    depth: str, index: str, depths: tuple[float, float], indices: tuple[float, float]
) -> None:
    rows = "".join(f"S1,1,52,{d},{i}\n" for d, i in zip(depths, indices, strict=True))
    frame = read(f"station,lon,lat,{depth},{index}\n{rows}").frame
    np.testing.assert_allclose(frame["depth_cm"], [5.08, 25.4])
    np.testing.assert_allclose(frame["cone_index_mpa"], [2.068427188, 1.999479615], rtol=1e-9)


def test_long_and_wide_logs_of_the_same_readings_agree() -> None:
    long = read(
        "station,insertion,lon,lat,depth_cm,cone_index_kpa\n"
        "A,1,1,52,2.5,500\nA,1,1,52,5,900\nA,1,1,52,25.4,2000\nA,2,1,52,2.5,400\nA,2,1,52,5,800\n"
    )
    wide = read(
        "station,insertion,lon,lat,5 cm,25 mm,10 in\nA,1,1,52,900,500,2000\nA,2,1,52,800,400,\n",
        "kPa",
    )
    assert long.faults == wide.faults == ()
    columns = ["station", "insertion", "depth_cm", "cone_index_mpa"]
    assert long.frame[columns].equals(wide.frame[columns])


def test_blanks_inside_a_wide_row_stay_and_a_row_without_readings_is_not_lost() -> None:
    frame = read("station,lon,lat,5 cm,10 cm,15 cm,20 cm\nA,1,52,1,,2,\nB,1,52,,,,\n", "MPa").frame
    assert frame.loc[frame["station"] == "A", "cone_index_mpa"].isna().tolist() == [
        False,
        True,
        False,
    ]
    assert frame.loc[frame["station"] == "B", "cone_index_mpa"].isna().tolist() == [True] * 4


def test_wide_headings_with_decimal_commas() -> None:
    checked = read("station;lon;lat;2,5 cm;15 cm\nA;1,5;52,25;1,2;1,4\n", "MPa")
    assert checked.faults == ()
    assert checked.frame["depth_cm"].tolist() == [2.5, 15.0]
    assert checked.frame["given_x"].tolist() == [1.5, 1.5]


@pytest.mark.parametrize(
    ("text", "unit", "expected"),
    [
        ("station,lon,lat,5 cm,10 cm\nA,1,52,1,2\n", None, "cone_unit"),
        ("station,lon,lat,1 cm,10 mm,20 cm\nA,1,52,1,2,3\n", "MPa", "Two headings name the depth"),
        ("station,lon,lat,5,10\nA,1,52,1,2\n", "MPa", "no depth with its unit alone"),
        ("station,lon,lat,depth_cm,10 cm\nA,1,52,1,2\n", "MPa", "long and wide at once"),
        (
            "station,lon,lat,depth_cm,depth_mm,cone_index_mpa\nA,1,52,10,100,2\n",
            None,
            "depth_cm and depth_mm",
        ),
        ("station,lon,lat,depth_cm\nA,1,52,10\n", None, "No column holds the cone index"),
        (
            "station,lon,lat,depth,cone_index_mpa\nA,1,52,10,2\n",
            None,
            "Write depth_cm or depth_mm or depth_in",
        ),
        (
            "id,lon,lat,depth_cm,cone_index_mpa\nA,1,52,10,2\n",
            None,
            "station: This column is missing",
        ),
        (
            "station,lon,lat,depth_cm,cone_index\nA,1,52,10,2\n",
            None,
            "Write cone_index_mpa or cone_index_kpa or cone_index_psi: the ending is the unit",
        ),
        ("station,lon,lat,depth 5 cm,10 cm\nA,1,52,1,2\n", "MPa", "Head the column '2.5 cm'"),
        (HEAD + "A,1,52,-5,2\n", None, "cone.csv:2: depth_cm: Found -5"),
        (HEAD + "A,1,52,,2\n", None, "The cell is blank"),
        (HEAD + "A,1,52,10,-2\n", None, "cone.csv:2: cone_index_mpa: Found -2"),
        (HEAD + ",1,52,10,2\n", None, "cone.csv:2: station: The cell is blank"),
        (
            "station,lon,lat,depth_cm,cone_index_mpa,part\nA,1,52,10,2,old trak\n",
            None,
            "Did you mean 'old track'",
        ),
        (
            "station,lon,lat,depth_cm,cone_index_mpa,refused\nA,1,52,10,2,maybe\n",
            None,
            "'maybe', which is unknown",
        ),
        ("station,lon,lat,depth_cm,cone_index_mpa,moisture\nA,1,52,10,2,120\n", None, "percent"),
        ("station,easting,northing,depth_cm,cone_index_mpa\nA,1,52,10,2\n", None, "Add crs"),
        ("station,depth_cm,cone_index_mpa\nA,10,2\n", None, "Add lon and lat"),
        ("station,lon,depth_cm,cone_index_mpa\nA,1,10,2\n", None, "lat: This column is missing"),
        (
            "station,lon,lat,easting,northing,depth_cm,cone_index_mpa\nA,1,52,1,1,10,2\n",
            None,
            "Keep one pair",
        ),
        (
            "station,lon,lat,depth_cm,cone_index_mpa\nA,52,100,10,2\n",
            None,
            "Did you swap lon and lat?",
        ),
        (
            "station,lon,lat,depth_cm,cone_index_mpa\nA,312000,5784000,10,2\n",
            None,
            "Name metres easting",
        ),
    ],
)
def test_faults_say_what_is_needed(text: str, unit: str | None, expected: str) -> None:
    assert expected in said(read(text, unit))


def test_all_faults_of_a_file_are_listed_together() -> None:
    faults = read(HEAD + "A,1,52,x,2\nA,1,52,10,y\n,1,52,15,2\n").faults
    assert [(f.row, f.column) for f in faults] == [
        (4, "station"),
        (2, "depth_cm"),
        (3, "cone_index_mpa"),
    ]


@pytest.mark.parametrize(("cell", "kept"), [("dry", "dry"), ("23.50", "23.5"), ("", "")])
def test_moisture_is_a_word_or_percent(cell: str, kept: str) -> None:
    checked = read(f"station,lon,lat,depth_cm,cone_index_mpa,moisture\nA,1,52,10,2,{cell}\n")
    assert checked.faults == ()
    assert checked.frame["moisture"].tolist() == [kept]


def test_headings_capitals_and_orders_as_people_write_them_change_nothing() -> None:
    plain = "station,lon,lat,date,part,depth_cm,cone_index_kpa\nA,1.5,52,2026-09-25,body,10,900\n"
    own = (
        "Station;Longitude;Latitude;Date;Part;Depth (cm);Cone Index [kPa]\n"
        "A;1°30'E;52,0;25.9.2026;Body;10,0;900\n"
    )
    assert read(own).faults == ()
    assert read(own).frame.to_dict("list") == read(plain).frame.to_dict("list")


def test_a_row_without_a_place_is_told_once() -> None:
    checked = read(HEAD + "A,1,52,10,2\nMean,,,,2\n,,,,3\n")
    assert [str(f) for f in checked.faults] == [
        (
            "cone.csv: rows 3-4: The row has no lon and no lat. "
            "Write the place in every row; delete a row that is no reading, such as a mean."
        )
    ]


def test_stations_side_by_side_are_to_be_turned() -> None:
    with pytest.raises(InputRefused, match="transposed"):
        read('"Depth\n(cm)",A1,A2\n5,0.4,0.5\n10,0.9,1.1\n')


def test_hard_spaces_and_line_breaks_in_headings_make_no_difference() -> None:
    own = 'Station,lon,lat,"5\u00a0cm","10\ncm"\nA,1,52,1,2\n'
    assert read(own, "MPa").frame["depth_cm"].tolist() == [5.0, 10.0]


def test_a_long_log_without_other_known_headings_is_not_taken_for_a_turned_one() -> None:
    checked = read("depth_cm,a,b\n5,1,2\n10,1,2\n5,1,2\n")
    assert "station: This column is missing" in said(checked)


def test_one_sign_in_many_depths_of_a_row_is_one_fault() -> None:
    checked = read("station,lon,lat,5 cm,10 cm,15 cm\nA,1,52,1,-,-\nB,1,52,1,2,x\n", "MPa")
    found = [(f.row, f.column, f.what[:9]) for f in checked.faults]
    assert found == [(2, "10 cm to 15 cm", "Found '-'"), (3, "15 cm", "Found 'x'")]
