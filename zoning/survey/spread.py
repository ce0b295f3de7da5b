"""Places spread evenly over an area."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from sklearn.cluster import KMeans

Places = NDArray[np.float64]
Ints = NDArray[np.int64]

_STARTS = 4


def spread_out(points: Places, count: int, seed: int) -> Ints:
    """Return the rows of `count` of the `points` that cover them evenly.

    The points are parted into compact groups of least mean squared distance (k-means) and the point
    nearest the middle of each group is taken: spatial coverage sampling (Walvoort D.J.J., Brus
    D.J., de Gruijter J.J., Computers & Geosciences 36, 2010, 1261-1267; from memory), which suits a
    map made by kriging and keeps stations apart.

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
    groups = KMeans(count, n_init=_STARTS, random_state=seed).fit(middle)
    chosen: list[int] = []
    for centre in groups.cluster_centers_:
        near = np.argsort(np.hypot(*(middle - centre).T), kind="stable")
        chosen.append(next(int(i) for i in near if i not in chosen))
    return np.array(sorted(chosen), dtype=np.int64)


def spacing_m(places: Places) -> float:
    """Return the distance of the two places that lie nearest each other [m]."""
    gaps = np.asarray(cKDTree(places).query(places, k=2)[0])
    return float(gaps[:, 1].min())


def coverage_m(places: Places, points: Places) -> float:
    """Return the root mean square distance from `points` to the nearest of `places` [m]."""
    return float(np.sqrt(np.mean(cKDTree(places).query(points)[0] ** 2)))
