"""The rows of a CSV file before anything is made of them; cells against the csv module."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st
from readings.small_field import blob

from zoning.readings.csv_rows import DELIMITERS, csv_rows, one_line

CELL = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=6)


@given(st.lists(st.lists(CELL, min_size=2, max_size=4), min_size=1, max_size=5))
def test_cells_come_back_as_they_were_quoted(rows: list[list[str]]) -> None:
    stream = io.StringIO(newline="")
    csv.writer(stream, quoting=csv.QUOTE_ALL).writerows([["station", "note"], *rows])
    found = csv_rows(blob(stream.getvalue()), lambda name: name in {"station", "note"})
    assert found.rows == [["station", "note"], *rows]
    assert found.delimiter == ","


@pytest.mark.parametrize("delimiter", sorted(set(DELIMITERS) - {","}))
def test_another_delimiter_is_told_and_lines_count_as_an_editor_does(delimiter: str) -> None:
    text = delimiter.join(["a", "b"]) + "\n" + delimiter.join(['"x\ny"', "1"]) + "\n\n2" + delimiter
    found = csv_rows(blob(text, "t.csv"), lambda name: name in {"a", "b"})
    assert (found.delimiter, found.lines) == (delimiter, [1, 2, 5])
    assert found.notices[0].text == f"t.csv: cells are parted by a {DELIMITERS[delimiter]}."


def test_a_line_that_names_the_delimiter_is_no_row() -> None:
    found = csv_rows(blob("sep=;\na;b\n1;2\n"), lambda name: name in {"a", "b"})
    assert (found.rows, found.lines) == ([["a", "b"], ["1", "2"]], [2, 3])


def test_headings_over_several_lines_are_one() -> None:
    assert one_line(" cone\nindex\u00a0 mpa ") == "cone index mpa"
