"""How deep the hazards let each piece be worked."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from zoning.depths.lay import Laid

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def cap_of_pieces(
    laid: Laid, hazard_zones: gpd.GeoDataFrame, *, width_m: float, reach_m: float = 0.0
) -> Floats:
    """Return the greatest working depth that the hazards allow on each piece [cm].

    It is the least cap of all keep-off polygons that the machine touches while it works the piece:
    the piece itself and the full working width about its stretch of the middle line, drawn out by
    `reach_m` at both ends. Rounding down to a setting of the machine comes later and last.

    Parameters
    ----------
    laid
        Passes and pieces.
    hazard_zones
        ``cap_cm`` (greatest depth, 0 for legs lifted out) and geometry (keep-off polygon).
    width_m
        Working width [m].
    reach_m
        Distance along the pass between the first and the last row of legs [m]: while one row has
        left the piece the other is still in it.

    Returns
    -------
    NDArray, shape ``(pieces,)``
        Infinite where no hazard is touched.

    Raises
    ------
    ValueError
        If a cap is negative or not a number.
    """
    pieces = laid.pieces
    caps = np.full(len(pieces), np.inf)
    zone_cap = hazard_zones["cap_cm"].to_numpy(dtype=np.float64)
    if np.isnan(zone_cap).any() or (zone_cap < 0).any():
        raise ValueError("The cap of a hazard is negative or not a number.")
    zones = hazard_zones.geometry.to_numpy()
    tree = shapely.STRtree(pieces.geometry.to_numpy())
    _, close = tree.query(zones, predicate="dwithin", distance=width_m + reach_m)
    near = np.unique(close).astype(np.int64)
    zone, swath = shapely.STRtree(_swaths(laid, near, width_m, reach_m)).query(
        zones, predicate="intersects"
    )
    np.minimum.at(caps, near[swath], zone_cap[zone])
    return caps


def _swaths(laid: Laid, rows: Ints, width_m: float, reach_m: float) -> NDArray[Any]:
    """Return the ground that the machine touches while it works the pieces in `rows`."""
    pieces = laid.pieces
    line = dict(zip(laid.lines["pass_id"], laid.lines.geometry, strict=True))
    number = pieces["pass_id"].to_numpy()[rows]
    begin = pieces["from_m"].to_numpy(dtype=np.float64)[rows] - reach_m
    end = pieces["to_m"].to_numpy(dtype=np.float64)[rows] + reach_m
    stretches = [_stretch(line[one], a, b) for one, a, b in zip(number, begin, end, strict=True)]
    run = shapely.buffer(np.array(stretches, dtype=object), width_m / 2.0, cap_style="flat")
    return np.asarray(shapely.union(run, pieces.geometry.to_numpy()[rows]))


def _stretch(line: LineString, begin_m: float, end_m: float) -> BaseGeometry:
    """Return a stretch of a pass; in a round it may reach across the beginning."""
    length = line.length
    parts = [substring(line, max(begin_m, 0.0), min(end_m, length))]
    if line.is_closed and begin_m < 0:
        parts.append(substring(line, length + begin_m, length))
    if line.is_closed and end_m > length:
        parts.append(substring(line, 0.0, end_m - length))
    return shapely.union_all(parts)
