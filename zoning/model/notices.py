"""What the user must be told, carried beside the numbers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True, order=True)
class Notice:
    """One caution or note.

    Parameters
    ----------
    level
        ``caution``: someone or something may come to harm, or a depth may be wrong;
        ``note``: what was assumed, left out or repaired.
    code
        Short stable name in lower case with hyphens, for tests and for sorting.
    text
        One or two plain sentences.
    pits
        The pits that it is about, all of them: the text may count some.
    keys
        The keys of ``field.toml`` that it is about.
    parts
        The parts of the field that it is about.
    """

    level: Literal["caution", "note"]
    code: str
    text: str
    pits: tuple[str, ...] = ()
    keys: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
