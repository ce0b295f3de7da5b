"""How many stations each part of a field gets."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


def shares(area: Floats, total: int, floor: int) -> Ints:
    """Return the stations of each part: by area, but at least `floor` in each.

    Parts that their area gives fewer than `floor` get `floor`; the rest is shared among the others
    by area (largest remainders, the larger part first among equals). With too few stations for the
    floor everywhere the floor is lowered, and with fewer stations than parts the largest parts get
    one each.

    Parameters
    ----------
    area
        Area of each part, shape ``(parts,)``.
    total
        Stations in all.
    floor
        Least stations of a part.

    Returns
    -------
    NDArray of int, shape ``(parts,)``
        Sums to `total`.
    """
    order = np.argsort(-area, kind="stable")
    count = np.zeros(len(area), dtype=np.int64)
    if total < len(area):
        count[order[:total]] = 1
        return count
    floor = min(floor, total // len(area))
    held = np.zeros(len(area), dtype=bool)
    while True:
        room = total - floor * int(held.sum())
        want = np.where(held, float(floor), room * area / area[~held].sum())
        short = ~held & (want < floor)
        if not short.any():
            return _largest_remainders(want, total, order)
        held |= short
        if held.all():
            return _largest_remainders(np.full(len(area), total / len(area)), total, order)


def _largest_remainders(want: Floats, total: int, order: Ints) -> Ints:
    count = np.floor(want + 1e-9).astype(np.int64)
    rest = (want - count)[order]
    first = order[np.argsort(-np.round(rest, 9), kind="stable")]
    count[first[: total - int(count.sum())]] += 1
    return count
