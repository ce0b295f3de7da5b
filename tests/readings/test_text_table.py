"""CSV dialects: RFC 4180, what spreadsheets write, and the cases of csv-spectrum."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from readings.small_field import blob, faults_of, open_data, table

from zoning.errors import Fault
from zoning.readings.text_table import limited, read_table, sources


def test_comma_table_keeps_cells_and_the_lines_they_stand_on() -> None:
    read = table('a,b\n1,"x,\ny"\n\n2,z\n', "a", "b")
    assert dict(read.columns) == {"a": ("1", "2"), "b": ("x,\ny", "z")}
    assert read.lines == (2, 5)
    assert read.notices == ()


@pytest.mark.parametrize(
    ("text", "delimiter"),
    [("a;b\n1;2\n", ";"), ("a\tb\n1\t2\n", "\t"), ("a|b\n1|2\n", "|"), ("sep=;\na;b\n1;2\n", ";")],
)
def test_other_delimiters_are_recognised_and_told(text: str, delimiter: str) -> None:
    read = table(text, "a", "b")
    assert read.delimiter == delimiter
    assert dict(read.columns) == {"a": ("1",), "b": ("2",)}
    assert [n.code for n in read.notices] == ["csv-delimiter"]


def test_known_headings_outvote_the_number_of_cells() -> None:
    read = table("station;2,5 cm\nS1;1,2\n", "station", "2,5 cm")
    assert read.delimiter == ";"


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_line_endings_make_no_difference(ending: str) -> None:
    read = table(ending.join(["a,b", "1,2", "3,4", ""]), "a", "b")
    assert read.columns["b"] == ("2", "4")
    assert read.lines == (2, 3)


@pytest.mark.parametrize(
    ("encoding", "told"),
    [("utf-8", False), ("utf-8-sig", False), ("utf-16", True), ("cp1252", True)],
)
def test_encodings(encoding: str, *, told: bool) -> None:
    read = table("a,b\ncafé,2\n".encode(encoding), "a", "b")
    assert read.columns["a"] == ("café",)
    assert ("csv-encoding" in [n.code for n in read.notices]) is told


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (b"a,b\n1,\x002\n", "not UTF-8 text"),
        (b"a,b\n\x81\x8d,2\n", "not UTF-8 text"),
        ("a,b\n1,2,3\n", "t.csv:2: The row has 3 cells and the headings are 2"),
        ("a,b\n1\n", "t.csv:2: The row has 1 cells"),
        ("a,a\n1,2\n", "The heading 'a' stands 2 times"),
        ("a,\n1,2\n", "Column 2 has cells but no heading"),
        ("a,b\n", "headings but no rows"),
        ("\n \n", "no rows"),
        ('a,b\n1,"open\n', "t.csv:2: The row cannot be parted"),
    ],
)
def test_what_is_no_table_is_refused_with_its_place(text: str | bytes, said: str) -> None:
    assert any(said in fault for fault in faults_of(lambda: table(text, "a", "b")))


def test_blank_rows_and_a_blank_last_column_are_what_spreadsheets_add() -> None:
    read = table("a,b,\n1,2,\n,,\n", "a", "b")
    assert dict(read.columns) == {"a": ("1",), "b": ("2",)}


def test_equal_faults_are_one_line_with_their_rows() -> None:
    faults = faults_of(lambda: table("a,b\n1,2\n" + "1,2,3\n" * 80 + "1,2\n1,2,3\n1\n", "a", "b"))
    assert len(faults) == 2
    assert faults[0].startswith("t.csv: rows 3-82, 84: The row has 3 cells")
    assert faults[1].startswith("t.csv:85: The row has 1 cells")


def test_a_flood_of_different_faults_is_cut_and_counted() -> None:
    faults = [Fault("t.csv", f"Found {i}.", "Mend.", row=row) for i in range(80) for row in (2, 3)]
    told = limited(faults)
    assert len(told) == 51
    assert told[-1].what == "And 60 more faults."
    assert limited(faults[:100]) == limited(limited(faults[:100]))
    assert limited(faults[:101])[-1].what == "And 1 more fault."


def test_faults_of_other_columns_files_or_words_stay_apart() -> None:
    one = Fault("t.csv", "Found 'x'.", "Mend.", row=4, column="part")
    others = [
        replace(one, column="note"),
        replace(one, file="u.csv"),
        replace(one, what="Found 'y'."),
        replace(one, row=None),
    ]
    assert limited([one, *others]) == [one, *others]
    (both,) = limited([replace(one, row=9), one])
    assert str(both) == "t.csv: rows 4, 9: part: Found 'x'. Mend."


@given(st.lists(st.integers(1, 60), min_size=1, max_size=40))
def test_every_row_of_a_fault_is_told(rows: list[int]) -> None:
    fault = Fault("t.csv", "Found 'x'.", "Mend.", column="part")
    (told,) = limited([replace(fault, row=row) for row in rows])
    if not told.rows:
        assert {told.row} == set(rows)
        return
    words, _, rest = told.rows.removeprefix("rows ").partition(" and ")
    bounds = [word.split("-") for word in words.split(", ")]
    listed = {n for ends in bounds for n in range(int(ends[0]), int(ends[-1]) + 1)}
    assert listed <= set(rows)
    assert len(listed) + int(rest.removesuffix(" more") or 0) == len(set(rows))


# csv-spectrum (max-mapper, BSD-2): the cells that its own JSON answers give
@pytest.mark.parametrize(
    ("name", "column", "cells"),
    [
        ("comma_in_quotes", "city", ("Anytown, WW",)),
        ("empty", "b", ("", "3")),
        ("empty_crlf", "c", ("", "4")),
        ("escaped_quotes", "b", ('ha "ha" ha', "4")),
        ("json", "val", ('{"type": "Point", "coordinates": [102.0, 0.5]}',)),
        ("newlines", "a", ("1", "Once upon \na time", "7")),
        ("newlines_crlf", "a", ("1", "Once upon \r\na time", "7")),
        ("quotes_and_newlines", "b", ('ha \n"ha" \nha', "4")),
        ("simple_crlf", "c", ("3",)),
        ("utf8", "c", ("3", "ʤ")),
    ],
)
def test_csv_spectrum(name: str, column: str, cells: tuple[str, ...]) -> None:
    path = open_data("malformed", "csv", f"{name}.csv")
    read = read_table(blob(path.read_bytes(), path.name), lambda heading: heading.islower())
    assert read.columns[column] == cells


def test_a_title_above_the_headings_is_named_with_the_line_of_the_headings() -> None:
    said = faults_of(lambda: table("A title,,\n,,\na,b,c\n1,2,3\n", "a", "b"))
    assert said == [
        (
            "t.csv:1: The headings seem to stand in line 3, not in the first. "
            "Delete the lines above the headings."
        )
    ]


def test_columns_without_a_heading_are_told_at_once() -> None:
    said = faults_of(lambda: table("a,,\n1,,\n1,2,3\n4,5,6\n", "a"))
    assert said == [
        "t.csv:3: Columns 2, 3 have cells but no heading. Name them or clear them.",
    ]


def test_headings_taken_for_others_are_told() -> None:
    named = {"A (cm)": "a_cm", "B": "b"}
    read = read_table(
        blob("A (cm);B\n1;2\n", "t.csv"),
        lambda name: name in named.values(),
        lambda name: named.get(name, name),
    )
    assert tuple(read.columns) == ("a_cm", "b")
    assert read.delimiter == ";"
    assert read.notices[-1].text == "t.csv: headings taken: 'A (cm)' as a_cm."


def test_rows_saved_in_one_cell_each_are_told() -> None:
    (said,) = faults_of(lambda: table('"a,b,c"\n"1,2,3"\n', "a", "b"))
    assert "Each row stands in one cell" in said


@pytest.mark.parametrize("start", [b"PK\x03\x04", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"])
def test_spreadsheets_are_to_be_saved_as_csv(start: bytes) -> None:
    (said,) = faults_of(lambda: sources(blob(start + bytes(8)), "a"))
    assert "spreadsheet" in said
