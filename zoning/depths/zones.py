"""Zones and runs: what pieces of equal depth form, on the ground and along a pass."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from zoning.contracts import constant
from zoning.depths.drive import DepthChoice
from zoning.depths.lay_faces import Ints, borders, connected, joined
from zoning.depths.lay_frame import Floats, Geometries, line_between
from zoning.depths.loss import probability_enough
from zoning.depths.places import Places
from zoning.model import PanSurface, Settings
from zoning.units import CM_PER_M, M2_PER_HA

Bools = NDArray[np.bool_]


def merge(pieces: gpd.GeoDataFrame, depth_cm: Floats, zone: Ints) -> gpd.GeoDataFrame:
    """Join pieces of equal depth into zones.

    Parameters
    ----------
    pieces
        Pieces of the field: a valid coverage.
    depth_cm
        Working depth of each piece, shape ``(n,)``; 0 where the legs are lifted out [cm].
    zone
        Zone number of each piece, from `zone_of`.

    Returns
    -------
    geopandas.GeoDataFrame
        One row a zone: ``zone`` (from 1, from north to south and then from west to east by the
        northernmost point), ``depth_cm, area_ha`` (in the plane of the working CRS), ``n_pieces,
        geometry``. Zones cover the field exactly once and share their vertices. Vertices on
        straight edges are left out (tolerance `zone_tolerance_m`).
    """
    shapes = shapely.normalize(_tidied(joined(pieces.geometry.to_numpy(), zone - 1)))
    _, one = np.unique(zone, return_index=True)
    table = {
        "zone": np.arange(1, len(shapes) + 1), "depth_cm": depth_cm[one],
        "area_ha": shapely.area(shapes) / M2_PER_HA, "n_pieces": np.bincount(zone)[1:],
    }  # fmt: skip
    return gpd.GeoDataFrame(table, geometry=shapes, crs=pieces.crs)


def kept_off(
    pieces: gpd.GeoDataFrame,
    choice: DepthChoice,
    places: Places,
    pan: PanSurface,
    settings: Settings,
    hazard_zones: gpd.GeoDataFrame,
) -> Bools:
    """Return which pieces are lifted for a hazard, not for want of a pan.

    Those are the lifted pieces that the hazards leave no depth of this plan, or that lie no farther
    from ground where legs are lifted than the rows of legs from each other; and a patch of lifted
    pieces beside them in which a pan is likelier than the assurance asked allows: but for the
    hazard it would be worked.

    Parameters
    ----------
    pieces, choice
        Pieces of the field, with the depth of each and what the hazards leave it.
    places, pan
        Ground of each part in each piece, and the pan there.
    settings
        Rows of legs, clearance and assurance.
    hazard_zones
        ``cap_cm`` and the keep-off polygon of each hazard.
    """
    strict = shapely.union_all(hazard_zones.geometry.to_numpy()[hazard_zones["cap_cm"] <= 0])
    reach_m = settings.machine.row_gap_cm / CM_PER_M + constant("lay_rules", "zone_tolerance_m")
    polygons, lifted = pieces.geometry.to_numpy(), choice.depth_cm <= 0
    off = lifted & (choice.barred | shapely.dwithin(polygons, strict, reach_m))
    if not off.any():
        return off
    shared, free = borders(polygons), lifted & ~off
    left, right = shared.left, shared.right
    both = free[left] & free[right]
    patch = connected(len(off), left[both], right[both])
    beside = np.zeros(len(off), dtype=bool)
    beside[patch[np.r_[left[off[right]], right[off[left]]]]] = True
    none = np.zeros(len(places.piece))
    short = 1.0 - probability_enough(pan, none, clearance_cm=settings.depth.clearance_cm)
    more_m2 = places.area_m2 * (short - (1.0 - settings.depth.assurance))
    likely = np.bincount(patch[places.piece], more_m2, minlength=len(off)) > 0
    return off | (free & (beside & likely)[patch])


def zone_of(
    pieces: gpd.GeoDataFrame, depth_cm: Floats, *, off: Bools | None = None, near_m: float = 0.0
) -> Ints:
    """Return the zone number of each piece, from 1.

    Pieces of one depth that share an edge are one zone; so are patches of one depth no farther
    than `near_m` apart, since a wheeling worked deeper between two passes does not make two zones
    of the ground about it. Patches that touch only at a corner join only where `near_m` is above 0.
    Ground that is lifted for a hazard, `off` (see `kept_off`), is of no zone of other ground.
    """
    polygons = pieces.geometry.to_numpy()
    depth_cm = depth_cm if off is None else np.where(off, -1.0, depth_cm)
    shared = borders(polygons)
    group = _groups(depth_cm, shared.left, shared.right)
    if near_m > 0:
        group = _bridged(polygons, depth_cm, group, near_m)
    bounds = np.round(shapely.bounds(polygons), 2)
    n = group.max() + 1
    north, west = np.full(n, -np.inf), np.full(n, np.inf)
    np.maximum.at(north, group, bounds[:, 3])
    np.minimum.at(west, group, bounds[:, 0])
    _, depth = np.unique(group, return_index=True)
    number = np.empty(n, dtype=np.int64)
    number[np.lexsort([depth_cm[depth], west, -north])] = np.arange(1, n + 1)
    return number[group]


def _bridged(polygons: Geometries, depth_cm: Floats, group: Ints, near_m: float) -> Ints:
    """Return groups in which patches of one depth within `near_m` of each other are one."""
    shapes = joined(polygons, group)
    _, one = np.unique(group, return_index=True)
    left, right = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=near_m)
    return _groups(depth_cm[one], left, right)[group]


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
        ``depth_cm, laid`` (round or straight, whatever part lies beneath it), ``geometry`` (the
        stretch of the middle line).
    """
    table = pd.DataFrame(pieces.drop(columns="geometry")).assign(depth_cm=depth_cm)
    table = table.sort_values(["pass_id", "step"], kind="stable")
    other_pass = table["pass_id"].ne(table["pass_id"].shift())
    begins = other_pass | table["depth_cm"].ne(table["depth_cm"].shift())
    grouped = table.groupby(begins.cumsum(), sort=True)
    held = dict.fromkeys(("pass_id", "from_m", "to_m", "depth_cm", "kind"), "first")
    found = grouped.agg({**held, "to_m": "last"})
    found["laid"] = np.where(found["kind"] == "headland", "round", "straight")
    found["step"] = found.groupby("pass_id").cumcount() + 1
    line = dict(zip(lines["pass_id"], lines.geometry, strict=True))
    shapes = [
        line_between(line[number], start, end)
        for number, start, end in zip(found["pass_id"], found["from_m"], found["to_m"], strict=True)
    ]
    found = found.rename(columns={"pass_id": "pass"}).reset_index(drop=True)
    columns = ["pass", "step", "from_m", "to_m", "depth_cm", "laid"]
    return gpd.GeoDataFrame(found[columns], geometry=shapes, crs=pieces.crs)


def _groups(depth_cm: Floats, left: Ints, right: Ints) -> Ints:
    same = depth_cm[left] == depth_cm[right]
    return connected(len(depth_cm), left[same], right[same])


def _tidied(shapes: Geometries) -> Geometries:
    """Return the coverage without the vertices that do not bend an edge."""
    simple = shapely.coverage_simplify(shapes, constant("lay_rules", "zone_tolerance_m"))
    return np.asarray(simple)
