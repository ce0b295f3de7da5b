"""The travel heading as a pair of axes: metres along it and metres across it."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiLineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from zoning.contracts import constant
from zoning.grid import HeadingFrame

Floats = NDArray[np.float64]
Geometries = NDArray[Any]

_SAME_LENGTH_M = 1e-3
_SAME_HEADING_DEG = 1e-4


def heading_frame(boundary: MultiPolygon, heading_deg: float) -> HeadingFrame:
    """Return the axes of `heading_deg` about the centroid of `boundary`.

    With ``along, across = frame.along_across(xy_m)`` a place lies in the straight pass number
    ``floor((across - offset_m) / width_m)``.
    """
    centre = boundary.centroid
    return HeadingFrame(centre.x, centre.y, heading_deg)


def default_heading(boundary: MultiPolygon) -> float:
    """Return the heading of the longest straight side with the field on the right [degrees].

    In [0, 360), clockwise from grid north. Driven this way it turns with the field, and so does the
    order of the passes, which are numbered from that side. Bends smaller than `heading_tolerance_m`
    are smoothed first (Douglas and Peucker 1973). Of sides equally long to a millimetre the one
    counts whose line runs nearest to the east of north, driven northwards: such a field looks the
    same from several sides, and nothing but the compass tells them apart.
    """
    tolerance = constant("lay_rules", "heading_tolerance_m")
    sides = [_sides(_from_far_corner(part).simplify(tolerance)) for part in boundary.geoms]
    length, heading = np.concatenate(sides).T
    heading = np.round(heading[length >= length.max() - _SAME_LENGTH_M], 9) % 360.0
    line = heading % 180.0
    apart = np.abs((line - line.min() + 90.0) % 180.0 - 90.0)
    return float(heading[apart < _SAME_HEADING_DEG].min())


def _from_far_corner(part: Polygon) -> Polygon:
    """Return the outer ring, clockwise from the vertex farthest from the centroid."""
    ring = shapely.get_coordinates(part.exterior)[:-1]
    ring = ring[::-1] if part.exterior.is_ccw else ring
    centre = shapely.get_coordinates(part.centroid)
    distance = np.hypot(*(ring - centre).T)
    return Polygon(np.roll(ring, -int(np.argmax(np.round(distance, 6))), axis=0))


def _sides(part: BaseGeometry) -> Floats:
    """Return length [m] and heading [degrees] of each side of the outer ring, shape ``(n, 2)``."""
    step = np.diff(shapely.get_coordinates(shapely.get_exterior_ring(part)), axis=0)
    heading = np.degrees(np.arctan2(step[:, 0], step[:, 1]))
    return np.column_stack([np.hypot(step[:, 0], step[:, 1]), heading])


def line_between(line: LineString, from_m: float, to_m: float) -> LineString:
    """Return the stretch of `line` between two distances along it [m]."""
    stretch = substring(line, from_m, to_m)
    return stretch if isinstance(stretch, LineString) else LineString([stretch, stretch])


def places_along(line: LineString, distance_m: Floats) -> Floats:
    """Return the places at distances along `line`, shape ``(n, 2)`` [m]."""
    xy = shapely.get_coordinates(line)
    passed = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])
    return np.column_stack([np.interp(distance_m, passed, column) for column in xy.T])


def segments(ends: Floats) -> MultiLineString:
    """Return straight lines from their ends, shape ``(n, 2, 2)``."""
    lines = shapely.multilinestrings(np.asarray(shapely.linestrings(ends), dtype=object))
    return lines if isinstance(lines, MultiLineString) else MultiLineString()


def node_grid_m() -> float:
    """Return the spacing of the grid that all vertices of the pieces lie on [m]."""
    return float(2.0 ** constant("lay_rules", "node_grid_exponent"))


def on_grid(values: Floats) -> Floats:
    """Return coordinates moved to the nearest point of the vertex grid, as GEOS rounds them."""
    grid = node_grid_m()
    return np.asarray(np.floor(values / grid + 0.5) * grid, dtype=np.float64)
