"""Cells to numbers, words and dates."""

from __future__ import annotations

import math

import pytest
from readings.small_field import table

from zoning.readings.angles import degrees_of
from zoning.readings.cells import Cells


def cells(text: str) -> Cells:
    return Cells(table(text, "x", "y"), ["x"])


@pytest.mark.parametrize(
    "bad",
    ["abc", "1_000", "１２", "nan", "NaN", "inf", "-inf", "1e400", "0x10", "1 000", "−5", "1.2.3"],
)
def test_what_is_no_plain_number_is_a_fault_with_its_row(bad: str) -> None:
    read = cells(f"x,y\n1,a\n{bad},b\n")
    assert math.isnan(read.numbers("x")[1])
    assert len(read.faults) == 1
    assert read.faults[0].row == 3
    assert bad in read.faults[0].what


def test_many_texts_of_one_kind_are_told_in_the_same_words() -> None:
    few = cells("x,y\n5 cm,a\n10 cm,b\n15 cm,c\n")
    few.numbers("x")
    assert [fault.what.split("'")[1] for fault in few.faults] == ["5 cm", "10 cm", "15 cm"]
    many = cells("x,y\n5 cm,a\n10 cm,b\n15 cm,c\n-3,d\n20 cm,e\n")
    many.numbers("x", low=0)
    (words,) = {fault.what for fault in many.faults if fault.row != 5}
    assert words.startswith("Found '5 cm', which is not a plain")
    assert words.endswith("3 more cells are like it.")
    assert sorted(fault.row or 0 for fault in many.faults) == [2, 3, 4, 5, 6]


def test_blank_cells_are_nan_and_no_fault_unless_required() -> None:
    read = cells("x,y\n,a\n2,b\n")
    assert math.isnan(read.numbers("x")[0])
    assert read.faults == []
    read.numbers("x", required=True)
    assert [f.row for f in read.faults] == [2]


def test_quoted_decimal_commas_in_a_comma_file_name_the_value() -> None:
    read = cells('x,y\n"2,5",a\n')
    read.numbers("x")
    assert "'2,5'" in read.faults[0].what
    assert "decimal comma" in read.faults[0].what
    assert "decimal point" in read.faults[0].remedy


@pytest.mark.parametrize(("name", "letters"), [("lon", "EW"), ("lat", "NS")])
def test_the_example_of_a_degree_is_one_of_its_own_column(name: str, letters: str) -> None:
    read = Cells(table(f"{name},y\nhere,a\n", name, "y"), [name])
    read.degrees(name)
    plain, _, marked = read.faults[0].remedy.removesuffix(".").partition(", or ")
    assert marked[-1] in letters
    assert degrees_of(marked, name) == pytest.approx(float(plain.split()[-1]), abs=1e-5)


def test_the_remedy_of_a_count_names_no_absurd_bound() -> None:
    read = cells("x,y\n-1,a\n1.5,b\nsome,c\n")
    read.whole_numbers("x", low=0)
    assert {fault.remedy for fault in read.faults} == {
        "Give a whole number of at least 0, or leave the column out."
    }
    assert {fault.row for fault in read.faults} == {2, 3, 4}


def test_decimal_commas_are_recognised_and_told_where_the_delimiter_is_another() -> None:
    read = cells("x;y\n2,5;a\n3;b\n")
    assert read.numbers("x").tolist() == [2.5, 3.0]
    assert read.faults == []
    assert {n.code for n in read.notices} == {"csv-delimiter", "csv-decimal-comma"}


@pytest.mark.parametrize("cell", ["1.250", "1.250,5"])
def test_a_point_beside_decimal_commas_is_never_guessed(cell: str) -> None:
    read = cells(f"x;y\n2,5;a\n{cell};b\n")
    read.numbers("x")
    assert "thousands" in read.faults[0].what


def test_commas_in_text_do_not_make_a_decimal_comma() -> None:
    read = cells("x;y\n2.5;2,5\n")
    assert read.numbers("x").tolist() == [2.5]
    assert not read.decimal_comma


def test_unknown_and_missing_columns_name_the_nearest() -> None:
    read = Cells(table("statoin,y\nS1,2\n", "station", "y"), [])
    read.check_columns({"station", "y"}, {"station"})
    said = [str(f) for f in read.faults]
    assert any("unknown" in s and "Did you mean 'station'" in s for s in said)
    assert any("missing" in s and "Rename 'statoin' to 'station'" in s for s in said)


def test_words_outside_the_list_are_refused_with_the_nearest() -> None:
    read = cells("x,y\n1,headlnd\n2,body\n")
    read.words("y", ("body", "headland"))
    assert [f.row for f in read.faults] == [2]
    assert "headland" in read.faults[0].remedy


@pytest.mark.parametrize("bad", ["2026-02-30", "03/09/2026", "20260903", "2026-9-3", "2026-W10-1"])
def test_only_real_iso_dates_pass(bad: str) -> None:
    read = cells(f"x,y\n1,{bad}\n2,2026-09-03\n3,\n")
    read.dates("y")
    assert [f.row for f in read.faults] == [2]


