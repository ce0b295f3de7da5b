"""Zones and runs: what pieces of equal depth form, on the ground and along a pass."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from zoning.contracts import constant
from zoning.depths.lay_faces import Borders, Ints, borders, connected, joined
from zoning.depths.lay_frame import Floats, Geometries, line_between


def merge(
    pieces: gpd.GeoDataFrame, depth_cm: Floats, *, min_area_m2: float = 0.0
) -> gpd.GeoDataFrame:
    """Join pieces of equal depth that share an edge into zones.

    Parameters
    ----------
    pieces
        Pieces of the field: a valid coverage.
    depth_cm
        Working depth of each piece, shape ``(n,)``; 0 where the legs are lifted out [cm].
    min_area_m2
        Zones smaller than this go to a neighbour first: see `settled` [m2].

    Returns
    -------
    geopandas.GeoDataFrame
        One row a zone: ``zone`` (from 1, from north to south and then from west to east by the
        northernmost point), ``depth_cm, area_ha`` (in the plane of the working CRS), ``n_pieces,
        geometry``. Zones are polygons, cover the field exactly once and share their vertices.
        Pieces that touch only at a corner do not join. Vertices on straight edges are left out
        (tolerance `zone_tolerance_m`).
    """
    depth = settled(pieces, depth_cm, min_area_m2=min_area_m2)
    zone = zone_of(pieces, depth) - 1
    shapes = joined(pieces.geometry.to_numpy(), zone)
    shapes = shapely.normalize(_tidied(shapes))
    _, one = np.unique(zone, return_index=True)
    table = {
        "zone": np.arange(1, len(shapes) + 1), "depth_cm": depth[one],
        "area_ha": shapely.area(shapes) / 1e4, "n_pieces": np.bincount(zone),
    }  # fmt: skip
    return gpd.GeoDataFrame(table, geometry=shapes, crs=pieces.crs)


def zone_of(pieces: gpd.GeoDataFrame, depth_cm: Floats) -> Ints:
    """Return the zone number of each piece, as `merge` numbers them without a least area."""
    polygons = pieces.geometry.to_numpy()
    shared = borders(polygons)
    group = _groups(depth_cm, shared.left, shared.right)
    bounds = np.round(shapely.bounds(polygons), 2)
    n = group.max() + 1
    north, west = np.full(n, -np.inf), np.full(n, np.inf)
    np.maximum.at(north, group, bounds[:, 3])
    np.minimum.at(west, group, bounds[:, 0])
    _, depth = np.unique(group, return_index=True)
    number = np.empty(n, dtype=np.int64)
    number[np.lexsort([depth_cm[depth], west, -north])] = np.arange(1, n + 1)
    return number[group]


def settled(pieces: gpd.GeoDataFrame, depth_cm: Floats, *, min_area_m2: float) -> Floats:
    """Return depths in which zones smaller than `min_area_m2` have taken the depth of a neighbour.

    Only a neighbour that is not deeper is taken, because a cap over a drain or a lifted stretch
    over a service must hold whatever is tidied; of those the one with the longest shared edge. A
    small zone without such a neighbour stays as it is. Smallest zones go first, until none can.
    """
    depth = np.array(depth_cm, dtype=np.float64)
    polygons = pieces.geometry.to_numpy()
    shared, area_m2 = borders(polygons), shapely.area(polygons)
    while True:
        group = _groups(depth, shared.left, shared.right)
        size = np.bincount(group, area_m2)
        _, first = np.unique(group, return_index=True)
        order = np.lexsort([first, np.round(size, 6)])
        small = order[size[order] < min_area_m2]
        zone, level = _giving_way(small, shared.between(group), depth[first])
        if zone < 0:
            return depth
        depth[group == zone] = level


def _giving_way(small: Ints, shared: Borders, level_cm: Floats) -> tuple[int, float]:
    """Return the first small zone with a shallower neighbour, and its new depth; -1 if none."""
    for zone in small:
        left, right = shared.left == zone, shared.right == zone
        other = np.concatenate([shared.right[left], shared.left[right]])
        length = np.concatenate([shared.length_m[left], shared.length_m[right]])
        fit = level_cm[other] < level_cm[zone]
        if fit.any():
            order = np.lexsort([level_cm[other[fit]], -np.round(length[fit], 6)])
            return int(zone), float(level_cm[other[fit]][order[0]])
    return -1, 0.0


def runs(lines: gpd.GeoDataFrame, pieces: gpd.GeoDataFrame, depth_cm: Floats) -> gpd.GeoDataFrame:
    """Join consecutive pieces of a pass at one depth into runs.

    Parameters
    ----------
    lines, pieces
        Passes and pieces of one `zoning.depths.lay.Laid`.
    depth_cm
        Working depth of each piece, shape ``(n,)`` [cm].

    Returns
    -------
    geopandas.GeoDataFrame
        One row a run: ``pass, step`` (from 1 within the pass), ``from_m, to_m`` (along the pass),
        ``depth_cm, geometry`` (the stretch of the middle line).
    """
    table = pd.DataFrame(pieces.drop(columns="geometry")).assign(depth_cm=depth_cm)
    table = table.sort_values(["pass_id", "step"], kind="stable")
    other_pass = table["pass_id"].ne(table["pass_id"].shift())
    begins = other_pass | table["depth_cm"].ne(table["depth_cm"].shift())
    grouped = table.groupby(begins.cumsum(), sort=True)
    found = grouped.agg(
        {"pass_id": "first", "from_m": "first", "to_m": "last", "depth_cm": "first"}
    )
    found["step"] = found.groupby("pass_id").cumcount() + 1
    line = dict(zip(lines["pass_id"], lines.geometry, strict=True))
    shapes = [
        line_between(line[number], start, end)
        for number, start, end in zip(found["pass_id"], found["from_m"], found["to_m"], strict=True)
    ]
    found = found.rename(columns={"pass_id": "pass"}).reset_index(drop=True)
    columns = ["pass", "step", "from_m", "to_m", "depth_cm"]
    return gpd.GeoDataFrame(found[columns], geometry=shapes, crs=pieces.crs)


def _groups(depth_cm: Floats, left: Ints, right: Ints) -> Ints:
    same = depth_cm[left] == depth_cm[right]
    return connected(len(depth_cm), left[same], right[same])


def _tidied(shapes: Geometries) -> Geometries:
    """Return the coverage without the vertices that do not bend an edge."""
    simple = shapely.coverage_simplify(shapes, constant("lay_rules", "zone_tolerance_m"))
    return np.asarray(simple)
