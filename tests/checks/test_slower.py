"""The speed to go back to: one at which the pan was passed with less ridge, else the planned."""

from __future__ import annotations

import math

import pandas as pd
import pytest
from checks.test_speed import pit, told
from hypothesis import given, settings
from hypothesis import strategies as st

from zoning.checks.slower import slower_km_h, tried
from zoning.model.settings import MachineSection

PLAN = MachineSection(speed_km_h=6.0)
NAN = float("nan")
Dug = tuple[float, float, bool]


def named(*dug: Dug, plan_km_h: float = 6.0) -> float:
    """Return the speed to go back to, of pits: speed, ridge and whether the pan was passed."""
    frame = pd.DataFrame(dug, columns=["speed_km_h", "ridge_cm", "passed"])
    frame = frame.assign(chance_between=frame["passed"].astype(float), depth_cm=35.0, part="")
    return slower_km_h(frame, plan_km_h)


def test_that_the_ridge_falls_with_speed_is_asked_at_each_depth() -> None:
    """The headland is deeper, is driven slower and has the larger ridge."""
    rows = [(9.0, 8.5, 37.5), (9.5, 8.5, 37.5), (8.0, 11.0, 42.5), (8.5, 11.0, 42.5)]
    pits = pd.DataFrame(rows, columns=["speed_km_h", "ridge_cm", "depth_cm"])
    pits = pits.assign(chance_between=0.0, part="")
    assert slower_km_h(pits, 6.0) == 6.0
    assert math.isnan(slower_km_h(pits.assign(depth_cm=40.0), 6.0))


@pytest.mark.parametrize(
    ("dug", "plan_km_h", "to_km_h"),
    [
        # Passed with clearly less ridge: whether the fast ridge is uneven, or the slow one even.
        ([(6, 3, True), (8, 8, False)], 6.0, 6.0),
        ([(5, 4.5, True), (9, 11, False)], 6.0, 5.0),
        ([(5, 3, True), (6, 3, True), (9, 8, False)], NAN, 6.0),
        # Slower still was worse: the one between is named.
        ([(4, 12, False), (6, 3, True), (9, 12, False)], NAN, 6.0),
        # The fast pits passed, evenly or not.
        ([(6, 3, True), (8, 8, True)], 6.0, NAN),
        ([(6, 3, True), (8, 12, True)], 6.0, 6.0),
        # Not clearly less; or no speed passed, and the planned is as bad.
        ([(6, 3, True), (8, 4.5, False)], 6.0, NAN),
        ([(6, 9, False), (8, 9, False)], 6.0, NAN),
        ([(5, 5, False), (8, 11, False)], 6.0, NAN),
        # No such speed: that of the plan, where it left clearly less or all ran faster.
        ([(6, 5, False), (9, 11, False)], 6.0, 6.0),
        ([(8, 7, False)], 6.0, 6.0),
        ([(8, 7, False), (9, 7.5, False)], 6.0, 6.0),
        ([(8, 7, False)], NAN, NAN),
        ([(6.5, 7, False)], 6.0, NAN),
        # All ran faster, but evenly, or the more even the faster, or past the pan.
        ([(8, 3, False)], 6.0, NAN),
        ([(8, 12, False), (10, 8, False)], 6.0, NAN),
        ([(8, 7, True)], 6.0, NAN),
    ],
)
def test_the_speed_to_go_back_to(dug: list[Dug], plan_km_h: float, to_km_h: float) -> None:
    assert named(*dug, plan_km_h=plan_km_h) == pytest.approx(to_km_h, nan_ok=True)


def test_speeds_are_compared_in_the_part_that_was_driven_at_both() -> None:
    """The gateway has more of a ridge than the headland, and less of it the faster it is driven."""
    rows = [(6.0, 3.5, 1.0, "headland")] * 4 + [(8.0, 7.0, 0.0, "gateway")]
    own = ["speed_km_h", "ridge_cm", "chance_between", "part"]
    apart = pd.DataFrame(rows, columns=own).assign(depth_cm=40.0)
    both = pd.DataFrame([*rows, (6.0, 10.0, 0.0, "gateway")], columns=own).assign(depth_cm=40.0)
    assert slower_km_h(apart, 6.0) == 6.0
    assert math.isnan(slower_km_h(both, 6.0))


@pytest.mark.parametrize(
    ("tried_cm", "part", "to_km_h"),
    [(9, "body", NAN), (5.1, "body", NAN), (5, "body", 6.0), (9, "headland", NAN), (NAN, "", 6.0)],
)
def test_a_speed_that_was_driven_and_left_as_much_is_not_gone_back_to(
    tried_cm: float, part: str, to_km_h: float
) -> None:
    pits = pd.DataFrame({"speed_km_h": [8.0], "ridge_cm": 7.0, "chance_between": 0.0})
    gone = {"speed_km_h": 6.0, "depth_cm": 35.0, "loosened_at_leg_cm": 40.0, "part": part}
    slow = tried(pd.DataFrame([gone | {"loosened_between_cm": 40 - tried_cm}]), 6.0)
    every = pd.concat([pits.assign(depth_cm=35.0, part="body"), slow])
    assert slower_km_h(every, 6.0) == pytest.approx(to_km_h, nan_ok=True)


