"""The ground that depths are weighed on: what each part of the field has of each piece, exactly.

A pan lies deeper under a wheeling two metres wide, so what such a strip covers of a piece must
count with its true area, whatever way the two lie. The pan is taken at the centroid of each such
ground: exact for a loss that changes evenly over it. Nothing here knows a point of the compass.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray

from zoning.contracts import constant
from zoning.model import PanSurface

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Names = NDArray[np.str_]
Predict = Callable[[Floats, Names], PanSurface]


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Ground of one part in one piece, a row each.

    Parameters
    ----------
    piece
        Number of the piece, shape ``(n,)``.
    part
        Name of the part, shape ``(n,)``.
    xy_m
        Centroid, shape ``(n, 2)`` [m].
    area_m2
        Area, shape ``(n,)`` [m2].
    """

    piece: Ints
    part: Names
    xy_m: Floats
    area_m2: Floats


def places_of(pieces: gpd.GeoDataFrame, parts: gpd.GeoDataFrame) -> Places:
    """Return the ground that each part has in each piece; every piece has some.

    Further ground smaller than `least_place_m2` is left out: rounding where outlines touch.

    Parameters
    ----------
    pieces
        Pieces of the field, numbered as they stand.
    parts
        Parts of the field, with ``part`` and geometry.
    """
    shapes = pieces.geometry.to_numpy()
    grounds, part = shapely.get_parts(parts.geometry.to_numpy(), return_index=True)
    shapely.prepare(grounds)
    ground, piece = shapely.STRtree(shapes).query(grounds, predicate="intersects")
    held = shapes[piece]
    mixed = np.bincount(piece, minlength=len(shapes))[piece] > 1
    held[mixed] = shapely.intersection(sound(held[mixed]), sound(grounds)[ground[mixed]])
    area = shapely.area(held)
    order = np.lexsort([-area, piece])
    kept = area > constant("depth_rules", "least_place_m2")
    kept[order[np.append(True, piece[order[1:]] != piece[order[:-1]])]] = True
    rows = np.flatnonzero(kept)
    rows = rows[np.lexsort([-np.round(area[rows], 6), part[ground[rows]], piece[rows]])]
    names = parts["part"].to_numpy()[part[ground[rows]]].astype(np.str_)
    return Places(piece[rows], names, _centroids(held[rows]), area[rows])


def sound(shapes: NDArray[Any]) -> NDArray[Any]:
    """Return `shapes`, those mended whose outline crosses itself by rounding."""
    bad = ~shapely.is_valid(shapes)
    if not bad.any():
        return shapes
    mended = shapes.copy()
    mended[bad] = shapely.make_valid(shapes[bad])
    return mended


def _centroids(shapes: NDArray[Any]) -> Floats:
    return np.asarray(shapely.get_coordinates(shapely.centroid(shapes)), dtype=np.float64)
