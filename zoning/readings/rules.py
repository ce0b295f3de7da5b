"""Limits of the reader, from ``shared/tables/readings_rules.csv``, and the nearest-name remedy."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

from zoning.contracts import constant

MB = 1_000_000


def rule(name: str) -> float:
    """Return the limit `name` of ``shared/tables/readings_rules.csv`` in the unit of its row."""
    return constant("readings_rules", name)


def nearest(name: str, known: Iterable[str]) -> str | None:
    """Return the name of `known` that looks most like `name`, or ``None`` where none does."""
    by_letters = {candidate.lower(): candidate for candidate in sorted(known)}
    found = difflib.get_close_matches(
        name.lower().strip(), list(by_letters), n=1, cutoff=rule("near_name_cutoff")
    )
    return by_letters[found[0]] if found else None


def suggest(name: str, known: Iterable[str]) -> str:
    """Word a remedy: the nearest name, or the list of all names allowed."""
    names = sorted(known)
    near = nearest(name, names)
    if near is not None:
        return f"Did you mean '{near}'?"
    return f"Allowed: {', '.join(names)}."
