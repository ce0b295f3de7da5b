"""Words that several kinds of advice share."""

from __future__ import annotations

from collections.abc import Sequence

from zoning.checks.rules import rule
from zoning.contracts import joined


def pits_named(names: Sequence[str]) -> str:
    """Return ``pit A`` or ``pits A and B``; beyond ``named_pits_most`` the rest are counted."""
    most = int(rule("named_pits_most"))
    more = [f"{len(names) - most} more"] if len(names) > most else []
    return f"pit{'' if len(names) == 1 else 's'} {joined([*names[:most], *more])}"


def set_deeper(was: str) -> str:
    """Return what holds of legs set deeper on purpose; `was` is ``it was`` or ``they were``."""
    it = "it" if was.startswith("it") else "them"
    return (
        f"If {was} set so because the planned depth left the pan, leave {it} and plan again "
        "(docs/howto/check.rst, Plan again)."
    )
