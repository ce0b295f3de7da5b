"""A small patch of work that lies alone must be worth going there.

A pass is one chain of steps: a pass worked from end to end changes no depth, so the sequence
charges nothing for it, though all ground about it be lifted. Where the chance of a pan lies just
above the point at which work pays, such passes come as slivers that bring next to nothing, at
depths that mean as little. A patch of worked ground on little ground is lifted where it brings less
than coming to it costs. Ground that a hazard keeps shallow is left as it is.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from zoning.depths.lay_faces import borders, connected
from zoning.depths.worth import little_m2

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def patches_not_worth(
    polygons: NDArray[Any],
    option: Ints,
    cost: Floats,
    area_m2: Floats,
    passes: Ints,
    charge: float,
) -> tuple[Ints, ...]:
    """Return the pieces of each patch of work that brings less than coming to it costs.

    Parameters
    ----------
    polygons
        The pieces, a valid coverage, shape ``(n,)``.
    option
        Option of each piece, 0 for legs lifted out, shape ``(n,)``.
    cost
        Cost of each option at each piece, infinite where it is forbidden, shape ``(n, options)``.
    area_m2
        Area of each piece, shape ``(n,)`` [m2].
    passes
        Pass of each piece, shape ``(n,)``.
    charge
        What a patch must bring for each pass that it lies on, in the unit of the cost.
    """
    rows = np.flatnonzero(option > 0)
    if charge <= 0 or len(rows) in {0, len(option)}:
        return ()
    shared = borders(polygons[rows])
    patch = connected(len(rows), shared.left, shared.right)
    on_passes = np.unique(np.column_stack([patch, passes[rows]]), axis=0)[:, 0]
    asked = charge * np.bincount(on_passes)
    brings = np.bincount(patch, cost[rows, 0] - cost[rows, option[rows]])
    held = np.bincount(patch, ~np.isfinite(cost[rows, -1])) > 0
    little = np.bincount(patch, area_m2[rows]) < little_m2(float(area_m2.sum()))
    return tuple(rows[patch == k] for k in np.flatnonzero(little & (brings < asked) & ~held))
