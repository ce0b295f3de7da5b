"""The ground of a label that stands beside a mark, where it covers least of what is drawn."""

from __future__ import annotations

from collections.abc import Sequence

import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

_SIDES = (
    ("right", "level"), ("left", "level"), ("middle", "above"), ("middle", "below"),
    ("right", "above"), ("right", "below"), ("left", "above"), ("left", "below"),
)  # fmt: skip


def free_box(
    at: tuple[float, float],
    size: tuple[float, float],
    gap: float,
    taken: Sequence[BaseGeometry],
    paper: Polygon | None = None,
) -> Polygon:
    """Return the ground of a label beside a mark, the first of eight sides that covers least.

    A side on which the label leaves the paper is taken only where all do.

    Parameters
    ----------
    at
        Middle of the mark [mm].
    size
        Width and height of the label [mm].
    gap
        From the middle of the mark to the label [mm].
    taken
        What is drawn already [mm].
    paper
        Ground that the label must stay on [mm]; ``None`` where there is no edge.
    """
    x, y = at
    width, high = size
    lefts = {"right": x + gap, "left": x - gap - width, "middle": x - width / 2}
    tops = {"level": y - high / 2, "above": y - gap - high, "below": y + gap}
    boxes = [
        shapely.box(lefts[across], tops[down], lefts[across] + width, tops[down] + high)
        for across, down in _SIDES
    ]
    return min(
        boxes,
        key=lambda box: (paper is not None and not paper.covers(box), covered(box, taken)),
    )


def covered(box: Polygon, taken: Sequence[BaseGeometry]) -> float:
    """Return how much of what is drawn already a label covers [mm2]."""
    if not len(taken):
        return 0.0
    return float(shapely.area(shapely.intersection(box, list(taken))).sum())
