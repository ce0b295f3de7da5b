"""At which of the stations to dig as well."""

from __future__ import annotations

from collections import Counter

import numpy as np
from numpy.typing import NDArray

from zoning.survey.ground import Places


def pits_among(
    xy_m: Places, part: NDArray[np.str_], count: int, near: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Mark `count` stations for a pit: one in each part first, then far from each other.

    In its part a station near a hazard is taken only where no other is left.

    Parameters
    ----------
    xy_m
        Stations, shape ``(n, 2)`` [m].
    part
        Part of each, shape ``(n,)``.
    count
        Pits; all stations where there are no more.
    near
        Whether each lies near the keep-off of a hazard, shape ``(n,)``.
    """
    size = Counter(part.tolist())
    dug = np.zeros(len(part), dtype=bool)
    for _ in range(min(count, len(part))):
        held = Counter(part[dug].tolist())
        # The part that has the fewest pits for its stations, one without any before all others.
        rank = [(held[p] > 0, held[p] / size[p], -size[p], p) for p in part.tolist()]
        first = min(r for r, taken in zip(rank, dug, strict=True) if not taken)
        open_rows = [i for i, r in enumerate(rank) if r == first and not dug[i]]
        dug[max(open_rows, key=lambda i: (not near[i], _clear_m(xy_m, dug, i), -i))] = True
    return dug


def _clear_m(xy_m: Places, dug: NDArray[np.bool_], row: int) -> float:
    """Return the distance to the nearest pit; without any, minus that to the middle."""
    if not dug.any():
        return -float(np.hypot(*(xy_m[row] - xy_m.mean(axis=0))))
    return float(np.hypot(*(xy_m[dug] - xy_m[row]).T).min())
