"""Trial speeds: only what the tractor reaches, by draft that rises with speed (ASAE D497)."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import pytest

from zoning.model import Notice, Plan
from zoning.model.settings import TractorSection
from zoning.outputs.sheet.trials import FASTER, FASTEST, fastest_km_h, trial_rows
from zoning.outputs.sheet.words import slowest

OWN = 8.0  # km/h, the machine's speed in the plan drawn by hand


def pulled(
    plan: Plan, changed: Callable[..., Plan], speeds: list[float], needed_kw: list[float]
) -> Plan:
    settings = dataclasses.replace(plan.settings, tractor=TractorSection(pto_power_kw=180.0))
    zones = plan.zones.assign(work_speed_km_h=speeds, pto_power_kw=needed_kw)
    return changed(settings=settings, zones=zones)


def test_without_power_nothing_is_known_and_all_speeds_stand(plan: Plan) -> None:
    assert plan.settings.machine.speed_km_h == OWN
    assert fastest_km_h(plan) == {}
    assert [row["speed"] for row in trial_rows(plan)] == ["4", "6", "8", "10"]


def test_speeds_are_rounded_down_but_the_machines_own(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    slow = pulled(plan, changed, [7.29, OWN, OWN], [211.0, 170.0, 0.0])
    assert fastest_km_h(slow) == {37.5: 7.2, 32.5: OWN}


def test_a_speed_out_of_reach_at_one_depth_says_so(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    told = trial_rows(pulled(plan, changed, [7.29, OWN, OWN], [211.0, 170.0, 0.0]))
    assert [row["speed"] for row in told] == ["4", "6", "8"]  # 170 kW x 10 / 8 is over 180 kW
    assert told[-1]["look_for"].startswith("No faster than 7.2 at 37.5 cm. ")
    assert all("faster" not in row["look_for"] for row in told[:-1])


def test_a_speed_out_of_reach_at_every_depth_gives_way_to_the_fastest(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    told = trial_rows(pulled(plan, changed, [6.6, 7.29, OWN], [260.0, 211.0, 0.0]))
    assert [row["speed"] for row in told] == ["4", "6", "7.2"]
    slower = "No faster than 6.6 at 37.5 cm. "
    assert told[-1]["look_for"] == f"{FASTEST}{slower}Surface level? Clods brought up? Depth held?"


def test_the_fastest_speed_next_to_a_usual_one_is_no_run_of_its_own(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    told = trial_rows(pulled(plan, changed, [4.2, 4.2, OWN], [400.0, 400.0, 0.0]))
    assert [row["speed"] for row in told] == ["4"]


def test_a_speed_over_the_machines_own_is_the_tractors_to_show(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    told = trial_rows(pulled(plan, changed, [OWN, OWN, OWN], [100.0, 100.0, 0.0]))
    assert [row["speed"] for row in told] == ["4", "6", "8", "10"]
    assert told[-1]["look_for"].startswith(FASTER + "A ridge")
    # Draft of narrow points: 226 + 1.8 S^2 (ASAE D497), so power for 10 km/h is that for 8 x 1.487.
    for needed, held in ((121.0, True), (121.1, False)):
        rows = trial_rows(pulled(plan, changed, [OWN, OWN, OWN], [needed, needed, 0.0]))
        assert (rows[-1]["speed"] == "10") == held
    part = trial_rows(pulled(plan, changed, [OWN, OWN, OWN], [150.0, 100.0, 0.0]))
    assert part[-1]["look_for"].startswith(FASTER + "At 32.5 cm alone. ")


def test_the_plans_own_speed_is_tried_where_the_next_usual_one_is_held_at_some_depths_alone(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    """By hand: 226 + 1.8 S^2 makes 8 km/h take 1.241 times the power of 7 (ASAE D497)."""
    machine = dataclasses.replace(plan.settings.machine, speed_km_h=7.0)
    settings = dataclasses.replace(plan.settings, machine=machine)
    own = changed(settings=settings)
    for deep_kw, last in ((150.0, ["7"]), (144.0, ["7", "8"])):
        rows = trial_rows(pulled(own, changed_of(own), [7.0, 7.0, 7.0], [deep_kw, 100.0, 0.0]))
        assert [row["speed"] for row in rows] == ["4", "6", *last]
    assert rows[-2]["look_for"].startswith("As planned. Is the ridge lower?")
    part = trial_rows(pulled(own, changed_of(own), [7.0, 7.0, 7.0], [150.0, 100.0, 0.0]))[-1]
    assert part["look_for"].startswith("As planned; 8 km/h at 32.5 cm alone, if the tractor holds")
    slow = trial_rows(pulled(own, changed_of(own), [6.5, 7.0, 7.0], [190.0, 100.0, 0.0]))[-1]
    assert slow["look_for"].startswith("No faster than 6.5 at 37.5 cm. As planned; 8 km/h at 32.5")


def test_a_whole_speed_is_tried_where_the_next_usual_one_is_held_at_no_depth(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    """By hand: 226 + 1.8 S^2 makes 7 km/h take 1.261 times the power of 6, 8 km/h 1.564 times."""
    machine = dataclasses.replace(plan.settings.machine, speed_km_h=6.0)
    own = changed(settings=dataclasses.replace(plan.settings, machine=machine))
    for deep_kw, last in ((142.7, "7"), (142.9, "6"), (115.0, "8")):
        rows = trial_rows(pulled(own, changed_of(own), [6.0, 6.0, 6.0], [deep_kw, deep_kw, 0.0]))
        assert rows[-1]["speed"] == last
    assert len(rows) == 3
    (row,) = trial_rows(pulled(own, changed_of(own), [6.0, 6.0, 6.0], [141.0, 120.0, 0.0]))[2:]
    assert row == {
        "speed": "7",
        "look_for": f"{FASTER}Surface level? Clods brought up? Depth held?",
    }


@pytest.mark.parametrize(
    ("speed_km_h", "tried"),
    [
        (8.0, ["4", "6", "8", "10"]),
        (7.5, ["4", "6", "7.5", "8", "10"]),
        (3.0, ["3", "4", "6", "8", "10"]),
        (7.7, ["4", "6", "8", "10"]),  # less than trial_apart_km_h from a usual one
    ],
)
def test_the_speed_of_the_plan_is_always_tried(
    plan: Plan, changed: Callable[..., Plan], speed_km_h: float, tried: list[str]
) -> None:
    machine = dataclasses.replace(plan.settings.machine, speed_km_h=speed_km_h)
    own = changed(settings=dataclasses.replace(plan.settings, machine=machine))
    assert [row["speed"] for row in trial_rows(own)] == tried
    assert "Take the slowest speed" in slowest(own)


def test_where_the_depths_hold_the_ridge_of_a_speed_none_below_it_is_tried(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    machine = dataclasses.replace(plan.settings.machine, speed_km_h=7.0)
    held = "The depths hold 3.5 cm for the ridge, and keep 7 km/h, since slower leaves more."
    own = changed(
        settings=dataclasses.replace(plan.settings, machine=machine),
        notices=(*plan.notices, Notice("caution", "ridge-allowance", held, keys=("speed_km_h",))),
    )
    assert [row["speed"] for row in trial_rows(own)] == ["7", "8", "10"]
    assert "ridge of 7 km/h as measured: work no slower" in slowest(own)


def test_the_speed_of_the_plan_is_no_limit_of_the_tractor_where_that_pulls_it(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    machine = dataclasses.replace(plan.settings.machine, speed_km_h=7.0)
    own = changed(settings=dataclasses.replace(plan.settings, machine=machine))
    told = trial_rows(pulled(own, changed_of(own), [7.0, 7.0, 7.0], [170.0, 170.0, 0.0]))
    assert [row["speed"] for row in told] == ["4", "6", "7"]
    assert told[-1]["look_for"] == "As planned. Surface level? Clods brought up? Depth held?"


def changed_of(plan: Plan) -> Callable[..., Plan]:
    return lambda **facts: dataclasses.replace(plan, **facts)


@pytest.mark.parametrize("speed", [float("nan")])
def test_what_cannot_be_pulled_is_not_tried(
    plan: Plan, changed: Callable[..., Plan], speed: float
) -> None:
    told = trial_rows(pulled(plan, changed, [speed, OWN, OWN], [400.0, 170.0, 0.0]))
    assert "Not at 37.5 cm: the tractor cannot pull it." in told[0]["look_for"]
    assert trial_rows(pulled(plan, changed, [speed, speed, OWN], [400.0, 400.0, 0.0])) == []
