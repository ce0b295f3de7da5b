"""Limits of the reader, from ``shared/tables/readings_rules.csv``, and the nearest-name remedy."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Sequence

from zoning.contracts import constant

MB = 1_000_000
# Units stand at the end of a name and say nothing of what it means.
_UNITS = frozenset({"cm", "mm", "in", "m", "ha", "deg", "km", "h", "mpa", "kpa", "psi", "kw"})
_OTHER_WORDS = {
    "bottom": "base", "lower": "base", "upper": "top", "comment": "note", "comments": "note",
    "remark": "note", "remarks": "note", "picture": "photo", "image": "photo", "day": "date",
}  # fmt: skip
_JOINTS = re.compile(r"[\s_\-.:?/()\[\]]+")


def rule(name: str) -> float:
    """Return the limit `name` of ``shared/tables/readings_rules.csv`` in the unit of its row."""
    return constant("readings_rules", name)


def plain_name(name: str) -> str:
    """Return a name in small letters, its parts joined by ``_``: ``Depth (cm)``, ``depth_cm``."""
    return _JOINTS.sub("_", name.casefold()).strip("_")


def nearest(name: str, known: Iterable[str]) -> str | None:
    """Return the name of `known` that `name` may stand for, or ``None`` where there is none.

    A name that holds all the words of `name` comes before one that only looks like it: ``base`` is
    part of ``pan_base_cm`` and no slip of ``phase``. A short name must look more alike, since
    three letters in common are soon found, unless its letters have only changed places.
    """
    plain = plain_name(name)
    by_letters = {plain_name(candidate): candidate for candidate in sorted(known)}
    held = [one for one in by_letters if plain != one and _words(plain) <= _words(one)]
    if plain not in by_letters and _words(plain) and held:
        return by_letters[min(held, key=lambda one: (-_likeness(plain, one), *_unusual(one)))]
    short = len(plain) <= rule("near_name_short")
    cutoff = rule("near_name_short_cutoff") if short else rule("near_name_cutoff")
    alike = [one for one in by_letters if short and sorted(one) == sorted(plain)]
    found = alike or difflib.get_close_matches(plain, list(by_letters), n=1, cutoff=cutoff)
    return by_letters[found[0]] if found else None


def _words(plain: str) -> set[str]:
    return {_OTHER_WORDS.get(word, word) for word in plain.split("_")} - _UNITS


def _likeness(one: str, other: str) -> float:
    return difflib.SequenceMatcher(None, one, other).ratio()


def _unusual(plain: str) -> tuple[bool, str]:
    """Order names that are equally alike: those in the units of the project first."""
    return not plain.endswith(("_cm", "_mpa")), plain


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
