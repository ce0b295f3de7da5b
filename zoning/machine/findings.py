"""What does not fit, and what to change."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True, order=True)
class Finding:
    """One thing that the machine, its setting or its tractor does not suit.

    Parameters
    ----------
    level
        ``change``: change something before the work; ``note``: know it and look at it in the trial
        pit.
    code
        Short stable name in lower case with hyphens.
    text
        What was found, with its figures, in a sentence or two.
    remedy
        What can be changed.
    source
        Key of ``shared/tables/sources.csv``.
    """

    level: Literal["change", "note"]
    code: str
    text: str
    remedy: str
    source: str

    def __str__(self) -> str:
        return f"{self.text} {self.remedy}".strip()


def number(value: float) -> str:
    """Return `value` with at most one decimal, as a reader expects it."""
    return f"{value:.1f}".removesuffix(".0")
