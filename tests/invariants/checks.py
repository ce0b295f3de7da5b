"""What every plan keeps, whatever the field: one function a rule."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import shapely

from zoning.model import FieldInputs, Plan
from zoning.parts import hazard_zones
from zoning.workflow.cautions import cleared

TOUCH_M2 = 1e-4
NODE_M = 2.0**-26  # outlines are noded on this grid (node_grid_exponent)


def keep_off(plan: Plan) -> gpd.GeoDataFrame:
    return hazard_zones(plan.hazards, machine_width_m=plan.settings.machine.width_m)[0]


def slack_m2(plan: Plan) -> float:
    """A billionth of the field, or what the grid of the vertices moves its outline by."""
    return max(1e-9 * plan.boundary.area, NODE_M * plan.boundary.length)


def zones_partition_the_field(plan: Plan, _inputs: FieldInputs) -> None:
    shapes = plan.zones.geometry.to_numpy()
    assert shapely.is_valid(shapes).all()
    assert shapely.coverage_is_valid(shapes)
    assert abs(shapely.area(shapes).sum() - plan.boundary.area) <= slack_m2(plan)
    differing = shapely.union_all(shapes).symmetric_difference(plan.boundary).area
    assert differing <= 1e-6 * plan.boundary.area
    assert sorted(plan.zones["zone"]) == list(range(1, len(plan.zones) + 1))


def parts_partition_the_field(plan: Plan, _inputs: FieldInputs) -> None:
    assert abs(plan.parts.area.sum() - plan.boundary.area) <= slack_m2(plan)


def depths_are_settings_of_the_machine(plan: Plan, _inputs: FieldInputs) -> None:
    machine = plan.settings.machine
    depths = np.concatenate([plan.zones["depth_cm"], plan.passes["depth_cm"]]).astype(float)
    worked = depths[depths != 0]
    assert np.isfinite(depths).all()
    assert ((worked >= machine.depth_min_cm) & (worked <= machine.depth_max_cm)).all()
    steps = (worked - machine.depth_min_cm) / machine.depth_step_cm
    assert np.allclose(steps, steps.round(), atol=1e-9)
    assert set(plan.passes["depth_cm"]) == set(plan.zones["depth_cm"])


def few_depths(plan: Plan, _inputs: FieldInputs) -> None:
    """No more depths than asked for, unless a hazard asks for another."""
    worked = {depth for depth in plan.zones["depth_cm"] if depth > 0}
    if plan.hazards.empty:
        assert len(worked) <= plan.settings.depth.max_depths


def legs_stay_in_unless_allowed(plan: Plan, _inputs: FieldInputs) -> None:
    if not plan.settings.depth.lift_out and plan.hazards.empty:
        assert (plan.zones["depth_cm"] > 0).all()


def no_zone_is_deeper_than_a_hazard_allows(plan: Plan, _inputs: FieldInputs) -> None:
    depth = plan.zones["depth_cm"].to_numpy(dtype=float)
    for ground, cap in zip(keep_off(plan).geometry, keep_off(plan)["cap_cm"], strict=True):
        shared = shapely.area(shapely.intersection(plan.zones.geometry.to_numpy(), ground))
        assert not ((shared > TOUCH_M2) & (depth > cap)).any()


def no_run_is_deeper_where_the_machine_touches(plan: Plan, _inputs: FieldInputs) -> None:
    """The full width of the machine counts, not the middle line alone."""
    half = plan.settings.machine.width_m / 2
    swaths = shapely.buffer(plan.passes.geometry.to_numpy(), half, cap_style="flat")
    depth = plan.passes["depth_cm"].to_numpy(dtype=float)
    for ground, cap in zip(keep_off(plan).geometry, keep_off(plan)["cap_cm"], strict=True):
        shared = shapely.area(shapely.intersection(swaths, ground))
        assert not ((shared > TOUCH_M2) & (depth > cap)).any()


def short_runs_are_forced_and_told(plan: Plan, _inputs: FieldInputs) -> None:
    """A run is shorter than asked for only where a hazard forces it, and of work that is said."""
    least = plan.settings.depth.min_run_m
    runs = plan.passes
    length = (runs["to_m"] - runs["from_m"]).to_numpy(dtype=float)
    whole = runs.groupby("pass")["to_m"].transform("max") - runs.groupby("pass")[
        "from_m"
    ].transform("min")
    several = runs.groupby("pass")["depth_cm"].transform("nunique").to_numpy() > 1
    ends = runs.groupby("pass")["step"].transform("max").to_numpy()
    inner = (runs["step"].to_numpy() > 1) & (runs["step"].to_numpy() < ends)
    short = several & inner & (length < least - 0.51) & (whole.to_numpy() >= least)
    if short.any():
        assert not plan.hazards.empty
    if (short & (runs["depth_cm"].to_numpy() > 0)).any():
        assert "short-runs-at-hazards" in {notice.code for notice in plan.notices}


def words_on_services_fit(plan: Plan, _inputs: FieldInputs) -> None:
    for depth, word in zip(plan.zones["depth_cm"], plan.zones["cleared"], strict=True):
        assert word == cleared(float(depth), plan.settings)
    assert plan.notices[0].code.startswith("services-")
    assert " safe" not in " ".join(notice.text.lower() for notice in plan.notices)


def every_reading_is_accounted_for(plan: Plan, inputs: FieldInputs) -> None:
    assert set(plan.insertions["insertion_id"]) == set(inputs.cone["insertion_id"])
    assert set(inputs.cone["station"]) <= set(plan.stations["station"])
    assert (plan.stations.loc[~plan.stations["used"], "reason"] != "").all()


def rasters_hold_numbers_inside_and_nothing_outside(plan: Plan, _inputs: FieldInputs) -> None:
    for name, band in plan.rasters.items():
        assert np.isfinite(band[plan.inside]).all(), name
        assert np.isnan(band[~plan.inside]).all(), name
    chance = plan.rasters["pan_probability"][plan.inside]
    assert ((chance >= 0) & (chance <= 1)).all()
    assert (plan.rasters["pan_base_sd_cm"][plan.inside] >= 0).all()
    assert set(plan.rasters["working_depth_cm"][plan.inside]) <= set(plan.zones["depth_cm"])


def no_plan_beats_the_free_choice(plan: Plan, _inputs: FieldInputs) -> None:
    assert plan.losses.unconstrained_cm <= plan.losses.driven_cm + 1e-9


RULES = (
    zones_partition_the_field,
    parts_partition_the_field,
    depths_are_settings_of_the_machine,
    few_depths,
    legs_stay_in_unless_allowed,
    no_zone_is_deeper_than_a_hazard_allows,
    no_run_is_deeper_where_the_machine_touches,
    short_runs_are_forced_and_told,
    words_on_services_fit,
    every_reading_is_accounted_for,
    rasters_hold_numbers_inside_and_nothing_outside,
    no_plan_beats_the_free_choice,
)
