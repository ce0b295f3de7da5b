"""Short transects across wheelings: how far their pan reaches into the ground beside."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

Places = NDArray[np.float64]


def across(place: Places, wheeling: BaseGeometry, ground: BaseGeometry, step_m: float) -> Places:
    """Return the outer places of a transect through `place`, none to two, shape ``(k, 2)`` [m].

    The transect runs at right angles to the nearest edge of the wheeling; its outer places lie
    `step_m` beyond either edge, and only those on `ground` are kept.

    Parameters
    ----------
    place
        A station on the wheeling, shape ``(2,)`` [m].
    wheeling
        Ground of the wheelings.
    ground
        Where a station may stand beside it.
    step_m
        Distance from the edge [m].
    """
    edge = shapely.get_coordinates(shapely.shortest_line(shapely.Point(place), wheeling.boundary))
    nearest_m = float(np.hypot(*(edge[1] - edge[0])))
    if nearest_m == 0:
        return np.empty((0, 2))
    way = (edge[1] - edge[0]) / nearest_m
    far = shapely.LineString([place, place - way * 8 * (nearest_m + step_m)])
    crossing = shapely.get_coordinates(shapely.intersection(far, wheeling.boundary))
    if not len(crossing):
        return np.empty((0, 2))
    opposite_m = float(np.hypot(*(crossing - place).T).min())
    outer = np.array([place + way * (nearest_m + step_m), place - way * (opposite_m + step_m)])
    return np.asarray(outer[shapely.contains_xy(ground, outer[:, 0], outer[:, 1])])
