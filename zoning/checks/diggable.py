"""Where one could dig: well inside the ground of each depth, and what a pit there would tell."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from scipy.special import ndtr
from shapely.geometry.base import BaseGeometry

from zoning.checks.rules import rule
from zoning.model.check import PlannedGround

Floats = NDArray[np.float64]
Cells = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Where one could dig, one place a cell.

    Parameters
    ----------
    xy_m
        Shape ``(n, 2)`` [m].
    zone, depth_cm, part
        The zone there, its planned depth [cm] and the part of the field.
    worth
        Probability of a pan times how open it is whether it is passed between legs.
    chance
        Probability that no pan is left between legs.
    ridge_cm, ridge_from
        The ridge that both count with [cm], and what it rests on: ``pits``, ``trial_runs``,
        ``leg_spacing`` or ``assumed``.
    narrow
        Whether the ground is too narrow there to stand well inside.
    """

    xy_m: Floats
    zone: NDArray[np.int64]
    depth_cm: Floats
    part: NDArray[np.object_]
    worth: Floats
    chance: Floats
    ridge_cm: Floats
    ridge_from: NDArray[np.object_]
    narrow: NDArray[np.bool_]


def places_to_dig(
    planned: PlannedGround, parts: gpd.GeoDataFrame, ridge_cm: float, keep_off: BaseGeometry
) -> Places:
    """Return every cell of worked ground that lies well inside its zone.

    Parameters
    ----------
    planned
        The plan that was worked to. Its zones may hold ``expected_ridge_cm``, the ridge that the
        plan expects at their depth [cm], with ``expected_ridge_from`` (``trial_runs`` or
        ``leg_spacing``).
    parts
        ``part``, geometry: parts of the field.
    ridge_cm
        Mean ridge of the pits, NaN where none has shown one [cm].
    keep_off
        Ground about drains and services.

    Notes
    -----
    Where no pit has shown a ridge it is that of the plan; by leg spacing alone no less than
    ``ridge_even_cm``, which is also assumed where the plan knows none.
    """
    zones = planned.zones[planned.zones["depth_cm"] > 0]
    centres = planned.grid.centres_m()
    row = np.full(len(centres), -1, dtype=np.int64)
    narrow = np.zeros(len(centres), dtype=bool)
    for number, shape in enumerate(zones.geometry):
        held, gap_m = _well_inside(shapely.difference(shape, keep_off), centres)
        row[held], narrow[held] = number, gap_m < rule("dig_inside_m")
    mean, sd, pan = (
        planned.bands[name].ravel() for name in ("pan_base_cm", "pan_base_sd_cm", "pan_probability")
    )
    fit = (row >= 0) & np.isfinite(mean)
    own = row[fit]
    depth = zones["depth_cm"].to_numpy(dtype=float)[own]
    taken_cm, taken_from = _ridges(zones, ridge_cm)
    spread = np.hypot(sd, rule("depth_read_sd_cm"))[fit]
    open_to = ndtr((depth - taken_cm[own] - mean[fit]) / spread)
    return Places(
        xy_m=centres[fit],
        zone=zones["zone"].to_numpy(dtype=np.int64)[own],
        depth_cm=depth,
        part=_part_at(centres[fit], parts),
        worth=np.round(pan[fit] * 4.0 * open_to * (1.0 - open_to), 3),
        chance=1.0 - pan[fit] * (1.0 - open_to),
        ridge_cm=taken_cm[own],
        ridge_from=taken_from[own],
        narrow=narrow[fit],
    )


def _ridges(zones: gpd.GeoDataFrame, ridge_cm: float) -> tuple[Floats, NDArray[np.object_]]:
    """Return the ridge to take in each zone [cm] and what it rests on."""
    taken = np.full(len(zones), ridge_cm)
    rests = np.full(len(zones), "pits", dtype=object)
    if np.isfinite(ridge_cm):
        return taken, rests
    even_cm = rule("ridge_even_cm")
    taken[:], rests[:] = even_cm, "assumed"
    if "expected_ridge_cm" in zones:
        expected = zones["expected_ridge_cm"].to_numpy(dtype=float)
        named = zones["expected_ridge_from"].to_numpy(dtype=object)
        known = np.isfinite(expected) & ((named != "leg_spacing") | (expected > even_cm))
        taken[known], rests[known] = expected[known], named[known]
    return taken, rests


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


def roomy(places: Places, free: Cells, waiting: Collection[str]) -> Cells:
    """Return those of the `free` places of a depth that are not too narrow to stand well inside.

    A place there could lie beside its ground. So such places are left only where no other is, or
    where a part that the verdict on the depth is `waiting` for has no other.
    """
    narrow = places.narrow[free]
    bare = set(waiting) - set(places.part[free[~narrow]])
    kept = ~narrow | np.isin(places.part[free].astype(str), list(bare))
    return free[kept] if kept.any() else free


def part_due(
    places: Places, ground: Cells, free: Cells, had: Mapping[str, int], waiting: Collection[str]
) -> str:
    """Return the part with a free place whose share of the ground has the fewest pits.

    Parameters
    ----------
    places
        Where one could dig.
    ground, free
        Rows of all places of the depth, and of those to choose from.
    had
        How many pits and places to dig each part has at the depth.
    waiting
        The parts that the verdict on the depth waits for: they come first.
    """
    names, cells = np.unique(places.part[ground].astype(str), return_counts=True)
    room = set(places.part[free])
    due = [
        (name in waiting, count / (2 * had.get(name, 0) + 1), name)
        for name, count in zip(names.tolist(), cells.tolist(), strict=True)
        if name in room
    ]
    return str(max(due)[2])
