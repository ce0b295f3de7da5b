"""Ground that is lifted out: never driven across for a hazard, told by what lifts it."""

from __future__ import annotations

import math
from collections.abc import Callable

import geopandas as gpd
import pytest
from shapely import MultiPolygon, Point, Polygon

from zoning.model import Plan
from zoning.outputs.drawing.plan import hazards_in_order
from zoning.outputs.sheet.facts import sheet_facts
from zoning.outputs.sheet.lifted import gap_step, lifted_steps, passes_left_out


def near(plan: Plan, changed: Callable[..., Plan], *kinds: str, away_m: float = 0.0) -> list[str]:
    """Return the steps where hazards of these kinds lie in the lifted zone, or so far east of it.

    The zone is 40 m wide; 3 m each side are kept off.
    """
    middle = plan.zones.geometry[2].centroid
    places = [Point(middle.x + away_m, middle.y + 2.0 * i) for i, _ in enumerate(kinds)]
    hazards = gpd.GeoDataFrame(
        {"kind": kinds, "name": "", "depth_cm": math.nan, "clear_m": 3.0},
        geometry=places, crs=plan.working_crs,
    )  # fmt: skip
    hazards.loc[hazards["kind"] == "drain", "depth_cm"] = 10.0
    return lifted_steps(changed(hazards=hazards), plan.zones)


def test_ground_without_a_pan_alone_is_driven_across(plan: Plan) -> None:
    (told,) = lifted_steps(plan, plan.zones)
    assert told.startswith("Zone 3, no pan found, legs lifted out: drive across")
    assert lifted_steps(plan, plan.zones.head(2)) == []


def test_ground_over_a_drain_too_shallow_for_the_plan_is_not_said_to_have_no_pan(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    ends = [Point(plan.zones.geometry[2].centroid.x, 4.0), Point(0.0, 0.0)]
    hazards = plan.hazards.assign(kind="drain", depth_cm=40.0, geometry=ends)
    shapes = [*plan.zones.geometry[:2], ends[0].buffer(5.0)]
    words = [
        "",
        "",
        "drain: no deeper than 25 cm over it; held up by a hazard: leave the legs lifted",
    ]
    zones = plan.zones.assign(cautions=words, geometry=shapes)
    (told,) = lifted_steps(changed(hazards=hazards), zones)
    tag = "H1" if hazards_in_order(changed(hazards=hazards))[0].geometry.equals(ends[0]) else "H2"
    assert told.startswith(
        f"Zone 3, legs lifted out over {tag}, where no depth of this plan is shal"
    )
    assert "a pan there may stay, drive across it between worked ground only, do not lower" in told


def test_passes_lifted_all_the_way_are_left_out_by_number(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    def told(*depths_cm: float) -> list[str]:
        rows = {"pass": range(1, len(depths_cm) + 1), "depth_cm": depths_cm}
        return passes_left_out(changed(passes=gpd.GeoDataFrame(rows).assign(step=1)))

    assert passes_left_out(plan) == []
    assert told(30, 0, 0, 0, 30, 0) == ["Leave out passes 2–4, 6: lifted all the way."]
    assert told(30, 0) == ["Leave out pass 2: lifted all the way."]
    assert told(0, 0) == ["Every pass is lifted all the way: none is driven."]
    assert told(*[30, 0] * 12)[0].startswith("Leave out the 12 passes that depth_passes.csv has")


def test_a_field_without_work_is_told_as_one_story(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    none = {"zones": plan.zones.assign(depth_cm=0.0), "passes": plan.passes.assign(depth_cm=0.0)}
    facts = sheet_facts(changed(**none))
    order = facts["order"]
    assert (order["first"], order["stages"]) == ("Nothing is worked: no leg goes in.", [])
    steps = " ".join(order["last"])
    assert "none is driven" in steps
    assert "drive across" not in steps
    assert facts["trials"] == []
    assert "no run is tried" in facts["pit"]


def test_a_gap_in_the_field_is_lifted_and_turned_at(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    (told,) = gap_step(plan)  # a pond
    assert "lift and turn before it" in told
    whole = MultiPolygon([Polygon(part.exterior) for part in plan.boundary.geoms])
    assert gap_step(changed(boundary=whole)) == []


@pytest.mark.parametrize(
    ("kinds", "tag", "words"),
    [(("obstacle",), "an obstacle (H1)", "keep off, go round, never drive or work across"),
     (("service",), "a service (H1)", "only where its owner allows"),
     (("drain",), "a drain (H1)", "only where its owner allows"),
     (("drain", "service"), "a service (H2)", "only where its owner allows"),
     (("obstacle", "obstacle"), "an obstacle (H1)", "keep off, go round")],
)  # fmt: skip
def test_the_strictest_words_of_what_lifts_a_zone_are_told_alone(
    plan: Plan, changed: Callable[..., Plan], kinds: tuple[str, ...], tag: str, words: str
) -> None:
    (told,) = near(plan, changed, *kinds)
    assert told.startswith(f"Zone 3, legs lifted out for {tag}: ")
    assert words in told
    assert "drive across" not in told


@pytest.mark.parametrize("kind", ["service", "drain"])
def test_an_obstacle_on_a_service_leaves_what_is_said_of_the_service(
    plan: Plan, changed: Callable[..., Plan], kind: str
) -> None:
    round_it, cross = near(plan, changed, kind, "obstacle")
    at = round_it.partition(": at ")[2]
    assert round_it.startswith("Zone 3, legs lifted out for an obstacle (")
    assert at.endswith(" keep off, go round, never drive or work across.")
    assert at[:2] in round_it.partition(":")[0]  # the tag
    assert cross.startswith(f"Zone 3, legs lifted out for a {kind} (")
    assert cross.endswith("cross with the legs up only where its owner allows.")


def test_a_hazard_that_the_machine_does_not_meet_lifts_nothing(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    reach_m = plan.settings.machine.row_gap_cm / 100.0
    (inside,) = near(plan, changed, "obstacle", away_m=20 + 3 + reach_m - 0.1)
    (outside,) = near(plan, changed, "obstacle", away_m=20 + 3 + reach_m + 0.1)
    assert "keep off" in inside
    assert "drive across" in outside


def test_a_deep_drain_lifts_nothing(plan: Plan, changed: Callable[..., Plan]) -> None:
    drain = plan.hazards.iloc[[0]].assign(kind="drain", depth_cm=75.0)
    drain = drain.set_geometry([plan.zones.geometry[2].centroid], crs=plan.working_crs)
    (told,) = lifted_steps(changed(hazards=drain), plan.zones)
    assert "no pan found" in told


def test_where_lifted_ground_reaches_the_end_of_a_pass_it_is_turned_at_its_edge(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    (told,) = lifted_steps(plan, plan.zones)
    assert "turn at its edge" not in told  # it lies in the middle of the pass
    last = plan.passes.index[-1]
    shorter = changed(passes=plan.passes.drop(index=last))
    (told,) = lifted_steps(shorter, plan.zones)
    assert "turn at its edge: the minutes of the plan count driving across it." in told
    never = shorter.passes.assign(depth_cm=0.0)  # a pass lifted all the way has no worked end
    assert "turn" not in lifted_steps(changed(passes=never), plan.zones)[0]
