"""Words of the files that several rooms write and read, and lists of them in a sentence."""

from collections.abc import Iterable

from zoning.contracts.tables import constant

PARTS = ("body", "headland", "wheeling", "gateway")
"""The parts of a field that have no name of their own."""
NOT_CLEARED = "NOT CLEARED"
"""The word of a zone where work is deeper than notice depth and services were not located."""


def joined(things: Iterable[object]) -> str:
    """Return things as a sentence has them: ``A``, ``A and B``, ``A, B and C``."""
    told = [str(thing) for thing in things]
    return " and ".join([", ".join(told[:-1]), told[-1]] if len(told) > 1 else told)


def by_geometry(*, wings_unknown: bool) -> str:
    """Return by what a ridge is reckoned: the break angle, from the wings where they are known."""
    angle = constant("machine_rules", "break_angle_deg")
    alone = " of the foot alone, wings not measured" if wings_unknown else ""
    return f"by {angle:g}-degree geometry{alone}"
