"""A table as text."""

from __future__ import annotations

from zoning.cli.layout import table


def test_columns_are_as_wide_as_their_widest_cell_and_lines_end_without_blanks() -> None:
    told = table("Depths", [["depth", "ha", ""], ["5 cm", "10.25", "x"], ["37.5 cm", "1", ""]])
    assert told.splitlines() == [
        "Depths",
        "  depth    ha",
        "  5 cm     10.25  x",
        "  37.5 cm  1",
    ]
