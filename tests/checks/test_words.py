"""Names as a sentence has them."""

from __future__ import annotations

from zoning.checks.rules import rule
from zoning.checks.words import pits_named


def test_pits_stand_in_a_row_and_one_pit_is_one() -> None:
    assert pits_named(["A"]) == "pit A"
    assert pits_named(["A", "B"]) == "pits A and B"


def test_beyond_the_most_the_rest_are_counted() -> None:
    most = int(rule("named_pits_most"))
    names = [f"P{i}" for i in range(most + 3)]
    assert pits_named(names).endswith(f"P{most - 1} and 3 more")
