from __future__ import annotations

import pytest

from zoning.machine import Finding
from zoning.machine.findings import number


@pytest.mark.parametrize(
    ("value", "text"), [(30, "30"), (37.5, "37.5"), (0.04, "0"), (100, "100"), (12.34, "12.3")]
)
def test_numbers_as_a_reader_expects_them(value: float, text: str) -> None:
    assert number(value) == text


def test_changes_sort_before_notes_and_say_text_and_remedy() -> None:
    note = Finding("note", "a", "Seen.", "Look.", "common_practice")
    change = Finding("change", "b", "Wrong.", "Mend.", "common_practice")
    assert sorted([note, change]) == [change, note]
    assert str(change) == "Wrong. Mend."