def test_control_characters_in_names_are_refused() -> None:
    read = cells("x,y\n1,S\x1b[2J\n2,caf\u00a0e\n")
    read.texts("y")
    assert [f.row for f in read.faults] == [2]
    assert "\x1b" not in str(read.faults[0])


@pytest.mark.parametrize(
    ("cell", "good"), [("2", True), ("2.0", True), ("2.5", False), ("-1", False), ("", False)]
)
def test_whole_numbers(cell: str, *, good: bool) -> None:
    read = cells(f"x,y\n{cell},a\n")
    read.whole_numbers("x", low=0)
    assert (read.faults == []) is good


@pytest.mark.parametrize(
    ("cell", "value"), [("52.632741", 52.632741), ("0.5", 0.5), ("-3.25", -3.25)]
)
def test_a_point_that_can_be_no_thousands_mark_is_a_decimal_point(cell: str, value: float) -> None:
    read = cells(f"x;y\n2,5;a\n{cell};b\n")
    assert read.numbers("x").tolist() == [2.5, value]


def test_words_may_have_capitals() -> None:
    read = cells("x,y\n1,Headland\n2,BODY\n3,\n")
    assert read.words("y", ("body", "headland")) == ["headland", "body", ""]
    assert read.faults == []


def test_words_that_differ_in_capitals_alone_are_taken_as_written() -> None:
    read = cells("x,y\n1,Pad\n2,pad\n3,PAD\n")
    assert read.words("y", ("Pad", "pad"))[:2] == ["Pad", "pad"]
    assert [f.row for f in read.faults] == [4]


def test_a_row_of_units_is_one_fault_that_says_what_to_do() -> None:
    read = Cells(table("x;z;y\n°;kPa;\n1;2;a\n", "x", "z", "y"), ["x", "z"])
    read.numbers("x", required=True)
    read.texts("y", required=True)
    assert [str(f) for f in read.faults] == [
        (
            "t.csv:2: The row has words where numbers belong: '°', 'kPa'. "
            "Delete a second row of headings or units."
        )
    ]


def test_the_order_of_dates_that_was_met_is_told() -> None:
    read = cells("x,y\n1,3.9.2026\n")
    assert read.dates("y") == ["2026-09-03"]
    assert "day.month.year" in read.notices[-1].text


def test_degrees_with_minutes_are_read_and_told() -> None:
    read = Cells(table("lat;n\n52°30,6'N;a\n52,5;b\n", "lat", "n"), ["lat"])
    assert read.degrees("lat") == pytest.approx([52.51, 52.5])
    assert read.faults == []
    assert "csv-degrees" in {n.code for n in read.notices}


def test_a_heading_in_another_unit_is_not_to_be_renamed_alone() -> None:
    read = Cells(table("pan top (in),b\n7,x\n", "b"), [])
    read.check_columns({"pan_top_cm", "b"}, {"b"})
    assert [f.remedy for f in read.faults] == [
        "Give it in cm as 'pan_top_cm': convert the numbers too."
    ]


def test_headings_that_look_like_none_are_one_fault() -> None:
    read = Cells(table("q1,zz,station\n7,x,S\n", "station"), [])
    read.check_columns({"station", "lon"}, {"station"})
    (fault,) = read.faults
    assert "'q1', 'zz'" in fault.what
    assert fault.remedy == "Rename or delete. Still free: lon."


@pytest.mark.parametrize("delimiter", [";", ","])
def test_points_between_thousands_are_told_once_with_the_first_row_and_the_count(
    delimiter: str,
) -> None:
    column = ["5784030", "5.784.030", "5.784.031", "5.784.032"]
    read = cells(f"x{delimiter}y\n" + "".join(f"{cell}{delimiter}a\n" for cell in column))
    assert [math.isnan(value) for value in read.numbers("x")] == [False, True, True, True]
    (fault,) = read.faults
    assert (fault.row, fault.column) == (3, "x")
    assert fault.what == "Found '5.784.030' and 2 more such numbers: the points part thousands."
    assert fault.remedy.startswith("Take out the points between thousands")


def test_points_between_thousands_before_a_comma_are_told_even_if_every_number_has_them() -> None:
    read = cells("x;y\n612.030,3;a\n612.031,4;b\n")
    assert read.decimal_comma
    read.numbers("x")
    (fault,) = read.faults
    assert "'612.030,3' and 1 more" in fault.what
    assert fault.remedy.endswith("; decimals follow a comma.")


def test_degrees_have_no_thousands() -> None:
    read = Cells(table("lon,lat\n0.8,52.632.733\n", "lon", "lat"), ["lon", "lat"])
    read.degrees("lat")
    assert [("decimal degrees" in f.remedy, "thousands" in f.what) for f in read.faults] == [
        (True, False)
    ]
