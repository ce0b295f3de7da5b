"""What can go wrong, as one tree.

::

    ZoningError
    ├── InputRefused     the files given cannot be used as they are (exit status 1)
    ├── PlanRefused      the files are sound, but no plan can honestly be made (exit status 1)
    └── OutputFailed     a file was not written, or not as meant (exit status 1)

Every fault names its file, row, column, what was found, what is needed and how to mend it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with one place of an input.

    Parameters
    ----------
    file
        Name of the file as the user wrote it.
    what
        What was found and what is needed, in one sentence.
    remedy
        How to mend it, in one sentence.
    row
        Line number in the file as an editor counts it; ``None`` for the file as a whole.
    column
        Column or key; ``None`` for the row as a whole.
    rows
        All lines with this fault in words, ``rows 5-52``, where it stands on more than `row`.
    """

    file: str
    what: str
    remedy: str
    row: int | None = None
    column: str | None = None
    rows: str = ""

    def __str__(self) -> str:
        place = self.file
        if self.rows:
            place += f": {self.rows}"
        elif self.row is not None:
            place += f":{self.row}"
        if self.column is not None:
            place += f": {self.column}"
        return printable(f"{place}: {self.what} {self.remedy}".strip())


class ZoningError(Exception):
    """Base of every refusal that a user may see."""


class InputRefused(ZoningError):
    """One or more faults in the files given; all stand in one message, each of them once."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(dict.fromkeys(faults))
        super().__init__("\n".join(str(fault) for fault in self.faults))


class PlanRefused(ZoningError):
    """The input is readable but no plan can honestly be made from it."""


class OutputFailed(ZoningError):
    """A file was not written, or did not read back as written."""


def printable(text: str) -> str:
    """Return `text` with control characters as escapes: a message cannot drive a terminal."""
    return "".join(
        c if c.isprintable() or c == "\n" else c.encode("unicode_escape").decode() for c in text
    )
