from __future__ import annotations

import pytest

from zoning.contracts import joined


@pytest.mark.parametrize(
    ("things", "text"),
    [([], ""), ([1], "1"), ([1, 2], "1 and 2"), (["a", "b", "c"], "a, b and c")],
)
def test_things_stand_in_a_row_as_a_sentence_has_them(things: list[object], text: str) -> None:
    assert joined(things) == text
