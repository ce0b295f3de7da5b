"""Where the straight passes lie sideways: the place that costs least.

A wheeling that falls inside one pass costs one pass its extra depth; one that lies across the edge
of two costs both. So the grid of passes is tried at a number of places across one working width,
each judged by the cheapest sequences along its passes.
"""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon

from zoning.contracts import constant
from zoning.depths.chain import Driver
from zoning.depths.lanes import Chains
from zoning.depths.lay import body_area, heading_frame
from zoning.depths.levels import allowed_options, choose_levels, depth_options
from zoning.depths.loss import expected_loss
from zoning.depths.steps import change_charge
from zoning.model import PanSurface, Settings
from zoning.model.settings import DepthSection

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """The cells that straight passes will cover, in the frame of the heading.

    Parameters
    ----------
    along_m, across_m
        Place of each cell along the heading and to the right of it, shape ``(n,)`` [m].
    cost
        Loss times area of each option at each cell, shape ``(n, k)`` [cm m2].
    cap_cm
        Greatest depth that the hazards allow at each cell, infinite for none, shape ``(n,)`` [cm].
    options_cm
        The options, 0 first, shape ``(k,)`` [cm].
    """

    along_m: Floats
    across_m: Floats
    cost: Floats
    cap_cm: Floats
    options_cm: Floats


def best_offset(
    boundary: MultiPolygon,
    cells_xy_m: Floats,
    surface: PanSurface,
    settings: Settings,
    *,
    heading_deg: float,
    hazard_zones: gpd.GeoDataFrame | None = None,
) -> float:
    """Return how far the edge of a straight pass lies to the right of the centroid [m].

    Parameters
    ----------
    boundary
        Outline of the field [m, working CRS].
    cells_xy_m
        Centres of cells of one size, shape ``(n, 2)`` [m].
    surface
        The pan at the cells.
    settings
        Settings of the field.
    heading_deg
        Direction of the straight passes, clockwise from grid north [degrees].
    hazard_zones
        Keep-off polygons with ``cap_cm``.

    Returns
    -------
    float
        In ``[0, width)``: what `zoning.depths.lay.lay_passes` takes as ``offset_m``.
    """
    depth, areas, machine = settings.depth, settings.areas, settings.machine
    body = body_area(
        boundary,
        machine.width_m,
        areas.headland_width_m,
        round_obstacles=areas.headland_round_obstacles,
    )
    shapely.prepare(body)
    inside = shapely.contains_xy(body, cells_xy_m)
    options = depth_options(machine, lift_out=True)
    loss = expected_loss(
        _at(surface, inside), options, clearance_cm=depth.clearance_cm, assurance=depth.assurance
    )
    frame, xy_m = heading_frame(boundary, heading_deg), cells_xy_m[inside]
    cell_m2 = shapely.area(boundary) / max(1, len(cells_xy_m))
    caps = _caps_at(xy_m, cell_m2**0.5 / 2.0, hazard_zones)
    ground = Ground(*frame.along_across(xy_m), loss * cell_m2, caps, options)
    return cheapest_offset(ground, settings)


def cheapest_offset(ground: Ground, settings: Settings) -> float:
    """Return the cheapest place of the pass grid, in ``[0, width)`` [m].

    A cell lies in pass ``floor((across - offset) / width)``. `offsets_tried` places are compared;
    of those that cost the same (`same_offset_share`) the smallest is taken. The depths are the best
    few for cells free of passes; a piece takes the least cap of its cells.
    """
    if len(ground.along_m) == 0:
        return 0.0
    count = int(constant("depth_rules", "offsets_tried"))
    offsets = settings.machine.width_m * np.arange(count) / count
    columns = _levels(ground, settings.depth)
    cost = np.array([offset_cost(ground, settings, columns, float(x)) for x in offsets])
    least = cost.min()
    same = constant("depth_rules", "same_offset_share")
    return float(offsets[_middle(cost <= least + same * abs(least))])


