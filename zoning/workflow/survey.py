"""From a field folder to a survey: where to probe first, or where the next stations tell most."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from zoning import outputs, profiles, readings, survey
from zoning import parts as parts_room
from zoning.contracts import constant
from zoning.errors import PlanRefused
from zoning.model import FieldInputs, Notice, Settings, Survey
from zoning.surface import PanModel
from zoning.units import M2_PER_HA
from zoning.workflow.division import divide
from zoning.workflow.interpret import interpret, placed
from zoning.workflow.progress import Progress, silent
from zoning.workflow.survey_notices import near_keep_off, pits_near_keep_off, survey_notices
from zoning.workflow.survey_value import (
    Question,
    Worth,
    beyond_the_tractor_cm,
    next_apart_m,
    station_error_cm,
    worth_of_next,
)

RULES = "survey_rules"
SEED = 1


@dataclass(frozen=True, slots=True)
class Wish:
    """What the adviser asks for.

    Parameters
    ----------
    stations
        Stations to propose; ``None``: as many as `precision_cm` asks for.
    precision_cm
        Half width of the interval of the field's mean pan base.
    station_cost
        What a station costs, in the currency of ``[costs]``: none is proposed that is worth less.
    seed
        The same seed gives the same places.
    """

    stations: int | None = None
    precision_cm: float | None = None
    station_cost: float | None = None
    seed: int = SEED


@dataclass(frozen=True, slots=True, eq=False)
class _Field:
    """The field laid out for a survey."""

    inputs: FieldInputs
    heading_deg: float
    parts: gpd.GeoDataFrame
    keep_off: gpd.GeoDataFrame
    ground: gpd.GeoDataFrame
    stations: pd.DataFrame
    notices: tuple[Notice, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Chosen:
    """Stations chosen, in any order."""

    xy_m: NDArray[np.float64]
    part: NDArray[np.str_]
    role: NDArray[np.str_]
    gain_cm_ha: NDArray[np.float64]
    facts: dict[str, float | str]


def read_for_survey(folder: str | Path, *, progress: Progress = silent) -> FieldInputs:
    """Read and check a field folder, which need not hold readings yet.

    Raises
    ------
    zoning.errors.InputRefused
        With every fault of the files.
    """
    progress("reading the field folder")
    return readings.read_field(Path(folder), need_readings=False)


def propose_stations(inputs: FieldInputs, wish: Wish, *, progress: Progress = silent) -> Survey:
    """Say where to probe and dig: a first survey, or the next stations where there are readings.

    Parameters
    ----------
    inputs
        What `read_for_survey` returns.
    wish
        How many stations, or how precise.
    progress
        Called with the name of each step.

    Raises
    ------
    zoning.errors.PlanRefused
        If nothing is left to probe or the wish cannot be met.
    """
    field = _lay_out(inputs, progress)
    size = _how_many(field, wish)
    if field.stations["used"].any():
        progress("weighing candidate places")
        chosen = _next(field, wish, int(size["stations_wanted"]))
    else:
        progress("spreading stations")
        chosen = _first(field, wish, int(size["stations_wanted"]))
    progress("ordering the walk")
    return _survey(field, chosen, size)


def check_survey_target(folder: str | Path) -> None:
    """Refuse a folder that `write_survey` would refuse, before any work is done.

    Raises
    ------
    zoning.errors.OutputFailed
        If it holds other files, or a form that was filled in.
    """
    outputs.refuse_filled_in(Path(folder))


def write_survey(
    proposed: Survey, folder: str | Path, *, progress: Progress = silent
) -> tuple[Path, ...]:
    """Write every file of a survey into `folder`, whole or not at all, and return their paths.

    Raises
    ------
    zoning.errors.OutputFailed
        If the folder holds a form that was filled in, or a file cannot be written.
    """
    return outputs.write_survey(
        proposed, Path(folder), progress=lambda name: progress(f"writing {name}")
    )


def _lay_out(inputs: FieldInputs, progress: Progress) -> _Field:
    settings, boundary = inputs.settings, inputs.boundary
    progress("dividing the field into parts")
    divided = divide(inputs)
    parts = divided.parts
    keep_off, hazard_notices = parts_room.hazard_zones(
        inputs.hazards, machine_width_m=settings.machine.width_m
    )
    ground = survey.probing_ground(boundary, parts, keep_off)
    read = interpret(inputs, parts)
    told = (*inputs.notices, *divided.notices, *hazard_notices)
    return _Field(inputs, divided.heading_deg, parts, keep_off, ground, read.stations, told)


def _how_many(field: _Field, wish: Wish) -> dict[str, float | str]:
    """Return how many stations are wanted, and by what reckoning."""
    if wish.stations is not None:
        return {"stations_wanted": wish.stations}
    if wish.precision_cm is None:
        raise PlanRefused("Say how many stations, or how precise the mean pan base is to be.")
    used = field.stations[field.stations["used"]]
    base = used["pan_base_cm"].dropna()
    own = len(base) >= constant(RULES, "own_cv_stations")
    if own:
        cv, source = float(base.std(ddof=1) / base.mean()), "the stations of this field"
        spread = float(base.std(ddof=1))
    else:
        cv = constant(RULES, "base_cv")
        spread = cv * constant("surface_rules", "base_level_cm")
        source = "published surveys of cone index, the least of 16.5 to 45.8 %"
    confidence = constant(RULES, "confidence")
    n = survey.stations_for(spread, wish.precision_cm, confidence)
    left = n - len(used)
    if left <= 0:
        raise PlanRefused(
            f"{n} stations give the mean pan base to within {wish.precision_cm:g} cm, and the "
            f"field has {len(used)}. Ask for stations by number to place more."
        )
    return {
        "stations_wanted": left,
        "stations_in_all": n,
        "precision_cm": wish.precision_cm,
        "spread_cm": spread,
        "coefficient_of_variation": cv,
        "coefficient_source": source,
        "confidence": confidence,
    }


def _first(field: _Field, wish: Wish, count: int) -> _Chosen:
    design = survey.first_survey(field.ground, field.parts, count, wish.seed)
    unknown = np.full(len(design.xy_m), np.nan)
    return _Chosen(design.xy_m, design.part, design.role, unknown, {})


def _next(field: _Field, wish: Wish, count: int) -> _Chosen:
    settings = field.inputs.settings
    used = field.stations[field.stations["used"]]
    model = PanModel.fit(profiles.heard(field.stations), heading_deg=field.heading_deg)
    least = int(constant(RULES, "part_points_least"))
    many = int(constant(RULES, "candidates"))
    places = survey.scattered(
        field.parts, int(constant(RULES, "evaluation_places")), least, wish.seed
    )
    candidates = survey.apart_from(
        survey.scattered(field.ground, many, least, wish.seed + 1),
        used[["x_m", "y_m"]].to_numpy(dtype=np.float64),
        next_apart_m(field.inputs.boundary.area / M2_PER_HA, count + len(used)),
    )
    question = Question(model, places, candidates, field.keep_off, station_error_cm(used))
    worth = worth_of_next(question, settings, count, wish.station_cost)
    if not worth.batch.rows:
        raise PlanRefused("No further station is worth its cost: none is proposed.")
    rows = np.array(worth.batch.rows)
    return _Chosen(
        candidates.xy_m[rows],
        candidates.part[rows],
        np.repeat("next", len(rows)),
        np.array(worth.batch.gain_cm_ha),
        _worth_facts(worth, settings),
    )


def _worth_facts(worth: Worth, settings: Settings) -> dict[str, float | str]:
    """Return what the next stations are expected to bring, in the terms of the plan."""
    gain, change = sum(worth.batch.gain_cm_ha), worth.change
    facts: dict[str, float | str] = {
        "loss_now_cm_ha": worth.loss_now_cm_ha,
        "gain_cm_ha": gain,
        "gain_share": gain / worth.loss_now_cm_ha if worth.loss_now_cm_ha > 0 else 0.0,
        "depths_cm": ", ".join(f"{depth:g}" for depth in worth.levels_cm),
        "change_area_ha": change.area_ha,
        "change_depth_cm": change.depth_cm,
    }
    if math.isfinite(change.fuel_moved_l):
        facts |= {"change_fuel_moved_l": change.fuel_moved_l, "change_fuel_l": change.fuel_l}
    if worth.price_cm_ha is not None and settings.costs.currency is not None:
        facts |= {"gain_money": gain * worth.price_cm_ha, "currency": settings.costs.currency}
    weak = beyond_the_tractor_cm(np.array(worth.levels_cm), settings)
    if weak and settings.costs.fuel_per_l is not None:
        facts["depths_too_heavy_cm"] = ", ".join(f"{depth:g}" for depth in weak)
    return facts


def _survey(field: _Field, chosen: _Chosen, size: dict[str, float | str]) -> Survey:
    inputs, count = field.inputs, len(chosen.xy_m)
    ranked = bool(np.isfinite(chosen.gain_cm_ha).all())
    start = _start(inputs)
    order = survey.walking_order(chosen.xy_m, None if start is None else np.array(start))
    xy_m = chosen.xy_m[order]
    near = near_keep_off(xy_m, field.keep_off)
    many = _pit_count(chosen.part, first=not ranked)
    pits = survey.pits_among(xy_m, chosen.part[order], many, near)
    table = {
        "station": _names("S", field.stations, "cone", count),
        "part": chosen.part[order],
        "role": chosen.role[order],
        "pit": _pit_names(pits, field.stations),
        "insertions": int(constant(RULES, "insertions")),
        "walk_m": survey.walk_m(chosen.xy_m, order, None if start is None else np.array(start)),
        "rank": pd.array(np.array(order) + 1 if ranked else [None] * count, dtype="Int64"),
        "gain_cm_ha": chosen.gain_cm_ha[order],
    }
    proposed = gpd.GeoDataFrame(table, geometry=shapely.points(xy_m), crs=inputs.working_crs)
    facts = {**size, "stations": count, **_effort(proposed, start), **chosen.facts}
    facts["stations_not_used"] = int(
        (~field.stations["used"] & (field.stations["kind"] == "cone")).sum()
    )
    facts["form_step_cm"] = _form_step_cm(inputs.cone)
    taken = field.stations[["station", "kind", "x_m", "y_m", "used"]]
    return Survey(
        settings=inputs.settings,
        files=inputs.files,
        boundary=inputs.boundary,
        working_crs=inputs.working_crs,
        parts=field.parts,
        keep_off=field.keep_off,
        taken=placed(taken, inputs.working_crs)[taken["used"]],
        proposed=proposed,
        start=start,
        facts=facts,
        notices=survey_notices(
            (*field.notices, *pits_near_keep_off(proposed, field.keep_off)),
            field.parts,
            proposed,
            inputs,
            field.ground,
            field.keep_off,
        ),
    )


def _start(inputs: FieldInputs) -> tuple[float, float] | None:
    """Return the place of the first gateway (from the south-west), where the walk begins."""
    if inputs.gateways.empty:
        return None
    points = shapely.get_coordinates(shapely.centroid(inputs.gateways.geometry.to_numpy()))
    x_m, y_m = min((float(x), float(y)) for x, y in points)
    return x_m, y_m


def _form_step_cm(cone: pd.DataFrame) -> float:
    """Return the depth step of the form: finer where the field's own log is as fine [cm]."""
    usual, fine = (constant(RULES, name) for name in ("form_step_cm", "form_fine_step_cm"))
    depth = cone.sort_values(["insertion_id", "depth_cm"]).groupby("insertion_id")["depth_cm"]
    own = float(depth.diff().median()) if len(cone) else usual
    return fine if own <= fine else usual


