"""Ground that a hazard keeps shallow although it does not reach there itself.

Over a hazard a pass is worked less deep, and no depth lasts less than the shortest run: the shallow
stretch may go on beside the hazard, over ground that the hazard would leave free.
"""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from zoning.contracts import constant, deepest_cm
from zoning.depths import DepthChoice, Places
from zoning.model import Notice, PanSurface, Settings
from zoning.model.names import in_numbers
from zoning.outputs.drawing.plan import tagged_hazards
from zoning.units import hectares
from zoning.workflow.disagree import named

Floats = NDArray[np.float64]
Geometries = NDArray[Any]
Ints = NDArray[np.int64]

_LIFTED = " (legs lifted)"
_CHECK = "check_rules"


def held_by(
    stations: pd.DataFrame,
    piece: Ints,
    pieces: gpd.GeoDataFrame,
    choice: DepthChoice,
    hazards: gpd.GeoDataFrame,
    *,
    min_run_m: float,
) -> list[str]:
    """Return the hazard beside which each station is held up, with its tag on the map, else "".

    A hazard holds up what lies within the shortest run of it, on the run that it makes shallow,
    where a depth of this plan would go deeper there and the hazard itself would not forbid it.

    Parameters
    ----------
    stations
        ``x_m, y_m, pan_base_cm``.
    piece
        Row of `pieces` that each station stands in.
    pieces
        ``pass_id, step, from_m, to_m``, one row a piece.
    choice
        Depth and cap of each piece.
    hazards
        ``kind, name, depth_cm, clear_m`` and geometry [m, working CRS].
    min_run_m
        Shortest run [m].
    """
    near_cap = _cap_near(pieces, choice, min_run_m)[piece]
    used, depth = choice.levels_cm, choice.depth_cm[piece]
    base = stations["pan_base_cm"].to_numpy(dtype=np.float64)
    needed = np.minimum(base, choice.cap_cm[piece])
    level = np.append(used, np.inf)[np.searchsorted(used, base)]
    asked = np.minimum(level, choice.cap_cm[piece])
    settings = [np.searchsorted(used, cm, side="right") for cm in (depth, near_cap)]
    deeper = np.searchsorted(used, choice.cap_cm[piece], side="right") > settings[0]
    held = (near_cap < needed) & deeper & (settings[1] <= settings[0])
    beside = np.full(len(stations), "", dtype=object)
    if held.any():
        xy = stations[["x_m", "y_m"]].to_numpy(dtype=np.float64)[held]
        beside[held] = _nearest(shapely.points(xy), hazards, near_cap[held], asked[held])
    return [str(name) for name in beside]


def held_up(
    zones: pd.DataFrame,
    piece_zone: Ints,
    pieces: gpd.GeoDataFrame,
    choice: DepthChoice,
    settings: Settings,
) -> frozenset[int]:
    """Return the zones that a hazard holds up, by number: nobody is sent deeper or to dig there.

    Of worked ground those where on ``held_share_least`` or more a hazard, no farther than the
    shortest run, forbids the next setting of the machine, and the plan passes the pan less surely
    than ``held_assurance_least``; of lifted ground those over a hazard that allows some depth, but
    none so shallow as this plan has.

    Parameters
    ----------
    zones
        ``zone, depth_cm, assurance``.
    piece_zone, pieces, choice
        Zone of each piece, and the pieces and depths as `held_by` takes them.
    settings
        Settings of the machine and shortest run.
    """
    depth, cap = choice.depth_cm, choice.cap_cm
    near = _cap_near(pieces, choice, settings.depth.min_run_m)
    held = (near <= depth) & (depth > 0) & (depth < settings.machine.settings_cm[-1])
    area = shapely.area(pieces.geometry.to_numpy())
    total = np.maximum(np.bincount(piece_zone, area), 1e-9)
    most = np.bincount(piece_zone, area * held) / total >= constant(_CHECK, "held_share_least")
    missed = zones["assurance"] < constant(_CHECK, "held_assurance_least")
    worked = zones.loc[missed & (zones["depth_cm"] > 0) & most[zones["zone"]], "zone"]
    lifted = np.unique(piece_zone[choice.barred & (cap > 0) & (depth <= 0)])
    return frozenset(int(zone) for zone in (*worked, *lifted))


