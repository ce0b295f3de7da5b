"""A depth that is used on next to no ground must be worth setting.

Where pins have to be moved a further setting means minutes of standing, whatever ground it serves.
So a depth used on little ground is left out where the best choice without it, with one depth fewer,
costs less than its charge more, and so on until each depth left brings its charge. Pins moved while
the legs are lifted, between a stretch of one depth and the next of another, are no change to the
sequence, which charges the lifting alone: they are charged here, and a depth on any ground is left
out that does not bring them. Ground that a hazard keeps shallow is never lifted out for that.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from zoning.contracts import constant
from zoning.depths.chain import Driver
from zoning.depths.search import Found, Search
from zoning.units import M2_PER_HA

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


def little_m2(field_m2: float) -> float:
    """Return the area below which ground is little, of a field of `field_m2` [m2]."""
    share = constant("depth_rules", "little_ground_share") * field_m2
    return min(share, constant("depth_rules", "little_ground_ha") * M2_PER_HA)


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
        most = little_m2(float(self.area_m2.sum()))
        area = np.bincount(level, self.area_m2)
        return {int(k): float(area[k]) for k in np.unique(level) if k > 0 and area[k] < most}

    def area_of(self, level: Ints, option: int) -> float:
        """Return the area on which `level` uses one option [m2]."""
        return float(self.area_m2[level == option].sum())


@dataclass(frozen=True, slots=True, eq=False)
class Chosen:
    """The set of depths, the option of each step, and the area of each depth left out [m2]."""

    found: Found
    level: Ints
    left_out: dict[int, float]


def worth_setting(
    found: Found, search: Search, driver: Driver, steps: Steps, charge: float, move: float
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
    move
        What another depth after a lifted stretch must bring, likewise.
    """
    chosen = Chosen(found, driver.sequence((0, *found.columns)), {})
    while charge > 0 and (fewer := _without_one(chosen, search, driver, steps, charge, move)):
        chosen = fewer
    return chosen


def _without_one(
    now: Chosen, search: Search, driver: Driver, steps: Steps, charge: float, move: float
) -> Chosen | None:
    """Return the choice without the depth that brings the least of its charge, if one does not."""
    little = steps.on_little_ground(now.level)
    used, moved = np.unique(now.level[now.level > 0]), driver.moved_lifted(now.level)
    fewer: dict[tuple[float, int], Chosen] = {}
    for k in map(int, used if moved else little) if len(used) > 1 else ():
        found, asked = search.without(now.found, k), charge if k in little else 0.0
        if found.cost - now.found.cost - move * moved >= asked:
            continue
        level = driver.sequence((0, *found.columns))
        brings = found.cost - now.found.cost + move * (driver.moved_lifted(level) - moved)
        if brings < asked and not (steps.held & (level == 0) & (now.level > 0)).any():
            gone = {int(i): steps.area_of(now.level, i) for i in used if i not in found.columns}
            slight = {i: area for i, area in gone.items() if i in little}
            fewer[brings - asked, k] = Chosen(found, level, now.left_out | (slight or gone))
    return fewer[min(fewer)] if fewer else None
