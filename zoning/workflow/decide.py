"""The field laid out and predicted, and the depths decided on along its passes."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray

from zoning import depths, surface
from zoning import parts as parts_room
from zoning.contracts import constant
from zoning.model import FieldInputs, Notice, PanSurface
from zoning.model.days import day_effect_cm
from zoning.units import CM_PER_M
from zoning.workflow.cells import Cells, lay_cells
from zoning.workflow.disagree import pits_of
from zoning.workflow.division import divide
from zoning.workflow.evidence_notices import with_days
from zoning.workflow.interpret import Interpreted, interpret
from zoning.workflow.outvoted import fit_pan, model_doubts
from zoning.workflow.pieces import gaps_met
from zoning.workflow.pits_against import pit_notices
from zoning.workflow.progress import Progress, silent
from zoning.workflow.ridge import working_settings
from zoning.workflow.shared import shared_notices
from zoning.workflow.support import (
    headland_notices,
    none_met_notices,
    pan_met,
    size_notices,
    support_notices,
)


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """The field laid out: its parts, its cells, what is predicted there."""

    heading_deg: float
    parts: gpd.GeoDataFrame
    read: Interpreted
    model: surface.PanModel
    cells: Cells
    pan: PanSurface
    notices: tuple[Notice, ...]

    def pan_at(self, xy_m: NDArray[np.float64], part: NDArray[np.str_]) -> PanSurface:
        """Return the pan at places, shape ``(n, 2)`` [m], given the part of each."""
        return self.model.predict(xy_m, part.tolist())


@dataclass(frozen=True, slots=True, eq=False)
class Driven:
    """The decision: passes, the depth of each piece, zones; the places it was weighed on."""

    laid: depths.Laid
    places: depths.Places
    pan: PanSurface
    choice: depths.DepthChoice
    zones: gpd.GeoDataFrame
    piece_zone: NDArray[np.int64]
    keep_off: gpd.GeoDataFrame
    notices: tuple[Notice, ...]


def lay_ground(
    inputs: FieldInputs,
    *,
    progress: Progress = silent,
    shared: surface.SharedPrior | None = None,
) -> Ground:
    """Divide the field, interpret the readings and predict the pan at every cell."""
    settings, boundary = inputs.settings, inputs.boundary
    progress("dividing the field into parts")
    divided = divide(inputs)
    heading_deg, parts = divided.heading_deg, divided.parts
    progress("reading the profiles")
    read = interpret(inputs, parts)
    progress("predicting the pan")
    cells = lay_cells(boundary, parts, settings)
    read, model = fit_pan(inputs, parts, read, heading_deg=heading_deg, shared=shared)
    stations = read.stations
    used = stations[stations["used"]]
    pan = model.predict(cells.xy_m, cells.part.tolist())
    wide = size_notices(boundary, settings.machine.width_m)
    taken = shared_notices(shared)
    dug, met = pits_of(used), pan_met(stations)
    fitted = (*support_notices(pan.report, met=met), *model_doubts(model, dug))
    none = none_met_notices(stations, pan.pan_probability, lift_out=settings.depth.lift_out)
    against = pit_notices(stations, day_effect_cm(stations, pan.report))
    said = (*with_days(read.notices, used, pan.report), *against, *headland_notices(parts))
    notices = (*divided.notices, *said, *none, *fitted, *taken, *wide)
    return Ground(heading_deg, parts, read, model, cells, pan, notices)


def decide(inputs: FieldInputs, ground: Ground) -> Driven:
    """Lay the passes, choose the depths along them and join the pieces into zones."""
    settings, boundary = working_settings(inputs), inputs.boundary
    width_m = settings.machine.width_m
    keep_off, hazard_notices = parts_room.hazard_zones(inputs.hazards, machine_width_m=width_m)
    offset_m = depths.best_offset(
        boundary,
        ground.parts,
        ground.pan_at,
        settings,
        heading_deg=ground.heading_deg,
        hazard_zones=keep_off,
    )
    laid = depths.lay_passes(
        boundary,
        width_m=width_m,
        headland_width_m=settings.areas.headland_width_m,
        heading_deg=ground.heading_deg,
        step_m=constant("plan_rules", "step_m"),
        offset_m=offset_m,
        round_obstacles=settings.areas.headland_round_obstacles,
    )
    places = depths.places_of(laid.pieces, ground.parts)
    pan = ground.pan_at(places.xy_m, places.part)
    caps_cm = depths.cap_of_pieces(
        laid,
        keep_off,
        width_m=width_m,
        reach_m=settings.machine.row_gap_cm / CM_PER_M,
    )
    met = pan_met(ground.read.stations)
    choice = depths.choose_depths(laid, places, pan, settings, caps_cm, pan_met=met)
    near_m = constant("plan_rules", "zone_near_widths") * width_m
    off = depths.kept_off(laid.pieces, choice, places, pan, settings, keep_off)
    zone = depths.zone_of(laid.pieces, choice.depth_cm, off=off, near_m=near_m)
    zones = depths.merge(laid.pieces, choice.depth_cm, zone)
    notices = (*hazard_notices, *laid.notices, *choice.notices, *gaps_met(inputs, laid.lines))
    return Driven(laid, places, pan, choice, zones, zone, keep_off, notices)
