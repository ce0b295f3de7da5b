"""Tables and lists as text."""

from __future__ import annotations

from zoning.cli.layout import first, listed, notice_blocks, table
from zoning.model import Notice


def test_columns_are_as_wide_as_their_widest_cell_and_lines_end_without_blanks() -> None:
    told = table("Depths", [["depth", "ha", ""], ["5 cm", "10.25", "x"], ["37.5 cm", "1", ""]])
    assert told.splitlines() == [
        "Depths",
        "  depth    ha",
        "  5 cm     10.25  x",
        "  37.5 cm  1",
    ]


def test_a_list_says_how_many_more_there_are() -> None:
    lines = [str(number) for number in range(14)]
    assert first(lines[:12], "more, all in a file") == lines[:12]
    assert first(lines, "more, all in a file") == [*lines[:12], "and 2 more, all in a file"]
    assert listed("Left out:", ["a", "b"]) == "Left out:\n  - a\n  - b"
    assert listed("Left out:", []) == ""


def test_cautions_stand_before_notes() -> None:
    told = [Notice("note", "n", "A note."), Notice("caution", "c", "Mind this.")]
    assert notice_blocks(told) == ["Cautions:\n  - Mind this.", "Notes:\n  - A note."]
    assert notice_blocks(told[:1]) == ["", "Notes:\n  - A note."]
