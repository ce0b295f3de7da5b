"""Which ground a pit counts for: where it lies, or beside it, to whose depth it was loosened.

And which cell of the plan tells the pan base there.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from zoning.checks.caps import about_hazard
from zoning.checks.rules import SLACK, rule
from zoning.model.check import PlannedGround

Floats = NDArray[np.float64]
Shapes = NDArray[np.object_]


class Counted(NamedTuple):
    """The zone of each pit, how far outside all zones it lies, and words on ground beside it.

    `moved` tells which count for ground beside their place, to whose depth they were loosened.
    """

    zone: NDArray[np.int64]
    away_m: Floats
    near: list[str]
    moved: NDArray[np.bool_]


def noted_parts(pits: pd.DataFrame, parts: gpd.GeoDataFrame | None) -> list[BaseGeometry | None]:
    """Return the outline of the part that was dug in at each pit, if it lies about its place.

    That is within ``part_place_m``: who dug knew what he stood in, and a receiver that is some
    metres off must not hold a wheeling's pit against the depth and the base of the body. None
    where the part lies further off, or `parts` (``part`` and outline of each) are not given.
    """
    if parts is None:
        return [None] * len(pits)
    outlines = dict(zip(parts["part"], parts.geometry, strict=True))
    found = [outlines.get(name) for name in pits["part"]]
    spots = shapely.points(pits[["x_m", "y_m"]].to_numpy(dtype=float))
    off_m = shapely.distance(np.array(found, dtype=object), spots)
    return [
        one if off <= rule("part_place_m") else None for one, off in zip(found, off_m, strict=True)
    ]


def counted_for(
    pits: pd.DataFrame, zones: gpd.GeoDataFrame, noted: Sequence[BaseGeometry | None]
) -> Counted:
    """Return the zone that each pit counts for.

    Parameters
    ----------
    pits
        ``x_m, y_m, part, loosened_at_leg_cm``, and ``part_noted`` where a part may be that of the
        map.
    zones
        Those of `zoning.checks.bounded`.
    noted
        As of `noted_parts`.
    """
    places = pits[["x_m", "y_m"]].to_numpy(dtype=float)
    shapes, depth = zones.geometry.to_numpy(), zones["depth_cm"].to_numpy(float)
    names = zones["zone"].to_numpy(dtype=np.int64)
    gap = np.array([shapely.distance(shapes, shapely.Point(place)) for place in places])
    gap = gap.reshape(-1, len(zones))
    leg_cm = pits["loosened_at_leg_cm"].to_numpy(dtype=float)
    counted, near, about = gap.argmin(axis=1), [], about_hazard(pits, zones)
    own, said = counted.copy(), pits["part"].ne("").to_numpy()
    if "part_noted" in pits:  # a blank part is filled in from the map, which agrees with itself
        said = pits["part_noted"].to_numpy(dtype=bool)
    for i, row in enumerate(gap):
        beside = (row <= rule("edge_m")) & (depth != depth[counted[i]])
        if said[i]:
            beside &= _alike(shapes, places[i], noted[i])
        told = sorted({f"at {d:g} cm" if d else "lifted out" for d in depth[beside]})
        words = f"Within {rule('edge_m'):g} m of ground {', '.join(told)}." if told else ""
        of_part = _holding(shapes, places[i], noted[i]) & (depth != depth[counted[i]])
        at, leg = int(counted[i]), float(leg_cm[i])
        other = -1 if about[i] else _noted(zones, of_part, at, leg)
        if other < 0 and not about[i]:
            other = _driven(zones, beside, at, leg)
        if other >= 0:
            near_m = rule("edge_m" if beside[other] else "part_place_m")
            which = f" in the {pits['part'].iloc[i]} noted," if of_part[other] else ""
            nearer = abs(leg - depth[other]) < abs(leg - depth[at])
            why = " to whose depth it was loosened," if nearer else ""
            words = (
                f"Counted for the ground at {depth[other]:g} cm,{which} less than {near_m:g} m "
                f"away,{why} and not for that at {depth[at]:g} cm where its place falls."
            )
            counted[i] = other
        elif of_part.any():
            words = f"{words} Its place falls beside the {pits['part'].iloc[i]} noted.".lstrip()
        near.append(words)
    return Counted(names[counted], gap.min(axis=1, initial=np.inf), near, counted != own)


def _alike(shapes: Shapes, place: Floats, part: BaseGeometry | None) -> NDArray[np.bool_]:
    """Return the zones whose ground about a place in the part noted is mostly of that; else all.

    Note and place agree then, and a leg at the depth of the body ran shallow in a wheeling. The
    edges of zones follow the passes and cut slivers off a part.
    """
    spot = shapely.Point(place)
    if part is None or not part.covers(spot):
        return np.ones(len(shapes), dtype=bool)
    ground = shapely.intersection(shapes, spot.buffer(rule("edge_m")))
    own_m2 = shapely.area(shapely.intersection(ground, part))
    return np.asarray(2.0 * own_m2 > shapely.area(ground))


def _holding(shapes: Shapes, place: Floats, part: BaseGeometry | None) -> NDArray[np.bool_]:
    """Return which zones hold ground of the part that was noted at a place beside that part."""
    if part is None or part.covers(spot := shapely.Point(place)):
        return np.zeros(len(shapes), dtype=bool)
    about = part.intersection(spot.buffer(rule("part_place_m")))
    return np.asarray(shapely.area(shapely.intersection(shapes, about)) > 0.0)


def _noted(zones: gpd.GeoDataFrame, of_part: NDArray[np.bool_], own: int, leg_cm: float) -> int:
    """Return the row of the zone of the part noted beside the place, -1 where its own will do.

    Who dug knew what he stood in, so the part noted decides, unless the leg ran at the depth of the
    place: nearer to it by ``set_depth_tolerance_cm``. Free ground as of `_driven`.
    """
    off = np.abs(leg_cm - zones["depth_cm"].to_numpy(dtype=float))
    free = _free(zones)
    if not (of_part & free).any() or not free[own] or np.isnan(leg_cm):
        return -1
    other = int(np.argmin(np.where(of_part & free, off, np.inf)))
    return other if off[other] - off[own] < rule("set_depth_tolerance_cm") - SLACK else -1


def _free(zones: gpd.GeoDataFrame) -> NDArray[np.bool_]:
    return ((zones["depth_cm"] > 0) & ~zones["held"]).to_numpy(dtype=bool)


def by_map(
    pits: pd.DataFrame, ground: Counted, zones: gpd.GeoDataFrame, parts: gpd.GeoDataFrame | None
) -> pd.Series:
    """Return the part of each pit: of one with none noted that counts for ground beside, its own.

    That is the nearest part with ground in the zone that the pit counts for.

    Parameters
    ----------
    pits
        ``x_m, y_m, part``, and ``part_noted`` where a part may be that of the map.
    ground
        What each counts for.
    zones
        Those of `zoning.checks.bounded`.
    parts
        ``part`` and outline of each; ``None``: not known.
    """
    told = pits["part"].tolist()
    if parts is None or "part_noted" not in pits:
        return pits["part"]
    shapes = dict(zip(zones["zone"], zones.geometry, strict=True))
    outlines = parts.geometry.to_numpy()
    for i in np.flatnonzero(ground.moved & ~pits["part_noted"].to_numpy(dtype=bool)):
        spot = shapely.Point(pits["x_m"].iloc[i], pits["y_m"].iloc[i])
        within = shapely.intersection(outlines, shapes[ground.zone[i]])
        gap = np.where(shapely.area(within) > 0.0, shapely.distance(within, spot), np.inf)
        told[int(i)] = parts["part"].iloc[int(gap.argmin())]
    return pd.Series(told, index=pits.index, dtype=object)


def _driven(zones: gpd.GeoDataFrame, beside: NDArray[np.bool_], own: int, leg_cm: float) -> int:
    """Return the row of the zone beside whose depth the leg ran at, -1 where its own will do.

    Position alone cannot tell two zones apart so near their edge; a depth nearer to the leg by
    ``set_depth_tolerance_cm`` can, and by twice that where the leg ran off it too: a lesser gain
    may be of a leg that ran shallow. Ground that a hazard holds and ground lifted out keep their
    pits, and so does any ground about a hazard.
    """
    off = leg_cm - zones["depth_cm"].to_numpy(dtype=float)
    free, tape = _free(zones), rule("set_depth_tolerance_cm")
    other = int(np.argmin(np.where(beside & free, np.abs(off), np.inf)))
    least = tape if abs(off[other]) < tape else 2.0 * tape
    fit = beside[other] and free[other] and free[own]
    return other if fit and abs(off[own]) - abs(off[other]) >= least - SLACK else -1


def base_cells(
    pits: pd.DataFrame,
    planned: PlannedGround,
    within: gpd.GeoSeries,
    noted: Sequence[BaseGeometry | None],
) -> NDArray[np.int64]:
    """Return the cell that tells the base at each pit: the nearest with a prediction, flat index.

    Parameters
    ----------
    pits
        ``x_m, y_m``.
    planned
        The plan.
    within
        The zone that each pit counts for where that is not the one of its place, else none.
    noted
        As of `noted_parts`: the cell lies in that part.
    """
    known = np.flatnonzero(np.isfinite(planned.bands["pan_base_cm"].ravel()))
    centres = planned.grid.centres_m()[known]
    nearest = []
    for x_m, y_m, part, zone in zip(pits["x_m"], pits["y_m"], noted, within, strict=True):
        own, here = _inside(part, centres), _inside(zone, centres)
        best = next((one for one in (own & here, own, here) if one.any()), ~here)
        nearest.append(int(np.where(best, np.hypot(*(centres - (x_m, y_m)).T), np.inf).argmin()))
    return known[np.array(nearest, dtype=np.int64)]


def _inside(shape: BaseGeometry | None, xy_m: Floats) -> NDArray[np.bool_]:
    """Return which places lie in a shape; all of them without one."""
    if shape is None:
        return np.ones(len(xy_m), dtype=bool)
    return np.asarray(shapely.contains_xy(shape, xy_m[:, 0], xy_m[:, 1]))
