"""Lists of names as a sentence has them."""

from __future__ import annotations

from collections.abc import Sequence

from zoning.checks.rules import rule


def listed(names: Sequence[str]) -> str:
    """Return names in a row: ``A``, ``A and B``, ``A, B and C``."""
    return "".join(names) if len(names) < 2 else f"{', '.join(names[:-1])} and {names[-1]}"


def pits_named(names: Sequence[str]) -> str:
    """Return ``pit A`` or ``pits A and B``; beyond ``named_pits_most`` the rest are counted."""
    most = int(rule("named_pits_most"))
    more = [f"{len(names) - most} more"] if len(names) > most else []
    return f"pit{'' if len(names) == 1 else 's'} {listed([*names[:most], *more])}"
