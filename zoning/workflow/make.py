"""From inputs to a plan: interpret, partition, predict, decide, describe."""

from __future__ import annotations

import pandas as pd

from zoning import depths, outputs, surface
from zoning.model import FieldInputs, Plan
from zoning.workflow.cautions import guessed_in, zone_cautions
from zoning.workflow.decide import Driven, Ground, decide, lay_ground
from zoning.workflow.describe import describe_runs, describe_zones, uncertain_places
from zoning.workflow.driving import change_counts
from zoning.workflow.effort import Effort, at_most_totals, driven_share, effort_of, zone_totals
from zoning.workflow.evidence_notices import with_answers
from zoning.workflow.held import held_up
from zoning.workflow.interpret import placed
from zoning.workflow.pits_against import met
from zoning.workflow.progress import Progress, silent
from zoning.workflow.ridge import allowance_cm, outfit_of, working_settings
from zoning.workflow.told import plan_notices


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
        rating=_answered(ground, driven),
        losses=choice.losses,
        totals={
            **zone_totals(zones),
            **effort.totals,
            **at_most_totals(choice.at_most_loss_cm),
            **changes,
            "ridge_allowance_cm": allowance_cm(inputs),
        },
        surface_report=ground.pan.report,
        notices=plan_notices(inputs, ground, driven, effort, changes),
        backdrop=inputs.backdrop,
        photos=inputs.photos,
    )


def _answered(ground: Ground, driven: Driven) -> pd.DataFrame:
    """Return the rating with its answers, which pits on ground left alone bear on otherwise."""
    read, choice = ground.read, driven.choice
    at = depths.piece_of(driven.laid.pieces, read.stations[["x_m", "y_m"]].to_numpy(dtype=float))
    both = met(read.stations)
    otherwise = both.loc[both["probe_pan"] != both["pit_pan"], "pit"]
    left_alone = (choice.depth_cm[at] == 0) & ~choice.barred[at]
    left_alone &= ~read.stations["station"].isin(otherwise).to_numpy()
    return with_answers(read.rating, read.stations, read.insertions, left_alone)


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
