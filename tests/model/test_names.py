"""Names as counted."""

from __future__ import annotations

import pandas as pd

from zoning.model.names import by_name, in_numbers


def test_numbers_in_names_are_counted() -> None:
    assert sorted(["A10", "A9", "A1"], key=in_numbers) == ["A1", "A9", "A10"]


def test_rows_go_by_name_then_by_the_rest_whatever_their_order() -> None:
    rows = pd.DataFrame({"pit": ["A10", "A2", "A2"], "row": [2, 9, 3]})
    for own in (rows, rows.iloc[::-1]):
        found = by_name(own, "pit", "row")
        assert list(zip(found["pit"], found["row"], strict=True)) == [
            ("A2", 3), ("A2", 9), ("A10", 2),
        ]  # fmt: skip
    assert by_name(rows.iloc[:0], "pit").empty
