"""After the work: the field folder and its plan in, the judgement out."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from zoning import checks, outputs, profiles, readings
from zoning import machine as machine_room
from zoning import parts as parts_room
from zoning.contracts import rows
from zoning.errors import Fault, InputRefused
from zoning.model import FieldInputs, Notice
from zoning.model.check import Check, PlannedGround
from zoning.model.names import by_name
from zoning.model.settings import MachineSection
from zoning.outputs.check.words import OLDER
from zoning.outputs.left_out import left_out_together
from zoning.workflow.cautions import cleared, notice_cm
from zoning.workflow.check_notices import check_notices, strikes
from zoning.workflow.division import divide
from zoning.workflow.interpret import part_used, placed
from zoning.workflow.issued import issued_notices
from zoning.workflow.noted import pits_on_the_map
from zoning.workflow.page_pits import with_recorded_pits
from zoning.workflow.progress import Progress, silent
from zoning.workflow.ridge import allowance_cm
from zoning.workflow.season_dates import (
    first_read,
    last_read,
    season_first,
    season_notices,
    withdrawn_after,
)
from zoning.workflow.standing import runs_left
from zoning.workflow.stops import with_fallen_stops


@dataclass(frozen=True, slots=True, eq=False)
class _Field:
    """The field as read, its parts, the plan it was worked to."""

    inputs: FieldInputs
    parts: gpd.GeoDataFrame
    planned: PlannedGround
    hazard_zones: gpd.GeoDataFrame


def check_work(
    folder: str | Path, plan_folder: str | Path | None = None, *, progress: Progress = silent
) -> Check:
    """Judge the work on a field by the pits and cone readings taken after it.

    Parameters
    ----------
    folder
        Field folder, with pits of phase ``after`` or ``cone_after``.
    plan_folder
        The plan that was worked to; ``folder/plan`` where not given.
    progress
        Called with the name of each step.

    Raises
    ------
    zoning.errors.InputRefused
        If the folder holds nothing taken after the work, or there is no sound plan of this field.
    """
    folder = Path(folder)
    progress("reading the field folder")
    inputs = with_recorded_pits(readings.read_field(folder), folder)
    told = (*season_notices(inputs), *runs_left(folder, inputs))
    inputs = replace(inputs, notices=(*inputs.notices, *told))
    _refuse_nothing_after(inputs)
    progress("reading the plan")
    source = folder / "plan" if plan_folder is None else Path(plan_folder)
    planned = outputs.read_planned(source)
    _refuse_other_field(inputs, planned, source)
    progress("judging the pits")
    check = _check(_field(inputs, planned), issued_notices(folder, inputs, planned))
    return with_fallen_stops(check, folder)


def check_check_target(folder: str | Path) -> None:
    """Refuse a folder that holds anything but a check, before any work is done.

    Raises
    ------
    zoning.errors.OutputFailed
        If the folder is not empty and not a check.
    """
    outputs.refuse_foreign_check(Path(folder))


def write_check(
    check: Check, folder: str | Path, *, progress: Progress = silent
) -> tuple[Path, ...]:
    """Write every file of `check` into `folder`, whole or not at all, and return their paths.

    Raises
    ------
    zoning.errors.OutputFailed
        If a file cannot be written or does not read back as written; an earlier check stays.
    """
    return outputs.write_check(
        check, Path(folder), progress=lambda name: progress(f"writing {name}")
    )


def _refuse_nothing_after(inputs: FieldInputs) -> None:
    if (inputs.pits["phase"] == "after").any() or len(inputs.cone_after):
        return
    what = "Nothing was taken after the work: no pit of phase 'after', no cone_after readings."
    if told := _pits_left_out(inputs):
        what = f"Nothing that was taken after the work can be judged. Left out: {told}"
    remedy = (
        "Dig behind the machine and give each pit a row in the file named pits under [readings]: "
        "phase 'after', the columns loosened_at_leg_cm and loosened_between_cm, speed_km_h and pan "
        "(yes or no). The page docs/howto/check.rst tells how to measure them."
    )
    raise InputRefused([Fault("field.toml", what, remedy, column="readings")])


def _pits_left_out(inputs: FieldInputs) -> str:
    """Return the pits that were left out, each with its row and why; blank without any."""
    after = inputs.left_out[inputs.left_out["pit_phase"] == "after"]
    told = [f"{one.file}: {one.what}: {one.reason}" for one in left_out_together(after)]
    return " ".join(f"{words.rstrip('.')}." for words in told)


def _refuse_other_field(inputs: FieldInputs, planned: PlannedGround, folder: Path) -> None:
    ground = shapely.union_all(planned.zones.geometry.to_numpy())
    same_crs = inputs.working_crs == planned.working_crs
    if same_crs and ground.intersection(inputs.boundary).area > 0.5 * inputs.boundary.area:
        return
    what = "The plan is of another field or in another coordinate system than the folder."
    remedy = "Name the plan of this field with --plan, or plan again."
    raise InputRefused([Fault(str(folder), what, remedy)])


def _field(inputs: FieldInputs, planned: PlannedGround) -> _Field:
    machine = inputs.settings.machine
    zones, _ = parts_room.hazard_zones(inputs.hazards, machine_width_m=machine.width_m)
    words = [cleared(float(depth), inputs.settings) for depth in planned.zones["depth_cm"]]
    fit = _ridges(_carried(_speeds(planned.zones.assign(cleared=words), inputs), machine), inputs)
    told = replace(planned, zones=fit)
    bounds = checks.bounded(
        told,
        zones,
        machine,
        run_m=inputs.settings.depth.min_run_m,
        notice_cm=notice_cm(inputs.settings),
    )
    return _Field(inputs, divide(inputs).parts, bounds, zones)


def _speeds(zones: gpd.GeoDataFrame, inputs: FieldInputs) -> gpd.GeoDataFrame:
    """Return the zones with the fastest speed that the tractor pulls by the equations.

    It is looked for up to the fastest that is usually tried, or that was; not without its power.
    """
    if inputs.settings.tractor.pto_power_kw is None:
        return zones
    usual = [float(row["speed_km_h"]) for row in rows("trial_speeds")]
    tried = [*inputs.trials["speed_km_h"], *inputs.pits["speed_km_h"]]
    own = inputs.settings.machine.speed_km_h
    fastest = float(np.nanmax(np.array([own, *usual, *tried], dtype=np.float64)))
    outfit = machine_room.Outfit.of(inputs.settings, None)
    outfit = replace(outfit, machine=replace(outfit.machine, speed_km_h=fastest))
    worked = machine_room.work_of_zones(zones, outfit)
    return zones.assign(work_speed_km_h=worked["work_speed_km_h"].to_numpy(dtype=float))


def _carried(zones: gpd.GeoDataFrame, machine: MachineSection) -> gpd.GeoDataFrame:
    """Return the zones with what the plan warns of foot and spacing at their depth."""
    found = [
        {f.code for f in machine_room.spacing_findings(machine, float(depth))}
        for depth in zones["depth_cm"]
    ]
    helped = machine.point == "winged" or machine.leading_tines
    _, lifts_cm, _ = machine_room.critical_depth_cm(machine.foot_width_cm)
    return zones.assign(
        foot_narrow=["below-critical-depth" in codes for codes in found],
        legs_wide=["legs-too-wide" in codes for codes in found],
        foot_lifts_cm=np.inf if helped else lifts_cm,
    )


def _ridges(zones: gpd.GeoDataFrame, inputs: FieldInputs) -> gpd.GeoDataFrame:
    """Return the zones with the ridge that a plan expects: of the trial runs, else by geometry."""
    machine = inputs.settings.machine
    measured = checks.ridge_at_cm(checks.ridge_curve(inputs.trials), machine.speed_km_h)
    if np.isfinite(measured):
        return zones.assign(expected_ridge_cm=measured, expected_ridge_from="trial_runs")
    by_geometry = [machine_room.ridge_cm(machine, float(depth)) for depth in zones["depth_cm"]]
    return zones.assign(expected_ridge_cm=by_geometry, expected_ridge_from="leg_spacing")


def _check(field: _Field, told: tuple[Notice, ...]) -> Check:
    inputs, planned = field.inputs, field.planned
    all_pits, moved = pits_on_the_map(inputs.pits, field.parts)
    day, named = last_read(inputs)
    pits = checks.judge_pits(
        all_pits,
        planned,
        read_on=day,
        older={pit for notice in told if notice.code == OLDER for pit in notice.pits},
        read_by=named,
        season_from=season_first(inputs),
        parts=field.parts,
    )
    probes = _stations(inputs.cone_after, field)
    groups = checks.judge_groups(planned, pits, probes, field.parts)
    zones = checks.judge_zones(planned, pits, probes, field.parts)
    curve = checks.ridge_curve(inputs.trials)
    struck = strikes(inputs, pits)
    machine = inputs.settings.machine
    driven = checks.speeds_kept(planned.zones, pits, inputs.trials)
    gone = withdrawn_after(inputs)
    gone = _zone_at(gone.assign(part=part_used(gone, field.parts)), planned)
    tried = checks.tried(gone, machine.speed_km_h)
    advice = checks.advise(groups, pits, curve, machine, driven, struck, tried)
    late = _of_after(all_pits, pits, inputs)
    compared = _pairs(all_pits.drop(late.index), pits, probes, field)
    ridge = float(groups["ridge_cm"].iloc[0])
    dig = _dig_next(field, groups, pits, probes, ridge)
    return Check(
        plan_id=planned.plan_id,
        inputs=inputs,
        zones=zones,
        groups=groups,
        pits=placed(pits, inputs.working_crs),
        steady=frozenset(checks.charted(pits)["pit"]),
        probes=placed(probes, inputs.working_crs),
        pairs=compared,
        changes=checks.changed(compared),
        advice=advice,
        dig_next=dig,
        ridge=curve,
        ridge_allowance_cm=allowance_cm(inputs),
        notices=(
            *check_notices(inputs, planned, pits, probes, compared, (*told, *moved)),
            *checks.dig_notices(groups, dig),
            *checks.pairs_notices(pits, compared, by_name(late, "pit")["pit"].tolist()),
        ),
    )


def _dig_next(
    field: _Field, groups: pd.DataFrame, pits: pd.DataFrame, probes: pd.DataFrame, ridge_cm: float
) -> gpd.GeoDataFrame:
    """Return where to dig next; nowhere that a hazard holds the work above the pan."""
    open_ground = checks.not_held(field.planned)
    own = probes[probes["zone"].isin(open_ground.zones["zone"])]
    keep_off = shapely.union_all(field.hazard_zones.geometry.to_numpy())
    return checks.dig_next(
        open_ground,
        groups,
        pits,
        own,
        parts=field.parts,
        ridge_cm=ridge_cm,
        keep_off=keep_off,
    )


def _zone_at(rows: pd.DataFrame, planned: PlannedGround) -> pd.DataFrame:
    """Return `rows` with the zone each lies in, or the nearest, and its planned depth."""
    zones = planned.zones
    places = rows[["x_m", "y_m"]].to_numpy(dtype=float)
    shapes = zones.geometry.to_numpy()
    nearest = [int(shapely.distance(shapes, shapely.Point(place)).argmin()) for place in places]
    held = zones.iloc[nearest]
    return rows.assign(zone=held["zone"].to_numpy(), depth_cm=held["depth_cm"].to_numpy(float))


def _stations(cone: pd.DataFrame, field: _Field) -> pd.DataFrame:
    """Return the cone stations with zone, part, moisture and the resistance of the worked layer."""
    limit = field.inputs.settings.readings.limit_mpa
    insertions = profiles.interpret(cone, limit_mpa=limit)
    stations = profiles.join_stations(insertions, field.inputs.pits.iloc[:0])
    moisture = cone[cone["moisture"] != ""].groupby("station")["moisture"].agg(_words)
    noted = stations["station"].map(moisture).fillna("").astype(object)
    placed = _zone_at(
        stations.assign(moisture=noted, part=part_used(stations, field.parts)), field.planned
    )
    return checks.resistance(cone, placed)


def _words(words: pd.Series) -> str:
    return "; ".join(sorted(set(words)))


def _of_after(pits: pd.DataFrame, judged: pd.DataFrame, inputs: FieldInputs) -> pd.DataFrame:
    """Return the pits of phase before that show what the work left."""
    before = pits[pits["phase"] == "before"]
    first = first_read(inputs)
    late = checks.pits_of_after(before, judged, first)
    return before[late | checks.further_rows(before, withdrawn_after(inputs), first)]


def _pairs(
    pits: pd.DataFrame, judged: pd.DataFrame, probes: pd.DataFrame, field: _Field
) -> pd.DataFrame:
    """Return what was found before and after, each pit of after in the zone it was judged in."""
    measured = checks.pit_measures(pits)
    before = _zone_at(measured[measured["phase"] == "before"], field.planned)
    after = measured[measured["phase"] == "after"]
    after = by_name(after, "pit", "file", "row").assign(
        **{name: judged[name].to_numpy() for name in ("zone", "depth_cm")}
    )
    dug = checks.paired(before, after[checks.comparable(judged)], checks.PIT_MEASURES)
    own = checks.off_missed_strips(probes, judged)
    if own.empty:
        return dug
    probed = checks.paired(_stations(field.inputs.cone, field), own, (checks.RESISTANCE,))
    return pd.concat([table for table in (dug, probed) if len(table)] or [dug], ignore_index=True)


__all__ = ["check_check_target", "check_work", "write_check"]
