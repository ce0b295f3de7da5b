"""Places spread evenly over an area."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from sklearn.cluster import KMeans
from threadpoolctl import threadpool_limits  # type: ignore[import-untyped]

Places = NDArray[np.float64]
Ints = NDArray[np.int64]

_STARTS = 4


def spread_out(points: Places, count: int, seed: int) -> Ints:
    """Return the rows of `count` of the `points` that cover them evenly and keep apart.

    The points are parted into compact groups of least mean squared distance (k-means) and the point
    nearest the middle of each group is taken: spatial coverage sampling (Walvoort D.J.J., Brus
    D.J., de Gruijter J.J., Computers & Geosciences 36, 2010, 1261-1267; from memory), which suits a
    map made by kriging. Then the two places nearest each other move apart, each in the inner half
    of its group, for as long as that widens the least distance of the design.

    Parameters
    ----------
    points
        Evenly or randomly scattered over the area, at least `count` of them, shape ``(n, 2)`` [m].
    count
        Places wanted.
    seed
        The same seed gives the same places.
    """
    if count == 0:
        return np.empty(0, dtype=np.int64)
    middle = points - points.mean(axis=0)
    with threadpool_limits(1):
        groups = KMeans(count, n_init=_STARTS, random_state=seed).fit(middle)
    chosen: list[int] = []
    for centre in groups.cluster_centers_:
        near = np.argsort(np.hypot(*(middle - centre).T), kind="stable")
        chosen.append(next(int(i) for i in near if i not in chosen))
    inner = [
        _inner_half(middle, groups.labels_ == k, c) for k, c in enumerate(groups.cluster_centers_)
    ]
    return np.sort(_moved_apart(middle, np.array(chosen, dtype=np.int64), inner))


def _inner_half(points: Places, held: NDArray[np.bool_], centre: Places) -> Ints:
    """Return the rows of the half of a group that lies nearest its middle."""
    rows = np.flatnonzero(held)
    gap = np.hypot(*(points[rows] - centre).T)
    return np.asarray(rows[gap <= np.median(gap)], dtype=np.int64)


def _moved_apart(points: Places, chosen: Ints, inner: list[Ints]) -> Ints:
    """Return the places with the nearest two moved apart as long as the least distance grows."""
    while len(chosen) > 1:
        gap, other = (np.asarray(a) for a in cKDTree(points[chosen]).query(points[chosen], k=2))
        pair = int(np.argmin(gap[:, 1]))
        tries = [_replaced(points, chosen, place, inner) for place in (pair, int(other[pair, 1]))]
        best = max(tries, key=lambda rows: spacing_m(points[rows]))
        if spacing_m(points[best]) <= spacing_m(points[chosen]):
            break
        chosen = best
    return chosen


def _replaced(points: Places, chosen: Ints, place: int, inner: list[Ints]) -> Ints:
    """Return the rows with one place moved to where it lies farthest from the others."""
    own = inner[place]
    others = np.delete(chosen, place)
    gap, _ = cKDTree(points[others]).query(points[own])
    rows = chosen.copy()
    rows[place] = own[int(np.argmax(gap))]
    return rows


def spacing_m(places: Places) -> float:
    """Return the distance of the two places that lie nearest each other [m]."""
    gaps = np.asarray(cKDTree(places).query(places, k=2)[0])
    return float(gaps[:, 1].min())
