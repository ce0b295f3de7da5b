"""Lists of names as a sentence has them."""

from __future__ import annotations

from collections.abc import Sequence

from zoning.checks.rules import rule
from zoning.contracts import joined


def pits_named(names: Sequence[str]) -> str:
    """Return ``pit A`` or ``pits A and B``; beyond ``named_pits_most`` the rest are counted."""
    most = int(rule("named_pits_most"))
    more = [f"{len(names) - most} more"] if len(names) > most else []
    return f"pit{'' if len(names) == 1 else 's'} {joined([*names[:most], *more])}"
