"""From inputs to a plan: interpret, partition, predict, decide, describe."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from zoning import depths, outputs, surface
from zoning import parts as parts_room
from zoning.contracts import constant
from zoning.model import FieldInputs, Notice, PanSurface, Plan, Settings
from zoning.outputs.drawing.zone_labels import held_zones
from zoning.outputs.guessed import unread_parts
from zoning.units import CM_PER_M
from zoning.workflow.between_legs import leg_notices
from zoning.workflow.cautions import guessed_in, in_order, notice_cm, standing, zone_cautions
from zoning.workflow.cells import Cells, lay_cells
from zoning.workflow.describe import describe_runs, describe_zones, uncertain_places
from zoning.workflow.disagree import (
    base_notices,
    deepest_under,
    pits_of,
    worked_notices,
)
from zoning.workflow.division import divide
from zoning.workflow.driving import change_counts, lifted_notices, pin_notices
from zoning.workflow.effort import (
    Effort,
    at_most_totals,
    driven_share,
    effort_of,
    zone_totals,
)
from zoning.workflow.evidence_notices import with_days
from zoning.workflow.gateway import gateway_notices
from zoning.workflow.held import beside_notices, held_by, held_up
from zoning.workflow.interpret import Interpreted, interpret, placed
from zoning.workflow.noted import noted_elsewhere, noted_notices
from zoning.workflow.outvoted import fit_pan, model_doubts
from zoning.workflow.pieces import gaps_met
from zoning.workflow.progress import Progress, silent
from zoning.workflow.reached import (
    above_pan_notices,
    assurance_notices,
    depths_enough,
    fewer_notices,
    ground_of,
    mean_probability,
    short_part_notices,
)
from zoning.workflow.ridge import (
    allowance_cm,
    outfit_of,
    ridge_notices,
    working_settings,
)
from zoning.workflow.shared import shared_notices
from zoning.workflow.support import (
    headland_notices,
    none_met_notices,
    pan_met,
    size_notices,
    support_notices,
)
from zoning.workflow.too_shallow import too_shallow_notices
from zoning.workflow.unread import unread_notices


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


def make_plan(
    inputs: FieldInputs,
    *,
    progress: Progress = silent,
    shared: surface.SharedPrior | None = None,
) -> Plan:
    """Turn the inputs of one field into a plan.

    Parameters
    ----------
    inputs
        What `zoning.read_field` returns.
    progress
        Called with the name of each step.
    shared
        What the other fields of the farm say; ``None``: the field stands alone.

    Raises
    ------
    zoning.errors.PlanRefused
        If no plan can honestly be made from the readings.
    """
    ground = lay_ground(inputs, progress=progress, shared=shared)
    progress("choosing depths along the passes")
    driven = decide(inputs, ground)
    progress("describing the zones")
    return _plan(inputs, ground, driven)


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
    said = (*with_days(read.notices, used, pan.report), *headland_notices(parts))
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


def _plan(inputs: FieldInputs, ground: Ground, driven: Driven) -> Plan:
    settings, cells, crs = inputs.settings, ground.cells, inputs.working_crs
    effort = _effort(inputs, ground, driven)
    zones, choice = effort.zones, driven.choice
    runs = depths.runs(driven.laid.lines, driven.laid.pieces, choice.depth_cm)
    changes = change_counts(runs)
    cell_piece = depths.piece_of(driven.laid.pieces, cells.xy_m)
    return Plan(
        plan_id=outputs.plan_id(
            boundary=inputs.boundary,
            working_crs=crs,
            cone=inputs.cone,
            pits=inputs.pits,
            settings=settings,
            hazards=inputs.hazards,
            zones=zones,
        ),
        settings=settings,
        files=inputs.files,
        boundary=inputs.boundary,
        working_crs=crs,
        crs_accuracy_m=inputs.crs_accuracy_m,
        parts=ground.parts,
        insertions=ground.read.insertions,
        stations=placed(ground.read.stations, crs),
        cone=inputs.cone,
        pits=placed(inputs.pits, crs),
        hazards=inputs.hazards,
        left_out=inputs.left_out,
        zones=zones,
        passes=describe_runs(runs, ground.parts),
        uncertain=uncertain_places(cells, ground.pan, crs),
        grid=cells.grid,
        inside=cells.inside,
        rasters=cells.pan_rasters(ground.pan, choice.depth_cm[cell_piece]),
        rating=ground.read.rating,
        losses=choice.losses,
        totals={
            **zone_totals(zones),
            **effort.totals,
            **at_most_totals(choice.at_most_loss_cm),
            **changes,
            "ridge_allowance_cm": allowance_cm(inputs),
        },
        surface_report=ground.pan.report,
        notices=_notices(inputs, ground, driven, effort, changes),
        backdrop=inputs.backdrop,
        photos=inputs.photos,
    )


def _effort(inputs: FieldInputs, ground: Ground, driven: Driven) -> Effort:
    """Return the zones described, and what they take."""
    places, piece_zone = driven.places, driven.piece_zone
    deciding = working_settings(inputs)
    zones = describe_zones(driven.zones, piece_zone, places, driven.pan, deciding)
    guessed = guessed_in(ground.parts, ground.read.stations, places, piece_zone)
    held = held_up(zones, piece_zone, driven.laid.pieces, driven.choice, deciding)
    zones["cautions"] = zone_cautions(zones, driven.keep_off, guessed, held)
    zones["driven_share"] = driven_share(driven.laid.pieces, driven.choice.depth_cm, piece_zone)
    return effort_of(zones, outfit_of(inputs), driven.choice.losses)


def _notices(
    inputs: FieldInputs,
    ground: Ground,
    driven: Driven,
    effort: Effort,
    changes: Mapping[str, float],
) -> tuple[Notice, ...]:
    """Return all that the plan must tell, in order."""
    settings, zones = inputs.settings, effort.zones
    against = (*_in_parts(ground, driven, settings), *_at_stations(inputs, ground, driven, zones))
    above = above_pan_notices(zones, mean_probability(driven.places, driven.piece_zone, driven.pan))
    few = fewer_notices(driven.choice.at_most_loss_cm, zones)
    driving = (*pin_notices(settings, zones, changes), *lifted_notices(changes))
    reached = (*_short(inputs, ground, driven, zones), *above, *few, *driving)
    told = (*ridge_notices(inputs, zones), *against, *reached, *_beside(inputs, driven))
    found = (*inputs.notices, *ground.notices, *driven.notices, *effort.notices, *told)
    return in_order(found, standing(settings, inputs.hazards, zones))


def _short(
    inputs: FieldInputs, ground: Ground, driven: Driven, zones: pd.DataFrame
) -> tuple[Notice, ...]:
    """Return where less than the assurance asked is reached, by zone and by part that was read."""
    deciding = working_settings(inputs)
    worked = ground_of(driven.places, driven.piece_zone, driven.pan, driven.choice, deciding)
    free_zones = zones[~held_zones(zones)]
    free = worked.where(np.isin(worked.zone, free_zones["zone"]))
    read = free.where(~np.isin(free.part, unread_parts(ground.parts, ground.read.stations)))
    more = depths_enough(losses := driven.choice.at_most_loss_cm) == len(losses)
    parts = short_part_notices(read, deciding, more_depths=more)
    deep = too_shallow_notices(free, deciding) if pan_met(ground.read.stations) else ()
    return (*deep, *assurance_notices(free_zones, deciding, worked), *parts)


def _in_parts(ground: Ground, driven: Driven, settings: Settings) -> tuple[Notice, ...]:
    parts, stations, places = ground.parts, ground.read.stations, driven.places
    depth_cm = driven.choice.depth_cm[places.piece]
    step_cm, base_cm = settings.machine.depth_step_cm, driven.pan.base_mean_cm
    gateways = gateway_notices(parts, stations, places, depth_cm, base_cm, step_cm=step_cm)
    return (*gateways, *unread_notices(parts, stations, places, depth_cm))


def _beside(inputs: FieldInputs, driven: Driven) -> tuple[Notice, ...]:
    return beside_notices(
        driven.places,
        driven.pan,
        driven.laid.pieces,
        driven.choice,
        inputs.hazards,
        width_m=inputs.settings.machine.width_m,
        min_run_m=inputs.settings.depth.min_run_m,
    )


def _at_stations(
    inputs: FieldInputs, ground: Ground, driven: Driven, zones: pd.DataFrame
) -> tuple[Notice, ...]:
    stations, pieces, choice = ground.read.stations, driven.laid.pieces, driven.choice
    xy_m = stations[["x_m", "y_m"]].to_numpy(dtype=np.float64)
    piece = depths.piece_of(pieces, xy_m)
    depth_cm = choice.depth_cm[piece]
    deciding = working_settings(inputs)
    held = held_by(
        stations, piece, pieces, choice, inputs.hazards, min_run_m=deciding.depth.min_run_m
    )
    bases = base_notices(
        stations.assign(used=stations["used"] & ~noted_elsewhere(stations, ground.parts)),
        depth_cm,
        choice.cap_cm[piece],
        held,
        clearance_cm=deciding.depth.clearance_cm,
        shallowest_cm=deciding.machine.depth_min_cm,
    )
    pan = ground.pan_at(xy_m, stations["part_used"].to_numpy(dtype=np.str_))
    legs = leg_notices(zones, stations, depth_cm, outfit_of(inputs))
    probed = ground.read.insertions
    under = depths.piece_of(pieces, probed[["x_m", "y_m"]].to_numpy(dtype=np.float64))
    deepest_cm = deepest_under(stations, depth_cm, probed["station"], choice.depth_cm[under])
    worked = worked_notices(
        stations, deepest_cm, pan.pan_probability, notice_cm=notice_cm(inputs.settings)
    )
    lost = noted_notices(stations, ground.parts, depth_cm)
    return (*lost, *bases, *worked, *legs)
