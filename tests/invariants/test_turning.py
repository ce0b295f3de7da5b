"""A field turned with its travel heading keeps its plan, as far as the raster lets it.

The raster is north-up, so only a quarter turn puts cells on cells. What does not go by cells (the
parts, what is predicted at a place, the passes) follows any turn; the depths follow as far as the
sums over other cells agree.
"""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from invariants.checks import slack_m2
from invariants.conftest import A_FIFTH
from invariants.fields import inputs_of, planned
from invariants.turning import Turn, share_of_another_depth, turn_of, turned
from scipy.spatial import cKDTree

from zoning import depths, surface
from zoning.model import FieldInputs, PanSurface, Plan
from zoning.workflow.division import divide
from zoning.workflow.interpret import interpret
from zoning.workflow.make import lay_ground

SEEDS = st.integers(0, 10**6)
# The spread takes its factor for the uncertain covariance from places half-way between readings
# that follow each other from west to east: a turn changes which those are.
SPREAD_RELATIVE = 0.05
QUARTER_SHARE, ANY_SHARE = 0.05, 0.15
PLACES_M = 1e-6


@A_FIFTH
@given(SEEDS, st.sampled_from([90.0, 180.0, 270.0]))
def test_a_quarter_turn_changes_nothing_but_the_coordinates(seed: int, angle_deg: float) -> None:
    inputs, other, turn = pair(seed, angle_deg)
    plan, changed = planned(inputs), planned(other)
    if plan is None or changed is None:
        assert plan is changed
        return
    here, there = lay_ground(inputs), lay_ground(other)
    assert len(here.cells.xy_m) == len(there.cells.xy_m)
    apart, cell = cKDTree(here.cells.xy_m).query(turn.back.places(there.cells.xy_m))
    assert apart.max() < PLACES_M
    assert (here.cells.part[cell] == there.cells.part).all()
    same_pan(here.pan.take(cell), there.pan)
    same_parts(plan, changed)
    assert share_of_another_depth(plan, changed, turn) <= QUARTER_SHARE


@A_FIFTH
@given(SEEDS, st.floats(1.0, 89.0))
def test_any_turn_keeps_parts_predictions_and_passes(seed: int, angle_deg: float) -> None:
    inputs, other, turn = pair(seed, angle_deg)
    plan, changed = planned(inputs), planned(other)
    if plan is None or changed is None:
        assert plan is changed
        return
    same_parts(plan, changed)
    places, part = plan_cells(plan)
    same_pan(pan_at(inputs, places, part), pan_at(other, turn.places(places), part))
    one, two = (laid_areas_m2(each) for each in (inputs, other))
    assert np.allclose(one, two, rtol=0, atol=1e-3)
    assert share_of_another_depth(plan, changed, turn) <= ANY_SHARE


def pair(seed: int, angle_deg: float) -> tuple[FieldInputs, FieldInputs, Turn]:
    """Return a field with its heading made explicit, the field turned, and the turn."""
    inputs = inputs_of(seed)
    inputs = turned(inputs, turn_of(inputs, 0.0))
    turn = turn_of(inputs, angle_deg)
    return inputs, turned(inputs, turn), turn


def plan_cells(plan: Plan) -> tuple[np.ndarray, list[str]]:
    places = plan.grid.centres_m()[plan.inside.ravel()][::7]
    return places, [str(plan.parts["part"].iloc[i % len(plan.parts)]) for i in range(len(places))]


def pan_at(inputs: FieldInputs, places: np.ndarray, part: list[str]) -> PanSurface:
    divided = divide(inputs)
    stations = interpret(inputs, divided.parts).stations
    used = stations[stations["used"]]
    return surface.PanModel.fit(used, heading_deg=divided.heading_deg).predict(places, part)


def laid_areas_m2(inputs: FieldInputs) -> np.ndarray:
    """Return the areas of the steps of all passes, in order of size."""
    settings = inputs.settings
    laid = depths.lay_passes(
        inputs.boundary,
        width_m=settings.machine.width_m,
        headland_width_m=settings.areas.headland_width_m,
        heading_deg=divide(inputs).heading_deg,
        step_m=5.0,
        offset_m=1.0,
    )
    return np.sort(laid.pieces.area.to_numpy())


def same_parts(plan: Plan, other: Plan) -> None:
    assert list(plan.parts["part"]) == list(other.parts["part"])
    apart = np.abs(plan.parts.area.to_numpy() - other.parts.area.to_numpy())
    assert apart.max() <= 10 * slack_m2(plan)


def same_pan(one: PanSurface, two: PanSurface) -> None:
    assert np.allclose(one.base_mean_cm, two.base_mean_cm, rtol=0, atol=1e-6)
    assert np.allclose(one.pan_probability, two.pan_probability, rtol=0, atol=1e-6)
    assert np.allclose(one.base_sd_cm, two.base_sd_cm, rtol=SPREAD_RELATIVE, atol=0)
    assert (one.stations_near == two.stations_near).all()
