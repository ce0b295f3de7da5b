"""The rules of a sequence told a second time, plainly, to check the dynamic programme by."""

from __future__ import annotations

from itertools import product

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def runs(levels: tuple[int, ...], *, closed: bool) -> list[list[int]]:
    """Return the steps of each run; in a loop the last run may go on at the beginning."""
    n = len(levels)
    starts = [i for i in range(n) if levels[i] != levels[i - 1] or (i == 0 and not closed)]
    if not starts:
        return [list(range(n))]
    ends = [*starts[1:], starts[0] + n if closed else n]
    return [[i % n for i in range(a, b)] for a, b in zip(starts, ends, strict=True)]


def keeps_the_rules(
    levels: tuple[int, ...], cost: Floats, length_m: Floats, min_run_m: float, *, closed: bool
) -> bool:
    n = len(levels)
    if not all(np.isfinite(cost[i, level]) for i, level in enumerate(levels)):
        return False
    forced = np.isfinite(cost[:, 0]) & ~np.isfinite(cost[:, 1:]).any(axis=1)
    found = runs(levels, closed=closed)
    for run in found:
        before, after = run[0] - 1, run[-1] + 1
        stands_alone = (
            (not closed and before < 0) or forced[before % n],
            (not closed and after >= n) or forced[after % n],
        )
        long_enough = sum(length_m[i] for i in run) >= min_run_m - 1e-6
        if not (long_enough or len(found) == 1 or forced[run].any() or all(stands_alone)):
            return False
    return True


def total(levels: tuple[int, ...], cost: Floats, charge: float, *, closed: bool) -> float:
    changes = sum(levels[i] != levels[i - 1] for i in range(0 if closed else 1, len(levels)))
    return float(sum(cost[i, level] for i, level in enumerate(levels)) + charge * changes)


def least(
    cost: Floats, length_m: Floats, min_run_m: float, charge: float, *, closed: bool
) -> float:
    """Return the least total of all sequences that keep the rules, infinite where there is none."""
    allowed = [np.flatnonzero(np.isfinite(row)).tolist() for row in cost]
    totals = (
        total(levels, cost, charge, closed=closed)
        for levels in product(*allowed)
        if keeps_the_rules(levels, cost, length_m, min_run_m, closed=closed)
    )
    return min(totals, default=np.inf)
