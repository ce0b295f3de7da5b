"""Where to dig next: spread over the ground whose verdict is open, and where in it is in doubt.

The share of the ground that is passed is judged as if its pits were drawn at random (`intervals`).
So places are spread first, over depths, parts and sides, and only then lean to where it is most
open whether the pan is gone: pits dug there alone would draw the share towards one half, whatever
it is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from scipy.special import ndtr
from shapely.geometry.base import BaseGeometry

from zoning.checks.rules import rule
from zoning.model.check import PlannedGround

Floats = NDArray[np.float64]
COLUMNS = ("order", "zone", "depth_cm", "x_m", "y_m", "reason", "chance_between")


@dataclass(frozen=True, slots=True, eq=False)
class _Places:
    """Where one could dig, one place a cell: what a pit there would tell, whether it has room."""

    xy_m: Floats
    zone: NDArray[np.int64]
    depth_cm: Floats
    part: NDArray[np.object_]
    worth: Floats
    chance: Floats
    narrow: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class _Spot:
    """A pit that was dug, or a place chosen to dig."""

    zone: int
    depth_cm: float
    x_m: float
    y_m: float
    part: str
    reason: str = ""
    chance_between: float = np.nan


def dig_next(
    planned: PlannedGround,
    groups: pd.DataFrame,
    pits: pd.DataFrame,
    probes: pd.DataFrame,
    *,
    parts: gpd.GeoDataFrame,
    ridge_cm: float,
    keep_off: BaseGeometry,
) -> gpd.GeoDataFrame:
    """Return places to dig next, in the order to dig them, no more than ``dig_most``.

    Parameters
    ----------
    planned
        The plan that was worked to.
    groups
        Rows of `zoning.checks.judge_groups`: ``more_pits`` of each depth is shared out.
    pits
        Rows of `zoning.checks.judge_pits`: no place is named within ``dig_apart_m`` of one.
    probes
        Cone stations of after the work: those that still meet a pan come first.
    parts
        ``part``, geometry: parts of the field.
    ridge_cm
        Ridge to expect between legs, NaN where not known [cm].
    keep_off
        Ground about drains and services, where nobody is sent to dig.

    Returns
    -------
    GeoDataFrame
        ``order, zone, depth_cm, x_m, y_m, reason`` and ``chance_between``: how likely, by the plan,
        the pan is passed between legs there; NaN at a cone station.

    Notes
    -----
    Depths take turns. Within one, each place goes to the part with the largest
    ``area / (2 n + 1)``, `n` its pits and places so far (the divisors of Sainte-Laguë, which share
    out by area; from memory), and there to where ``nearer * (1 + w worth)`` is largest. `nearer`
    is by how much a pit there shortens the mean way from that ground to its nearest pit or place,
    one at another depth counting as ``dig_other_depth`` times as far (spatial coverage sampling:
    Brus, de Gruijter and van Groenigen, Developments in Soil Science 31, 2006, 183-192, from
    memory); ``worth = p * 4 q (1 - q)`` is the probability of a pan times how open it is whether
    the ground between legs passes its base, ``q = Phi((depth - ridge - base) / sd)``; `w` is
    ``dig_doubt_weight``.
    """
    places = _places(planned, parts, ridge_cm, keep_off)
    dug = [_spot(pit) for pit in pits.to_dict("records")]
    chosen = _contradicting(probes, dug, keep_off)
    wanted = _wanted(groups)
    while len(chosen) < rule("dig_most") and any(wanted.values()):
        for depth in [depth for depth, more in wanted.items() if more > 0]:
            found = _best(places, depth, dug, chosen)
            wanted[depth] = wanted[depth] - 1 if found else 0
            if found and len(chosen) < rule("dig_most"):
                chosen.append(found)
    rows = [(s.zone, s.depth_cm, s.x_m, s.y_m, s.reason, s.chance_between) for s in chosen]
    frame = pd.DataFrame(rows, columns=list(COLUMNS[1:]))
    frame.insert(0, "order", np.arange(1, len(frame) + 1))
    shape = gpd.points_from_xy(frame["x_m"], frame["y_m"])
    return gpd.GeoDataFrame(frame, geometry=shape, crs=planned.working_crs)


def _spot(row: Mapping[Any, Any], reason: str = "") -> _Spot:
    depth, x, y = (float(row[name]) for name in ("depth_cm", "x_m", "y_m"))
    return _Spot(int(row["zone"]), depth, x, y, str(row["part"]), reason)


def _wanted(groups: pd.DataFrame) -> dict[float, int]:
    """Return how many more pits each depth asks for, the largest ground first."""
    own = groups[groups["group"] == "depth"].sort_values(
        ["area_ha", "name"], ascending=False, kind="stable"
    )
    return {
        float(str(row["name"]).removesuffix(" cm")): max(0, int(row["more_pits"]))
        for row in own.to_dict("records")
    }


def _contradicting(
    probes: pd.DataFrame, dug: Sequence[_Spot], keep_off: BaseGeometry
) -> list[_Spot]:
    """Return the cone stations that still meet a pan and have no pit beside them."""
    still = probes[
        (probes["n_known"] > 0) & (probes["verdict"] != "no_pan") & (probes["depth_cm"] > 0)
    ]
    found: list[_Spot] = []
    for probe in still.sort_values("station", kind="stable").to_dict("records"):
        spot = _spot(probe, f"The cone still meets a pan at station {probe['station']}.")
        place = np.array([[spot.x_m, spot.y_m]])
        clear = _gap_m(place, dug)[0] > rule("pair_place_m")
        apart = _gap_m(place, found)[0] >= rule("dig_apart_m")
        off = shapely.intersects_xy(keep_off, spot.x_m, spot.y_m)
        if clear and apart and not off and len(found) < rule("dig_probes_most"):
            found.append(spot)
    return found


def _gap_m(xy_m: Floats, spots: Sequence[_Spot]) -> Floats:
    """Return how far each place is from the nearest spot; infinite without any."""
    gap = np.full(len(xy_m), np.inf)
    for spot in spots:
        np.minimum(gap, np.hypot(*(xy_m - [spot.x_m, spot.y_m]).T), out=gap)
    return gap


def _places(
    planned: PlannedGround, parts: gpd.GeoDataFrame, ridge_cm: float, keep_off: BaseGeometry
) -> _Places:
    zones = planned.zones[planned.zones["depth_cm"] > 0]
    centres = planned.grid.centres_m()
    mean, sd, pan = (
        planned.bands[name].ravel() for name in ("pan_base_cm", "pan_base_sd_cm", "pan_probability")
    )
    zone = np.full(len(centres), -1, dtype=np.int64)
    depth = np.full(len(centres), np.nan)
    narrow = np.zeros(len(centres), dtype=bool)
    facts = (zones["zone"].tolist(), zones["depth_cm"].tolist(), zones.geometry.tolist())
    for name, planned_cm, shape in zip(*facts, strict=True):
        held, gap_m = _well_inside(shapely.difference(shape, keep_off), centres)
        zone[held], depth[held], narrow[held] = name, planned_cm, gap_m < rule("dig_inside_m")
    fit = (zone >= 0) & np.isfinite(mean)
    lost = ridge_cm if np.isfinite(ridge_cm) else rule("ridge_even_cm")
    open_to = ndtr((depth - lost - mean) / np.hypot(sd, rule("depth_read_sd_cm")))[fit]
    worth = np.round(pan[fit] * 4.0 * open_to * (1.0 - open_to), 3)
    chance = 1.0 - pan[fit] * (1.0 - open_to)
    part = _part_at(centres[fit], parts)
    return _Places(centres[fit], zone[fit], depth[fit], part, worth, chance, narrow[fit])


def _part_at(xy_m: Floats, parts: gpd.GeoDataFrame) -> NDArray[np.object_]:
    found = np.full(len(xy_m), "", dtype=object)
    for name, shape in zip(parts["part"], parts.geometry, strict=True):
        found[shapely.contains_xy(shape, xy_m[:, 0], xy_m[:, 1])] = str(name)
    return found


def _well_inside(ground: BaseGeometry, centres: Floats) -> tuple[NDArray[np.int64], Floats]:
    """Return the cells far from the edge of a zone's ground, and how far each lies from it [m].

    Far is ``dig_well_inside_m``; where the zone is narrower, ``dig_inside_share`` of the farthest
    within that distance, so that its narrow arms have places in their middle.
    """
    shapely.prepare(ground)
    held = np.flatnonzero(shapely.contains_xy(ground, centres[:, 0], centres[:, 1]))
    if not len(held):
        return held, np.empty(0)
    reach_m, share = rule("dig_well_inside_m"), rule("dig_inside_share")
    gap_m = np.asarray(shapely.distance(shapely.points(centres[held]), ground.boundary))
    about = cKDTree(centres[held]).query_ball_point(centres[held], reach_m)
    farthest_m = np.array([gap_m[near].max() for near in about])
    far = gap_m >= np.minimum(reach_m, share * farthest_m)
    return held[far], gap_m[far]


def _best(
    places: _Places, depth_cm: float, dug: Sequence[_Spot], chosen: Sequence[_Spot]
) -> _Spot | None:
    """Return the free place at a depth that serves best: of equals the north-western one.

    Ground too narrow to stand well inside comes last: a place could lie beside it.
    """
    spots = [*dug, *chosen]
    ground = np.flatnonzero(places.depth_cm == depth_cm)
    free = ground[_gap_m(places.xy_m[ground], spots) >= rule("dig_apart_m")]
    free = free[~places.narrow[free]] if not places.narrow[free].all() else free
    if not len(free):
        return None
    part = _part_due(places, ground, free, [s for s in spots if s.depth_cm == depth_cm])
    held = _thinned(free[places.part[free] == part], "dig_places_most")
    own = _thinned(ground[places.part[ground] == part], "dig_ground_most")
    nearer = _nearer_m(places.xy_m[held], places.xy_m[own], _way_m(places, own, depth_cm, spots))
    score = np.round(nearer * (1.0 + rule("dig_doubt_weight") * places.worth[held]), 2)
    x, y = places.xy_m[held].T
    first = held[np.lexsort([x, -y, -score])[0]]
    near_m = float(_gap_m(places.xy_m[[first]], dug)[0])
    x_m, y_m = map(float, places.xy_m[first])
    reason, chance = _reason(part, near_m), round(float(places.chance[first]), 2)
    return _Spot(int(places.zone[first]), depth_cm, x_m, y_m, part, reason, chance)


def _thinned(held: NDArray[np.int64], most: str) -> NDArray[np.int64]:
    """Return no more than rule `most` of the places, evenly taken."""
    count = min(len(held), int(rule(most)))
    return held[np.linspace(0, len(held) - 1, count).astype(np.int64)]


def _way_m(
    places: _Places, own: NDArray[np.int64], depth_cm: float, spots: Sequence[_Spot]
) -> Floats:
    """Return the way from each place of `own` to its nearest spot, at most across all ground."""
    xy = places.xy_m[own]
    same = _gap_m(xy, [spot for spot in spots if spot.depth_cm == depth_cm])
    other = _gap_m(xy, [spot for spot in spots if spot.depth_cm != depth_cm])
    across = float(np.hypot(*np.ptp(places.xy_m, axis=0)))
    return np.fmin(across, np.fmin(same, rule("dig_other_depth") * other))


def _nearer_m(xy_m: Floats, ground_m: Floats, way_m: Floats) -> Floats:
    """Return by how much a pit at each place shortens the mean way from the ground."""
    saved = [np.maximum(way_m - np.hypot(*(ground_m - place).T), 0.0).mean() for place in xy_m]
    return np.array(saved)


def _part_due(
    places: _Places, ground: NDArray[np.int64], free: NDArray[np.int64], spots: Sequence[_Spot]
) -> str:
    """Return the part with a free place whose share of the ground has the fewest pits."""
    names, cells = np.unique(places.part[ground].astype(str), return_counts=True)
    held = [sum(spot.part == name for spot in spots) for name in names]
    room = set(places.part[free])
    due = [
        (count / (2 * had + 1), str(name))
        for name, count, had in zip(names, cells, held, strict=True)
        if name in room
    ]
    return max(due)[1]


def _reason(part: str, near_m: float) -> str:
    """Say why a place is worth a pit: its part, and how far pits are."""
    far = f"no pit within {near_m:.0f} m" if np.isfinite(near_m) else "no pit yet"
    return f"{part.capitalize()}: {far}." if part else f"{far.capitalize()}."
