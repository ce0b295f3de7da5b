"""Rows left out, told together."""

from __future__ import annotations

import pandas as pd

from zoning.model.names import in_numbers
from zoning.outputs.left_out import left_out_together


def rows(*left: tuple[str, int | None, str, str]) -> pd.DataFrame:
    return pd.DataFrame(list(left), columns=["file", "row", "what", "reason"])


def readings(station: str, insertion: int, lines: list[int], away: str) -> list[tuple]:
    return [
        ("log.csv", line, f"reading at {2.5 * i:g} cm of insertion {station}/{insertion}", away)
        for i, line in enumerate(lines, start=1)
    ]


def test_readings_of_a_station_are_one_line_with_rows_and_insertions() -> None:
    left = rows(
        *readings("L61", 1, [148] * 20, "92 m outside the boundary"),
        *readings("L9", 1, [5, 6, 7], "20 m outside the boundary"),
        *readings("L9", 2, [8, 20], "20 m outside the boundary"),
    )
    assert [(one.what, one.reason) for one in left_out_together(left)] == [
        ("station L9, 5 rows from 5 to 20, 2 insertions", "20 m outside the boundary"),
        ("station L61, row 148, 1 insertion", "92 m outside the boundary"),
    ]


def test_a_pit_keeps_its_words_and_a_row_without_number_is_told_too() -> None:
    left = rows(
        ("p.csv", 4, "pit P3 (before)", "40 m outside"),
        ("records.gpkg", None, "pit P4", "withdrawn"),
    )
    told = [(one.file, one.what) for one in left_out_together(left)]
    assert told == [("p.csv", "pit P3 (before), row 4"), ("records.gpkg", "pit P4")]


def test_a_station_may_hold_any_letters() -> None:
    odd = "old / pad of insertion 2"
    (one,) = left_out_together(rows(*readings(odd, 3, [7, 8, 9], "far")))
    assert one.what == f"station {odd}, rows 7-9, 1 insertion"


def test_the_order_of_rows_does_not_matter_and_nothing_gives_nothing() -> None:
    left = rows(*readings("B", 1, [9, 10], "far"), *readings("A", 1, [3, 4], "far"))
    assert left_out_together(left) == left_out_together(left[::-1])
    assert left_out_together(rows()) == []


def test_numbers_in_names_count_as_numbers() -> None:
    assert sorted(["L10", "L9", "a2", "L1b", "7"], key=in_numbers) == [
        "7", "a2", "L1b", "L9", "L10",
    ]  # fmt: skip