def beside_notices(
    places: Places,
    pan: PanSurface,
    pieces: gpd.GeoDataFrame,
    choice: DepthChoice,
    hazards: gpd.GeoDataFrame,
    *,
    width_m: float,
    min_run_m: float,
    ridge_cm: float,
) -> tuple[Notice, ...]:
    """Return a note on how far the shortest run draws shallow work out beside the hazards.

    Counted is ground with a likely pan whose work stays above the mean base of it, between legs if
    trial runs tell that, though the keep-off itself would let the work go deeper there.

    Parameters
    ----------
    places, pan
        Ground of each part in each piece, and the pan there.
    pieces, choice, hazards
        As `held_by` takes them.
    width_m, min_run_m
        Working width and shortest run [m].
    ridge_cm
        The ridge between legs of trial runs that the depths hold; 0 without [cm].
    """
    likely = pan.pan_probability > constant("plan_rules", "presence_unsure_high")
    needed_cm = pan.base_mean_cm + ridge_cm
    rows = np.flatnonzero(likely & (needed_cm > choice.depth_cm[places.piece]))
    ground = pd.DataFrame(places.xy_m[rows], columns=["x_m", "y_m"])
    ground["pan_base_cm"] = needed_cm[rows]
    piece = places.piece[rows]
    beside = held_by(ground, piece, pieces, choice, hazards, min_run_m=min_run_m)
    out = np.where(choice.depth_cm[places.piece[rows]] > 0, "", _LIFTED)
    where = np.array([name and f"{name}{up}" for name, up in zip(beside, out, strict=True)], object)
    seen = pd.DataFrame({"where": where, "piece": places.piece[rows], "m2": places.area_m2[rows]})
    area_m2 = seen[seen["where"] != ""].groupby(["where", "piece"])["m2"].sum()
    area_m2 = area_m2[area_m2 >= width_m].groupby("where").sum()  # less than a metre is not seen
    if area_m2.empty:
        return ()
    names = sorted(area_m2.index, key=in_numbers)
    told = [f"{name} {area_m2[name] / width_m:.0f} m" for name in names]
    stays = ", between legs at least," if ridge_cm else ","
    text = (
        "Beside hazards the shallow work or the lift goes on for longer than they ask, so far "
        f"along the passes: {named(told)}. A likely pan stays there{stays} on "
        f"{hectares(float(area_m2.sum()))}. A shorter min_run_m than {min_run_m:g} m brings the "
        "deeper work nearer, never over the hazard."
    )
    return (Notice("note", "shallow-beside-hazards", text),)


def _cap_near(pieces: gpd.GeoDataFrame, choice: DepthChoice, min_run_m: float) -> Floats:
    """Return the least cap of each piece and of those of its run within `min_run_m` of it [cm]."""
    columns = ("pass_id", "step", "from_m", "to_m")
    pass_id, step, start, end = (pieces[name].to_numpy() for name in columns)
    cap_cm, depth_cm = np.asarray(choice.cap_cm, dtype=np.float64), choice.depth_cm
    order = np.lexsort((step, pass_id))
    begins = np.diff(pass_id[order]).astype(bool) | np.diff(depth_cm[order]).astype(bool)
    near = cap_cm.copy()
    for run in np.split(order, np.flatnonzero(begins) + 1):
        caps = cap_cm[run]
        if caps.min() < caps.max():
            apart = np.maximum(start[run, None] - end[run], start[run] - end[run, None])
            near[run] = np.where(apart < min_run_m, caps, np.inf).min(axis=1)
    return near


def _nearest(
    places: Geometries, hazards: gpd.GeoDataFrame, least_cm: Floats, most_cm: Floats
) -> list[str]:
    """Return the nearest hazard to each place that allows `least_cm` and less than `most_cm`."""
    tagged = sorted(tagged_hazards(hazards), key=lambda hazard: f"{hazard.tag} {hazard.kind}")
    kinds, covers = np.array([h.kind for h in tagged]), np.array([h.depth_cm for h in tagged])
    allowed = deepest_cm(kinds, covers.astype(np.float64))[:, None]
    shapes = np.array([hazard.geometry for hazard in tagged], dtype=object)
    away_m = np.round(shapely.distance(shapes[:, None], places), 3)
    away_m = np.where((least_cm <= allowed) & (allowed < most_cm), away_m, np.inf)
    names = [f"{hazard.tag} {hazard.kind}" for hazard in tagged]
    return [
        names[i] if np.isfinite(away) else ""
        for i, away in zip(away_m.argmin(axis=0), away_m.min(axis=0), strict=True)
    ]
