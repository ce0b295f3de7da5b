"""Where the straight passes lie sideways: the place that costs least.

A wheeling that falls inside one pass costs one pass its extra depth; one that lies across the edge
of two costs both. So the grid of passes is tried at a number of places across one working width,
each judged by the cheapest sequences along its passes. The ground is weighed in slips: as long as a
step, and so narrow that the edges of the passes fall between slips wherever they are tried. What
each part of the field has of a slip is exact; the pan is taken at the middle of a block of slips.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant
from zoning.depths.chain import Driver
from zoning.depths.coverage import Lattice
from zoning.depths.lanes import Chains
from zoning.depths.lay import body_area, heading_frame
from zoning.depths.levels import allowed_options, choose_levels, depth_options
from zoning.depths.loss import expected_loss
from zoning.depths.places import Predict, sound
from zoning.depths.steps import change_charge
from zoning.grid import HeadingFrame
from zoning.model import PanSurface, Settings
from zoning.model.settings import DepthSection

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
_PartPan = Callable[[Floats, Floats, Ints], PanSurface]


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """The slips that straight passes will cover, in the frame of the heading.

    Parameters
    ----------
    first
        Number of the first column of slips; column 0 begins at the centroid.
    cost
        Loss times area of each option on each slip, shape ``(columns, steps, k)`` [cm m2].
    area_m2
        Ground in each slip, shape ``(columns, steps)`` [m2].
    cap_cm
        Greatest depth that the hazards allow there, infinite for none, shape ``(columns, steps)``
        [cm].
    options_cm
        The options, 0 first, shape ``(k,)`` [cm].
    """

    first: int
    cost: Floats
    area_m2: Floats
    cap_cm: Floats
    options_cm: Floats

    def strips(self, across: int, place: int) -> Ground:
        """Return the ground of passes `across` slips wide whose edges lie `place` slips aside."""
        before = (self.first - place) % across
        after = -(before + len(self.cost)) % across

        def by_strip(values: Floats, fill: float) -> Floats:
            room = [(before, after), *[(0, 0)] * (values.ndim - 1)]
            wide = np.pad(values, room, constant_values=fill)
            return wide.reshape(-1, across, *values.shape[1:])

        return Ground(
            0,
            by_strip(self.cost, 0.0).sum(axis=1),
            by_strip(self.area_m2, 0.0).sum(axis=1),
            by_strip(self.cap_cm, np.inf).min(axis=1),
            self.options_cm,
        )


def best_offset(
    boundary: MultiPolygon,
    parts: gpd.GeoDataFrame,
    predict: Predict,
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
    parts
        Parts of the field, with ``part`` and geometry.
    predict
        Called with places, shape ``(n, 2)`` [m], and the part of each; returns the pan there.
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
    areas, machine = settings.areas, settings.machine
    body = body_area(
        boundary,
        machine.width_m,
        areas.headland_width_m,
        round_obstacles=areas.headland_round_obstacles,
    )
    if body.is_empty:
        return 0.0
    frame = heading_frame(boundary, heading_deg)
    inside = shapely.transform(body, frame.inward)
    lattice = Lattice.over(
        inside, machine.width_m / _tried(), constant("depth_rules", "offset_step_m")
    )
    held = shapely.intersection(sound(parts.geometry.to_numpy()), body)
    areas_m2 = np.stack([lattice.areas_m2(shapely.transform(one, frame.inward)) for one in held])
    caps = _caps(lattice, body, frame, hazard_zones)
    ground = _weighed(lattice, areas_m2, caps, settings, _at(frame, parts, predict))
    return cheapest_offset(ground, settings)


def cheapest_offset(ground: Ground, settings: Settings) -> float:
    """Return the cheapest place of the pass grid, in ``[0, width)`` [m].

    `offsets_tried` places are compared, a slip apart; of those that cost the same
    (`same_offset_share`) the middle one of the longest stretch is taken. A step of a pass takes the
    least cap of its slips.
    """
    cost = np.array([offset_cost(ground, settings, place) for place in range(_tried())])
    least = cost.min()
    same = constant("depth_rules", "same_offset_share")
    middle = _middle(cost <= least + same * abs(least))
    return settings.machine.width_m * middle / _tried()


def offset_cost(ground: Ground, settings: Settings, place: int) -> float:
    """Return the cost of the cheapest sequences with the passes at one place [cm m2].

    Parameters
    ----------
    ground
        The slips.
    settings
        Settings of the field.
    place
        Slips from the centroid to the edge of a pass.
    """
    strips = ground.strips(_tried(), place)
    held = strips.area_m2 > constant("depth_rules", "least_slip_share") * ground.area_m2.max()
    steps = np.flatnonzero(held)
    if len(steps) == 0:
        return 0.0
    cost = strips.cost.reshape(-1, len(ground.options_cm))[steps]
    caps = strips.cap_cm.ravel()[steps]
    allowed = allowed_options(ground.options_cm, caps, lift_out=settings.depth.lift_out)
    strip, step = np.divmod(steps, held.shape[1])
    apart = (np.diff(strip) != 0) | (np.diff(step) > 1)
    ends = np.flatnonzero(np.r_[True, apart, True]).astype(np.int64)
    driver = Driver(
        Chains(
            ends,
            np.full(len(steps), constant("depth_rules", "offset_step_m")),
            np.zeros(len(ends) - 1, dtype=np.bool_),
        ),
        np.where(allowed, cost, np.inf),
        min_run_m=settings.depth.min_run_m,
        change_charge=change_charge(settings),
    )
    return float(driver.objective(np.arange(len(ground.options_cm)))[0])


def _tried() -> int:
    return int(constant("depth_rules", "offsets_tried"))


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


def _at(frame: HeadingFrame, parts: gpd.GeoDataFrame, predict: Predict) -> _PartPan:
    """Return the pan at places across and along the heading, each in a part given by its row."""
    names = parts["part"].to_numpy().astype(np.str_)

    def at(across_m: Floats, along_m: Floats, part: Ints) -> PanSurface:
        return predict(frame.xy(along_m, across_m), names[part])

    return at


def _weighed(
    lattice: Lattice, areas_m2: Floats, caps_cm: Floats, settings: Settings, pan_at: _PartPan
) -> Ground:
    """Return the slips with the loss of the best few depths; the pan is met once a block and part.

    Parameters
    ----------
    lattice
        The slips.
    areas_m2
        Ground of each part in each slip, shape ``(parts, columns, steps)`` [m2].
    caps_cm
        Cap of each slip, shape ``(columns, steps)`` [cm].
    settings
        Settings of the field.
    pan_at
        Called with places across and along the heading [m] and the row of the part of each.
    """
    depth = settings.depth
    options = depth_options(settings.machine)
    block = np.array([_tried(), int(constant("depth_rules", "offset_block_steps"))])
    column, step = ((np.arange(n) // side) for n, side in zip(lattice.shape, block, strict=True))
    whole = np.add.reduceat(areas_m2, np.arange(0, lattice.shape[0], block[0]), axis=1)
    whole = np.add.reduceat(whole, np.arange(0, lattice.shape[1], block[1]), axis=2)
    part, wide, long = np.nonzero(whole > 0)
    middle = (np.column_stack([wide, long]) + 0.5) * block + lattice.first
    across, along = (middle * (lattice.wide_m, lattice.long_m)).T
    loss = expected_loss(
        pan_at(across, along, part),
        options,
        clearance_cm=depth.clearance_cm,
        assurance=depth.assurance,
    )
    columns = _levels(loss * whole[part, wide, long][:, None], caps_cm, options, depth)
    by_block = np.zeros((*whole.shape, len(columns)))
    by_block[part, wide, long] = loss[:, columns]
    cost = np.zeros((*lattice.shape, len(columns)))
    for area, one in zip(areas_m2, by_block, strict=True):
        cost += area[:, :, None] * one[column][:, step]
    return Ground(lattice.first[0], cost, areas_m2.sum(axis=0), caps_cm, options[columns])


def _levels(cost: Floats, caps_cm: Floats, options: Floats, depth: DepthSection) -> Ints:
    """Return the columns of the best few depths for ground free of passes, 0 first.

    Where a cap is lower than all of them the deepest setting within the lowest cap joins them.
    """
    start = int(not depth.lift_out)
    levels = choose_levels(cost[:, start:], options[start:], max_depths=depth.max_depths)
    columns = np.append(0, np.searchsorted(options, levels))
    lowest = caps_cm[caps_cm >= options[1]].min(initial=np.inf)
    if len(levels) == 0 or lowest < levels[0]:
        columns = np.append(columns, max(1, np.searchsorted(options, lowest, side="right") - 1))
    return np.unique(columns)


def _caps(
    lattice: Lattice,
    body: BaseGeometry,
    frame: HeadingFrame,
    hazard_zones: gpd.GeoDataFrame | None,
) -> Floats:
    """Return the least cap of the keep-off polygons that reach into each slip [cm]."""
    caps = np.full(lattice.shape, np.inf)
    if hazard_zones is None:
        return caps
    cap_cm = hazard_zones["cap_cm"].to_numpy(dtype=np.float64)
    for cap in np.unique(cap_cm)[::-1]:
        ground = shapely.union_all(hazard_zones.geometry.to_numpy()[cap_cm == cap])
        held = shapely.transform(ground.intersection(body), frame.inward)
        caps[lattice.areas_m2(held) > constant("depth_rules", "least_place_m2")] = cap
    return caps