def _middle(equal: NDArray[np.bool_]) -> int:
    """Return the middle of the longest stretch of `equal` places round the circle; 0 for all."""
    count = len(equal)
    if equal.all():
        return 0
    best = (0, 0)  # longest stretch, and less its beginning: the first of equals
    for start in np.flatnonzero(equal & ~np.roll(equal, 1)):
        length = int(np.argmin(np.roll(equal, -start)))
        best = max(best, (length, -int(start)))
    return (-best[1] + (best[0] - 1) // 2) % count


def offset_cost(ground: Ground, settings: Settings, columns: Ints, offset_m: float) -> float:
    """Return the cost of the cheapest sequences with the passes at one place [cm m2].

    Parameters
    ----------
    ground
        The cells.
    settings
        Settings of the field.
    columns
        Options that may be used, option 0 first.
    offset_m
        Place of the edge of a pass [m].
    """
    depth, width_m = settings.depth, settings.machine.width_m
    step_m = constant("depth_rules", "offset_step_m")
    code, row = _pieces(ground, width_m, step_m, offset_m)
    cost = np.column_stack(
        [np.bincount(row, ground.cost[:, column], minlength=len(code)) for column in columns]
    )
    cap = np.full(len(code), np.inf)
    np.minimum.at(cap, row, ground.cap_cm)
    allowed = allowed_options(ground.options_cm, cap, lift_out=depth.lift_out)[:, columns]
    ends = np.flatnonzero(np.r_[True, np.diff(code) > 1, True]).astype(np.int64)
    open_ended = np.zeros(len(ends) - 1, dtype=np.bool_)
    driver = Driver(
        Chains(ends, np.full(len(code), step_m), open_ended),
        np.where(allowed, cost, np.inf),
        min_run_m=depth.min_run_m,
        change_charge=change_charge(settings),
    )
    return float(driver.objective(np.arange(len(columns)))[0])


def _pieces(ground: Ground, width_m: float, step_m: float, offset_m: float) -> tuple[Ints, Ints]:
    """Return a code for each step, rising by 1 along a pass, and the step of each cell."""
    strip = np.floor((ground.across_m - offset_m) / width_m).astype(np.int64)
    step = np.floor(ground.along_m / step_m).astype(np.int64)
    step -= step.min()
    span = int(step.max()) + 2  # one step of room, so the end of a pass does not join the next
    code, row = np.unique((strip - strip.min()) * span + step, return_inverse=True)
    return code, row


def _levels(ground: Ground, depth: DepthSection) -> Ints:
    """Return the columns of the best few depths for cells free of passes, 0 first.

    Where a cap is lower than all of them the deepest setting within the lowest cap joins them.
    """
    start, options = int(not depth.lift_out), ground.options_cm
    levels = choose_levels(ground.cost[:, start:], options[start:], max_depths=depth.max_depths)
    columns = np.append(0, np.searchsorted(options, levels))
    lowest = ground.cap_cm[ground.cap_cm >= options[1]].min(initial=np.inf)
    if len(levels) == 0 or lowest < levels[0]:
        columns = np.append(columns, max(1, np.searchsorted(options, lowest, side="right") - 1))
    return np.unique(columns)


def _at(surface: PanSurface, where: NDArray[np.bool_]) -> PanSurface:
    return PanSurface(
        surface.base_mean_cm[where],
        surface.base_sd_cm[where],
        surface.pan_probability[where],
        surface.stations_near[where],
        surface.report,
    )


def _caps_at(xy_m: Floats, reach_m: float, hazard_zones: gpd.GeoDataFrame | None) -> Floats:
    """Return the least cap of the keep-off polygons within `reach_m` of each place [cm]."""
    caps = np.full(len(xy_m), np.inf)
    if len(xy_m) and hazard_zones is not None and len(hazard_zones):
        tree = shapely.STRtree(np.asarray(shapely.points(xy_m)))
        polygons = hazard_zones.geometry.to_numpy()
        zone, place = tree.query(polygons, predicate="dwithin", distance=reach_m)
        np.minimum.at(caps, place, hazard_zones["cap_cm"].to_numpy(dtype=np.float64)[zone])
    return caps
