"""Limits of the reader, from ``shared/tables/readings_rules.csv``, and the nearest-name remedy."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Sequence

from zoning.contracts import constant

MB = 1_000_000
_JOINTS = re.compile(r"[\s_\-.:?/()\[\]]+")


def rule(name: str) -> float:
    """Return the limit `name` of ``shared/tables/readings_rules.csv`` in the unit of its row."""
    return constant("readings_rules", name)


def plain_name(name: str) -> str:
    """Return a name in small letters, its parts joined by ``_``: ``Depth (cm)``, ``depth_cm``."""
    return _JOINTS.sub("_", name.casefold()).strip("_")


def nearest(name: str, known: Iterable[str]) -> str | None:
    """Return the name of `known` that looks most like `name`, or ``None`` where none does."""
    by_letters = {plain_name(candidate): candidate for candidate in sorted(known)}
    found = difflib.get_close_matches(
        plain_name(name), list(by_letters), n=1, cutoff=rule("near_name_cutoff")
    )
    return by_letters[found[0]] if found else None


def listed(names: Sequence[str]) -> str:
    """Return names parted by commas, the first of them listed and the others counted."""
    most = int(rule("fault_names_listed_max"))
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more


def suggest(name: str, known: Iterable[str]) -> str:
    """Word a remedy: the nearest name, or the list of all names allowed."""
    names = sorted(known)
    near = nearest(name, names)
    if near is not None:
        return f"Did you mean '{near}'?"
    return f"Allowed: {', '.join(names)}."