def _pit_count(part: NDArray[np.str_], *, first: bool) -> int:
    """Return how many pits: a share of the stations, in a first survey one in each part."""
    share = round(constant(RULES, "pit_share") * len(part))
    least = max(int(constant(RULES, "pits_least")), len(set(part.tolist()))) if first else 1
    return min(len(part), max(least, share))


def _names(letter: str, stations: pd.DataFrame, kind: str, count: int) -> list[str]:
    taken = stations.loc[stations["kind"] == kind, "station"].astype(str)
    return survey.next_names(letter, taken, count)


def _pit_names(dug: NDArray[np.bool_], stations: pd.DataFrame) -> list[str]:
    names = iter(_names("P", stations, "pit", int(dug.sum())))
    return [next(names) if here else "" for here in dug]


def _effort(
    proposed: gpd.GeoDataFrame, start: tuple[float, float] | None
) -> dict[str, float | str]:
    """Return how long the walk is and how long the day."""
    walk_m = float(proposed["walk_m"].iloc[-1])
    if start is not None:
        walk_m += float(proposed.geometry.iloc[-1].distance(shapely.Point(start)))
    pits = int((proposed["pit"] != "").sum())
    minutes = 60.0 * walk_m / 1000.0 / constant(RULES, "walk_speed_km_h")
    minutes += len(proposed) * constant(RULES, "station_min") + pits * constant(RULES, "pit_min")
    return {"pits": pits, "walk_m": walk_m, "time_min": minutes}