def test_the_withdrawn_pit_of_the_part_speaks_against_the_slower_pits_of_another() -> None:
    rows = [(6.0, 3.5, 1.0, "headland")] * 4 + [(8.0, 7.0, 0.0, "gateway")]
    pits = pd.DataFrame(rows, columns=["speed_km_h", "ridge_cm", "chance_between", "part"])
    gone = {"speed_km_h": 6.0, "depth_cm": 40.0, "loosened_at_leg_cm": 43.0, "part": "gateway"}
    slow = tried(pd.DataFrame([gone | {"loosened_between_cm": 33.0}]), 6.0)
    assert math.isnan(slower_km_h(pd.concat([pits.assign(depth_cm=40.0), slow]), 6.0))


def test_withdrawn_pits_at_other_speeds_or_without_a_ridge_say_nothing() -> None:
    gone = pd.DataFrame(
        {"speed_km_h": [6.0, 6.5, 8.0, NAN, 6.0], "loosened_at_leg_cm": 40.0, "part": "",
         "depth_cm": 35.0, "loosened_between_cm": [32.0, 30.0, 38.0, 20.0, NAN]}
    )  # fmt: skip
    assert tried(gone, 6.0)["ridge_cm"].tolist() == [8.0, 10.0]


@settings(max_examples=60, deadline=None)
@given(
    dug=st.lists(
        st.tuples(st.sampled_from([4.0, 5, 6, 7, 8, 9]), st.integers(0, 14), st.booleans()),
        max_size=8,
    )
)
def test_it_is_slower_than_pits_that_failed_and_was_tried_or_planned(dug: list[Dug]) -> None:
    found = named(*dug)
    if math.isnan(found):
        return
    assert found in {6.0, *(km_h for km_h, _, _ in dug)}
    fast = [(ridge, passed) for km_h, ridge, passed in dug if km_h > found]
    assert any(ridge >= 10 or not passed for ridge, passed in fast)


def test_the_speed_that_passed_comes_before_digging_under_the_ridge() -> None:
    rows = [pit(36, 3, 6, i) for i in range(3)] + [pit(36, 8, 8, i) for i in range(3, 9)]
    table = told(*rows, machine=PLAN)
    ((where, text),) = table.loc[table["step"] == "speed", ["where", "text"]].to_numpy()
    assert where == "whole field"
    assert text == (
        "Drive 6 km/h, as planned: the pits show a ridge of 3 cm at 6 km/h (3 pits), 8 cm at 8 "
        "km/h (6 pits). Dig again behind that run; points only after."
    )
    assert not {"depth", "points", "spacing", "under", "soil", "left"} & set(table["step"])


def test_where_all_ran_faster_than_planned_the_planned_speed_comes_first() -> None:
    rows = [pit(36, 7.5, 8, i) for i in range(6)]
    (text,) = told(*rows, machine=PLAN).query("step == 'speed'")["text"]
    assert text.startswith("Drive 6 km/h, as planned: the pits show a ridge of 7.5 cm at 8 km/h")
    gone = {"part": "", "depth_cm": 35.0, "loosened_at_leg_cm": 36.0, "speed_km_h": 6.0}
    slow = tried(pd.DataFrame([gone | {"loosened_between_cm": 27.0}]), 6.0)
    again = told(*rows, machine=PLAN, withdrawn=slow)
    assert not again["text"].str.contains("as planned").any()
    at_plan = told(*rows, machine=MachineSection(speed_km_h=8.0))
    assert not at_plan["text"].str.contains("as planned").any()


def test_withdrawn_pits_of_one_depth_say_nothing_of_the_speed_of_another() -> None:
    """At 40 cm the tractor holds 6 km/h only; at 35 cm pits at 7 left the pan, driven since."""
    machine = MachineSection(speed_km_h=7.0)
    good = [pit(36, 3, 7, i) for i in range(5)]
    deep = [pit(41, 4, 6, 3 * i, x_m=150.0) for i in range(4)]
    gone = {"part": "", "depth_cm": 35.0, "loosened_at_leg_cm": 36.0, "speed_km_h": 7.0}
    withdrawn = tried(pd.DataFrame([gone | {"loosened_between_cm": 27.0}] * 2), 7.0)
    table = told(*good, *deep, machine=machine, withdrawn=withdrawn)
    assert "speed" not in set(table["step"])
    at_depth = withdrawn.assign(depth_cm=40.0)
    (where,) = told(*good, *deep, machine=machine, withdrawn=at_depth).query("step == 'speed'")[
        "where"
    ]
    assert where == "40 cm"


def test_depths_whose_pits_ran_faster_ask_for_nothing_before_the_slower_run() -> None:
    even = [pit(38.5, 4, 5, 3 * i, x_m=150.0) for i in range(2)]
    fast = [pit(36, 12, 9, i) for i in range(6)]
    table = told(*even, *fast, machine=PLAN)
    (text,) = table.query("step == 'speed'")["text"]
    assert text.startswith("Drive 5 km/h: ")
    assert not table["text"].str.contains("faster run").any()
    assert not {"depth", "points", "spacing", "under", "soil"} & set(table["step"])
    # A depth that left the pan at that speed already hears what comes after it.
    deep = [pit(41, 12, 5, 3 * i, x_m=150.0) for i in range(3)]
    slow = [pit(36, 3, 5, i) for i in range(5)]
    asked = told(*deep, *slow, *[pit(36, 12, 9, i) for i in range(5, 9)], machine=PLAN)
    (start,) = asked.query("step == 'under'")["text"]
    assert start.startswith("Only where speed, points and spacing do not do it, drive trial runs")
