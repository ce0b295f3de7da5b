"""A field turned, its travel heading with it, keeps its plan: nothing but coordinates change.

What is left is rounding. Places are held to some 1e-9 m, so a cost may differ in its tenth figure,
and where two depths cost the same to that figure the choice may fall on the other.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from invariants.checks import slack_m2
from invariants.conftest import A_FIFTH
from invariants.fields import inputs_of, planned
from invariants.turning import (
    Turn,
    furnished,
    headed,
    share_of_another_depth,
    turn_of,
    turned,
)
from scipy.spatial import cKDTree
from shapely import MultiPolygon
from shapely.affinity import rotate

from zoning.depths import default_heading
from zoning.errors import PlanRefused
from zoning.model import FieldInputs, PanSurface, Plan
from zoning.workflow.decide import Driven, Ground, decide, lay_ground

SEEDS = st.integers(0, 10**6)
ANY_ANGLE = st.floats(0.0, 360.0)
RELATIVE = 1e-5
MOVED_SHARE = 1e-3
PLACES_M = 1e-5


@A_FIFTH
@given(SEEDS, ANY_ANGLE)
def test_a_turned_field_keeps_its_plan(seed: int, angle_deg: float) -> None:
    inputs = headed(furnished(inputs_of(seed), seed))
    keeps_its_plan(inputs, angle_deg)


@A_FIFTH
@given(SEEDS, ANY_ANGLE)
def test_a_field_without_a_heading_turns_too(seed: int, angle_deg: float) -> None:
    """The longest side is driven with the field on the right, whatever way it lies."""
    inputs = inputs_of(seed)
    machine = dataclasses.replace(inputs.settings.machine, travel_heading_deg=None)
    inputs = dataclasses.replace(
        inputs, settings=dataclasses.replace(inputs.settings, machine=machine)
    )
    if sides_alike(inputs.boundary):
        return
    keeps_its_plan(inputs, angle_deg)


@A_FIFTH
@given(SEEDS, ANY_ANGLE)
def test_what_a_plan_rests_on_turns_with_the_field(seed: int, angle_deg: float) -> None:
    inputs = headed(furnished(inputs_of(seed), seed))
    turn = turn_of(inputs, angle_deg)
    one, two = decided(inputs), decided(turned(inputs, turn))
    if one is None or two is None:
        assert one is two
        return
    same_pieces(one, two)
    assert differing_m2(one, two, turn) <= MOVED_SHARE * inputs.boundary.area
    assert one.places.part.tolist() == two.places.part.tolist()
    same_pan(one.pan, two.pan)


@A_FIFTH
@given(SEEDS, st.sampled_from([90.0, 180.0, 270.0]))
def test_a_quarter_turn_lays_cells_on_cells(seed: int, angle_deg: float) -> None:
    """The published raster is north-up: only these turns keep its cells."""
    inputs = headed(inputs_of(seed))
    turn = turn_of(inputs, angle_deg)
    here, there = (grounded(each) for each in (inputs, turned(inputs, turn)))
    if here is None or there is None:
        assert here is there
        return
    assert len(here.cells.xy_m) == len(there.cells.xy_m)
    apart, cell = cKDTree(here.cells.xy_m).query(turn.back.places(there.cells.xy_m))
    assert apart.max() < PLACES_M
    assert (here.cells.part[cell] == there.cells.part).all()
    same_pan(here.pan.take(cell), there.pan)


def sides_alike(boundary: MultiPolygon) -> bool:
    """Return whether nothing but the compass says which of two sides is driven along."""
    for angle in np.arange(15.0, 360.0, 15.0):
        other = default_heading(rotate(boundary, -angle, origin=(0.0, 0.0)))
        off = (other - angle - default_heading(boundary) + 180.0) % 360.0 - 180.0
        if abs(off) > 1e-3:
            return True
    return False


def grounded(inputs: FieldInputs) -> Ground | None:
    try:
        return lay_ground(inputs)
    except PlanRefused:
        return None


def decided(inputs: FieldInputs) -> Driven | None:
    ground = grounded(inputs)
    return None if ground is None else decide(inputs, ground)


def keeps_its_plan(inputs: FieldInputs, angle_deg: float) -> None:
    """Assert that the field and the turned field have one plan, or both none."""
    turn = turn_of(inputs, angle_deg)
    plan, other = planned(inputs), planned(turned(inputs, turn))
    if plan is None or other is None:
        assert plan is other
        return
    same_plan(plan, other, turn)


def same_plan(plan: Plan, other: Plan, turn: Turn) -> None:
    same_parts(plan, other)
    same_passes(plan, other, turn)
    assert share_of_another_depth(plan, other, turn) <= MOVED_SHARE
    same_zones(plan, other, turn)
    losses = (dataclasses.asdict(each.losses) for each in (plan, other))
    assert next(losses) == pytest.approx(next(losses), rel=RELATIVE, abs=1e-6)
    told = ({k: v for k, v in p.surface_report.items() if k != "outliers"} for p in (plan, other))
    for (name, one), two in zip(next(told).items(), next(told).values(), strict=True):
        assert one == (pytest.approx(two, rel=1e-3, abs=1e-4) if isinstance(two, float) else two), (
            name
        )


def same_parts(plan: Plan, other: Plan) -> None:
    assert list(plan.parts["part"]) == list(other.parts["part"])
    apart = np.abs(plan.parts.area.to_numpy() - other.parts.area.to_numpy())
    assert apart.max() <= 10 * slack_m2(plan)


def same_passes(plan: Plan, other: Plan, turn: Turn) -> None:
    """The same runs in the same order, along the same lines driven the same way."""
    one, two = plan.passes, other.passes
    for name in ("pass", "step", "depth_cm", "part"):
        assert one[name].tolist() == two[name].tolist(), name
    assert np.allclose(one[["from_m", "to_m"]], two[["from_m", "to_m"]], rtol=0, atol=PLACES_M)
    ends = [shapely.get_coordinates(shapely.get_point(p.geometry, 0)) for p in (one, two)]
    assert np.allclose(ends[0], turn.back.places(ends[1]), rtol=0, atol=PLACES_M)


def same_zones(plan: Plan, other: Plan, turn: Turn) -> None:
    """The same zones with the same numbers, in an order of their own: they count from the north."""
    back = turn.back.layer(other.zones)
    assert len(back) == len(plan.zones)
    shared = shapely.area(
        shapely.intersection(
            plan.zones.geometry.to_numpy()[:, None], back.geometry.to_numpy()[None, :]
        )
    )
    match = back.iloc[shared.argmax(axis=1)]
    assert sorted(match["zone"]) == sorted(other.zones["zone"])
    for name in ("depth_cm", "area_ha", "pan_base_cm", "assurance", "headland_share"):
        found = match[name].to_numpy(dtype=float), plan.zones[name].to_numpy(dtype=float)
        assert np.allclose(*found, rtol=RELATIVE, atol=1e-6), name
    for name in ("parts", "cleared"):
        assert match[name].tolist() == plan.zones[name].tolist(), name


def same_pieces(one: Driven, two: Driven) -> None:
    here, there = one.laid.pieces, two.laid.pieces
    for name in ("pass_id", "kind", "step"):
        assert here[name].tolist() == there[name].tolist(), name
    assert one.choice.depth_cm.tolist() == two.choice.depth_cm.tolist()


def differing_m2(one: Driven, two: Driven, turn: Turn) -> float:
    """Return the ground that does not lie in the same piece."""
    back = turn.back.layer(two.laid.pieces).geometry.to_numpy()
    own = shapely.intersection(one.laid.pieces.geometry.to_numpy(), back)
    return float(one.laid.pieces.area.sum() - shapely.area(own).sum())


def same_pan(one: PanSurface, two: PanSurface) -> None:
    assert np.allclose(one.base_mean_cm, two.base_mean_cm, rtol=0, atol=1e-5)
    assert np.allclose(one.pan_probability, two.pan_probability, rtol=0, atol=1e-6)
    assert np.allclose(one.base_sd_cm, two.base_sd_cm, rtol=RELATIVE, atol=0)
    assert (one.stations_near == two.stations_near).all()
