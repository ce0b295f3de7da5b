"""All that a plan must tell, in order."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from zoning import checks, depths
from zoning.model import FieldInputs, Notice, Settings
from zoning.model.days import taken_base_cm
from zoning.outputs.drawing.zone_labels import held_zones
from zoning.outputs.guessed import unread_parts
from zoning.workflow.between_legs import leg_notices
from zoning.workflow.cautions import in_order, notice_cm, standing
from zoning.workflow.decide import Driven, Ground
from zoning.workflow.disagree import base_notices, deepest_under, worked_notices
from zoning.workflow.driving import lifted_notices, pin_notices
from zoning.workflow.effort import Effort
from zoning.workflow.gateway import gateway_notices
from zoning.workflow.held import beside_notices, held_by
from zoning.workflow.noted import noted_elsewhere, noted_notices
from zoning.workflow.reached import (
    above_pan_notices,
    assurance_notices,
    depths_enough,
    fewer_notices,
    mean_probability,
    short_part_notices,
)
from zoning.workflow.ridge import allowance_cm, outfit_of, ridge_notices, working_settings
from zoning.workflow.support import pan_met
from zoning.workflow.too_shallow import too_shallow_notices
from zoning.workflow.unread import unread_notices
from zoning.workflow.worked import parts_by_hand, worked_ground


def plan_notices(
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
    odd = checks.odd_run_notices(inputs.trials, settings.machine.depth_min_cm)
    told = (*odd, *ridge_notices(inputs, zones), *against, *reached, *_beside(inputs, driven))
    found = (*inputs.notices, *ground.notices, *driven.notices, *effort.notices, *told)
    return in_order(found, standing(settings, inputs.hazards, zones))


def _short(
    inputs: FieldInputs, ground: Ground, driven: Driven, zones: pd.DataFrame
) -> tuple[Notice, ...]:
    """Return where less than the assurance asked is reached, by zone and by part that was read."""
    deciding = working_settings(inputs)
    pass_id = driven.laid.pieces["pass_id"].to_numpy()
    worked = worked_ground(
        driven.places, driven.piece_zone, pass_id, driven.pan, driven.choice, deciding
    )
    free_zones = zones[~held_zones(zones)]
    free = worked.where(np.isin(worked.zone, free_zones["zone"]))
    read = free.where(~np.isin(free.part, unread_parts(ground.parts, ground.read.stations)))
    more = depths_enough(losses := driven.choice.at_most_loss_cm) == len(losses)
    by_hand = parts_by_hand(worked)
    parts = short_part_notices(read, deciding, more_depths=more, by_hand=by_hand)
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
        ridge_cm=allowance_cm(inputs),
    )


def _at_stations(
    inputs: FieldInputs, ground: Ground, driven: Driven, zones: pd.DataFrame
) -> tuple[Notice, ...]:
    stations, pieces, choice = ground.read.stations, driven.laid.pieces, driven.choice
    xy_m = stations[["x_m", "y_m"]].to_numpy(dtype=np.float64)
    piece = depths.piece_of(pieces, xy_m)
    depth_cm = choice.depth_cm[piece]
    deciding = working_settings(inputs)
    taken_cm = taken_base_cm(stations, ground.pan.report)
    days = bool(taken_cm.notna().any())
    taken = stations.assign(pan_base_cm=taken_cm.fillna(stations["pan_base_cm"]))
    held = held_by(taken, piece, pieces, choice, inputs.hazards, min_run_m=deciding.depth.min_run_m)
    bases = base_notices(
        taken.assign(used=stations["used"] & ~noted_elsewhere(stations, ground.parts)),
        depth_cm,
        choice.cap_cm[piece],
        held,
        clearance_cm=deciding.depth.clearance_cm,
        shallowest_cm=deciding.machine.depth_min_cm,
        days=days,
    )
    pan = ground.pan_at(xy_m, stations["part_used"].to_numpy(dtype=np.str_))
    legs = leg_notices(zones, stations, depth_cm, outfit_of(inputs))
    probed = ground.read.insertions
    under = depths.piece_of(pieces, probed[["x_m", "y_m"]].to_numpy(dtype=np.float64))
    deepest_cm = deepest_under(stations, depth_cm, probed["station"], choice.depth_cm[under])
    worked = worked_notices(
        stations, deepest_cm, pan.pan_probability, notice_cm=notice_cm(inputs.settings)
    )
    lost = noted_notices(taken, ground.parts, depth_cm, days=days)
    return (*lost, *bases, *worked, *legs)
