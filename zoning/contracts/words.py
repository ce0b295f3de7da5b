"""Words of the files that several rooms write and read, and lists of them in a sentence."""

from collections.abc import Iterable

PARTS = ("body", "headland", "wheeling", "gateway")
"""The parts of a field that have no name of their own."""
NOT_CLEARED = "NOT CLEARED"
"""The word of a zone where work is deeper than notice depth and services were not located."""


def joined(things: Iterable[object]) -> str:
    """Return things as a sentence has them: ``A``, ``A and B``, ``A, B and C``."""
    told = [str(thing) for thing in things]
    return " and ".join([", ".join(told[:-1]), told[-1]] if len(told) > 1 else told)
