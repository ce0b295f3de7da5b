"""Where stations may stand: off the boundary, off hazards, well inside their part."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant
from zoning.errors import PlanRefused

Places = NDArray[np.float64]


def probing_ground(
    boundary: MultiPolygon, parts: gpd.GeoDataFrame, keep_off: gpd.GeoDataFrame
) -> gpd.GeoDataFrame:
    """Return the ground of each part on which a station may stand.

    Parameters
    ----------
    boundary
        Outline of the field [m, working CRS].
    parts
        ``part, kind, area_ha, geometry``: exact partition of the field.
    keep_off
        Keep-off polygons of hazards.

    Returns
    -------
    GeoDataFrame
        ``part, kind, area_ha`` (of the whole part) and ``geometry`` (the ground), rows as `parts`
        without those that have no ground left.

    Raises
    ------
    PlanRefused
        If hazards leave no ground at all.
    """
    edge_m = constant("survey_rules", "edge_m")
    hazards = shapely.union_all(keep_off.geometry.to_numpy())
    inner, clear = _shrunk(boundary, edge_m), shapely.buffer(hazards, edge_m)
    ground = [
        _areal(_off(shapely.intersection(part, inner), hazards, clear)) for part in parts.geometry
    ]
    turning = ~parts["kind"].isin(["body", "wheeling"])
    ends = shapely.union_all([boundary.boundary, *parts.geometry[turning]])
    for row in np.flatnonzero(parts["kind"] == "wheeling"):
        ground[row] = _areal(shapely.union_all([_off_ends(s, ends) for s in ground[row].geoms]))
    kept = parts.set_geometry(gpd.GeoSeries(ground, crs=parts.crs))
    kept = kept[kept.geometry.area > 0].reset_index(drop=True)
    if kept.empty:
        raise PlanRefused(
            "Boundary and hazards leave no ground to probe. Check clear_m of the hazards."
        )
    return kept


def _off(part: BaseGeometry, hazards: BaseGeometry, clear: BaseGeometry) -> BaseGeometry:
    """Return the ground of a part well off hazards; just off them where there is no other."""
    free = shapely.difference(part, clear)
    off = clear if free.area > 0 else hazards
    free = free if free.area > 0 else shapely.difference(part, hazards)
    return shapely.difference(_shrunk(free, constant("survey_rules", "part_margin_m")), off)


def _shrunk(area: BaseGeometry, margin_m: float) -> BaseGeometry:
    """Return `area` drawn in by `margin_m`, or by half of that, and so on, until ground is left."""
    least = constant("survey_rules", "part_margin_least_m")
    while margin_m >= least:
        inner = area.buffer(-margin_m, join_style="mitre")
        if inner.area > 0:
            return inner
        margin_m /= 2
    return area


def _off_ends(strip: BaseGeometry, ends: BaseGeometry) -> BaseGeometry:
    """Return a strip without its ends; nearer to them where that would take over half of it."""
    margin_m = constant("survey_rules", "wheeling_end_m")
    while margin_m >= constant("survey_rules", "part_margin_least_m"):
        middle = shapely.difference(strip, shapely.buffer(ends, margin_m))
        if middle.area >= strip.area / 2:
            return middle
        margin_m /= 2
    return strip


def _areal(shape: BaseGeometry) -> MultiPolygon:
    pieces = [p for p in shapely.get_parts([shape]) if p.geom_type == "Polygon" and p.area > 0]
    nested = [
        q
        for p in shapely.get_parts([shape])
        if p.geom_type == "GeometryCollection"
        for q in shapely.get_parts([p])
        if q.geom_type == "Polygon"
    ]
    return MultiPolygon([*pieces, *nested])


def random_points(area: BaseGeometry, count: int, rng: np.random.Generator) -> Places:
    """Return `count` independent, uniformly distributed points in `area`, shape ``(count, 2)`` [m].

    The area is cut into triangles; one is drawn by its area, then a point in it.
    """
    if count == 0:
        return np.empty((0, 2))
    cut = shapely.constrained_delaunay_triangles(shapely.normalize(area))
    triangles = shapely.get_parts([cut])
    corners = shapely.get_coordinates(triangles).reshape(len(triangles), 4, 2)[:, :3]
    weight = shapely.area(triangles)
    chosen = corners[rng.choice(len(triangles), count, p=weight / weight.sum())]
    u, v = rng.random((2, count, 1))
    flip = u + v > 1
    u, v = np.where(flip, 1 - u, u), np.where(flip, 1 - v, v)
    a, b, c = chosen[:, 0], chosen[:, 1], chosen[:, 2]
    return np.asarray(a + u * (b - a) + v * (c - a))
