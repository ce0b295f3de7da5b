"""A step of the advice, and the order of the steps."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

STEPS = (
    "stop", "locate", "drive", "pins", "look", "speed", "depth", "left", "points", "spacing",
    "under", "soil", "dig", "so_far", "keep", "next", "hold",
)  # fmt: skip
"""The steps in order: stop, know first, the least costly change first, then dig behind it."""
CHANGES = ("stop", "speed", "depth", "points", "spacing", "under", "soil")
"""Steps that ask for something to be done otherwise; a missed strip is driven as planned."""
AT_DEPTH = ("speed", "depth", "points", "spacing", "under", "soil")
"""Those of them that are told of a depth where it alone asks."""
MISSED = ("leg_only", "not_between", "not_reached")
"""The verdicts of ground where the pan was not passed across the width."""

OWN_SPEED = "If that speed does not do it"
"""When points are due on ground whose own list names a speed before them."""


class Step(NamedTuple):
    """One thing to do.

    Parameters
    ----------
    name
        One of `STEPS`.
    text
        What to do, in words.
    zones
        The zones that it is for; none where it is for all of the ground.
    """

    name: str
    text: str
    zones: tuple[int, ...] = ()


def is_change(steps: Sequence[Step]) -> bool:
    """Return whether steps ask for something to be done otherwise."""
    return any(step.name in CHANGES for step in steps)
