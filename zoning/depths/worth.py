"""A depth that is used on next to no ground must be worth setting.

Where pins have to be moved a further setting means minutes of standing, whatever ground it serves.
So a depth used on little ground is left out where the best choice with one depth fewer costs less
than its charge more. Ground that a hazard keeps shallow is never lifted out for that.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from zoning.contracts import constant
from zoning.depths.chain import Driver
from zoning.depths.search import Columns, Found, Search
from zoning.units import M2_PER_HA

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Steps:
    """The steps of the passes in driving order.

    Parameters
    ----------
    area_m2
        Area, shape ``(steps,)`` [m2].
    held
        Whether a hazard forbids the deepest option, shape ``(steps,)``.
    """

    area_m2: Floats
    held: Bools

    def on_little_ground(self, level: Ints) -> dict[int, float]:
        """Return the working depths that `level` uses on little ground, with their areas [m2]."""
        share = constant("depth_rules", "little_ground_share") * float(self.area_m2.sum())
        most = min(share, constant("depth_rules", "little_ground_ha") * M2_PER_HA)
        area = np.bincount(level, self.area_m2)
        return {int(k): float(area[k]) for k in np.unique(level) if k > 0 and area[k] < most}


@dataclass(frozen=True, slots=True, eq=False)
class Chosen:
    """The set of depths, the option of each step, and the area of each depth left out [m2]."""

    found: Found
    level: Ints
    left_out: dict[int, float]


def worth_setting(
    found: Found, search: Search, driver: Driver, steps: Steps, charge: float
) -> Chosen:
    """Return the choice without the depths that are used on little ground and not worth a setting.

    Parameters
    ----------
    found
        The best set of depths where a setting costs nothing but its changes.
    search, driver
        What found it, and what lays it along the passes.
    steps
        The steps of the passes.
    charge
        What a setting must bring, in the unit of the cost; 0: all are kept.
    """
    chosen = Chosen(found, driver.sequence((0, *found.columns)), {})
    while charge > 0 and (fewer := _without_one(chosen, search, driver, steps, charge)):
        chosen = fewer
    return chosen


def _without_one(
    now: Chosen, search: Search, driver: Driver, steps: Steps, charge: float
) -> Chosen | None:
    """Return the best choice with a depth fewer, if one on little ground is left out by it."""
    little = steps.on_little_ground(now.level)
    used = np.unique(now.level[now.level > 0])
    if not little or len(used) < 2:
        return None
    found = search.best(len(used) - 1, sets=int(constant("depth_rules", "search_sets")))
    gone: Columns = tuple(column for column in little if column not in found.columns)
    if not gone or found.cost - now.found.cost >= charge:
        return None
    level = driver.sequence((0, *found.columns))
    if (steps.held & (level == 0) & (now.level > 0)).any():
        return None
    return Chosen(found, level, {**now.left_out, **{column: little[column] for column in gone}})
