"""Which part of the field a place lies in."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray

from zoning.contracts import constant
from zoning.parts.layers import precedence


def part_of(parts: gpd.GeoDataFrame, xy_m: NDArray[np.float64]) -> NDArray[np.str_]:
    """Return the name of the part that holds each place.

    A place on a shared edge (within `edge_m` of it) goes to the part of higher precedence (of two
    named areas, to the smaller). A place outside the field goes to the nearest part.

    Parameters
    ----------
    parts
        Frame of `zoning.parts.partition`.
    xy_m
        Places in the working CRS, shape ``(n, 2)`` [m].
    """
    rank = np.array([precedence(str(kind)) for kind in parts["kind"]])
    order = np.lexsort(
        [parts["part"].to_numpy(), np.round(parts["area_ha"].to_numpy(dtype=np.float64), 10), rank]
    )
    shapes = parts.geometry.to_numpy()[order]
    reach = constant("part_rules", "edge_m")
    wide = shapely.buffer(shapes, reach, join_style="mitre")
    shapely.prepare(wide)
    found = np.full(len(xy_m), -1, dtype=np.int64)
    for place, shape in enumerate(wide):
        free = np.flatnonzero(found < 0)
        held = shapely.intersects_xy(shape, xy_m[free, 0], xy_m[free, 1])
        found[free[held]] = place
    lost = np.flatnonzero(found < 0)
    found[lost] = _nearest(shapes, xy_m[lost])
    return np.asarray(parts["part"].to_numpy()[order], dtype=np.str_)[found]


def _nearest(shapes: NDArray[np.object_], xy_m: NDArray[np.float64]) -> NDArray[np.int64]:
    """Return the first of the nearest shapes of each place."""
    if len(xy_m) == 0:
        return np.empty(0, dtype=np.int64)
    points = shapely.points(xy_m)
    distance = np.round([shapely.distance(shape, points) for shape in shapes], 6)
    return np.asarray(np.argmin(distance, axis=0), dtype=np.int64)
