"""A part that its own pits show not passed is told what to change, not only to be looked at."""

from __future__ import annotations

import pandas as pd
import pytest
from checks.conftest import advised, field_parts, pit_rows, planned_ground, station_rows, trial_rows
from hypothesis import given, settings
from hypothesis import strategies as st

from zoning.checks.advice import advise
from zoning.checks.groups import FIELD, judge_groups
from zoning.checks.pits import judge_pits
from zoning.checks.steps import AT_DEPTH, CHANGES
from zoning.checks.trials import ridge_curve
from zoning.model.settings import MachineSection

Pits = list[dict[str, object]]
THERE = "35 cm in the headland"


def pit(leg: float, ridge: float, at: int, **facts: object) -> dict[str, object]:
    """Return a pit in zone 1 (35 cm), each at a place of its own, or with ``x_m`` elsewhere."""
    place = {"x_m": 12.0 + 19.0 * (at % 5), "y_m": 15.0 + 20.0 * (at // 5)}
    measured = {"loosened_at_leg_cm": leg, "loosened_between_cm": leg - ridge, "speed_km_h": 8.0}
    return measured | {"part": "body"} | place | facts


BODY = [pit(36.0, 3.0, at) for at in range(9)]
DEEP = [pit(41.0, 3.0, at, x_m=112.0 + 19.0 * (at % 5)) for at in range(5)]
FAR_BASE = {"part": "headland", "pan": "yes", "pan_base_cm": 36.5}
RIDGED = {"part": "headland", "pan": "yes", "pan_base_cm": 33.0}


def test_legs_above_the_base_of_a_part_are_told_the_depth_to_set_there() -> None:
    left = [pit(35.0, 3.0, 9 + at, **FAR_BASE) for at in range(5)]
    advice, _, groups = advised(*BODY, *left, *DEEP)
    part = groups.query("group == 'part' and name == 'headland'")["verdict"].item()
    assert (groups["verdict"].iloc[0], part) == ("reached", "not_reached")
    (text,) = advice.loc[(advice["where"] == THERE) & (advice["step"] == "depth"), "text"]
    assert text.startswith("The legs ran as planned and the pan goes deeper. Set ")
    whole = advice.loc[advice["where"] == FIELD, "text"]
    assert whole.tolist() == [f"Change only {THERE}, as below."]
    assert not advice["text"].str.contains("look there again|Keep", regex=True).any()


def test_a_ridge_in_a_part_asks_for_less_of_it_there() -> None:
    left = [pit(35.0, 8.0, 9 + at, **RIDGED) for at in range(5)]
    advice, _, groups = advised(*BODY, *left, *DEEP)
    part = groups.query("group == 'part' and name == 'headland'")["verdict"].item()
    assert (groups["verdict"].iloc[0], part) == ("reached", "leg_only")
    own = advice[advice["where"] == THERE]
    assert {"speed", "points"} <= set(own["step"])
    assert set(own["zones"]) == {(1,)}


@pytest.mark.parametrize("pits", [1, 2, 3])
def test_a_few_pits_of_a_part_are_looked_at_again(pits: int) -> None:
    few = [pit(35.0, 8.0, 9 + at, **RIDGED) for at in range(pits)]
    advice, *_ = advised(*BODY, *few, *DEEP)
    assert THERE not in set(advice["where"])
    assert advice["text"].str.contains("look there again").any()


def test_a_part_of_ground_that_most_pits_show_missed_is_told_with_it() -> None:
    advice, *_ = advised(*[pit(35.0, 8.0, at, **RIDGED) for at in range(8)], *BODY[8:], *DEEP)
    assert THERE not in set(advice["where"])


def test_no_pit_is_both_looked_at_and_told_apart() -> None:
    apart = []

    @settings(max_examples=40, deadline=None, derandomize=True)
    @given(
        st.lists(
            st.tuples(
                st.sampled_from([True, True, True, True, False]), st.sampled_from([2.0, 5.0, 8.0])
            ),
            min_size=3,
            max_size=8,
        )
    )
    def each(dug: list[tuple[bool, float]]) -> None:
        rows = [
            pit(35.0, ridge, 9 + at, **(RIDGED if missed else {"part": "headland"}))
            for at, (missed, ridge) in enumerate(dug)
        ]
        advice, pits, _ = advised(*BODY, *rows, *DEEP)
        own = advice[advice["where"] == THERE]
        apart.append(len(own) > 0)
        assert set(own["step"]) <= set(CHANGES) - {"stop"}
        if len(own):
            left = " ".join(advice.loc[advice["step"] == "left", "text"])
            names = pits.loc[pits["part"] == "headland", "pit"]
            assert not any(f"{name} " in left or f"{name}," in left for name in names)

    each()
    assert True in apart
    assert False in apart


def test_what_one_depth_alone_missed_is_told_of_it_and_not_of_the_whole_field() -> None:
    left = [pit(36.0, 9.0, at, pan="yes", pan_base_cm=33.0) for at in range(5)]
    good = [one | {"y_m": 40.0} for one in DEEP]
    for others, place in ((good[:2], "35 cm"), (good[:1], FIELD)):
        advice, *_ = advised(*left, *others)
        assert set(advice.loc[advice["step"].isin(("points", "spacing")), "where"]) == {place}
        assert set(advice.loc[advice["step"] == "speed", "where"]) == {place}
    also = [pit(41.0, 9.0, at, x_m=112.0, y_m=9.0 * at, pan="yes", pan_base_cm=36) for at in (4, 9)]
    advice, *_ = advised(*left, *good[:2], *also)
    assert FIELD in set(advice.loc[advice["step"].isin(AT_DEPTH), "where"])


def three_depths(*rows: dict[str, object], pull_km_h: float = 9.0) -> pd.DataFrame:
    """Return the advice of a field worked 35, 40 and 45 cm deep, 100 m each, without trial runs."""
    planned = planned_ground()
    planned.zones.loc[2, ["depth_cm", "cleared"]] = [45.0, "not deeper than notice depth"]
    zones = planned.zones.assign(work_speed_km_h=pull_km_h)
    pits = judge_pits(pit_rows(*rows), planned, read_on="")
    groups = judge_groups(planned, pits, station_rows(), field_parts())
    return advise(groups, pits, ridge_curve(trial_rows()), MachineSection(), zones)


def left(cm: float, x_m: float, km_h: float, count: int = 6, **facts: object) -> Pits:
    """Return pits that left a pan between the legs at a depth."""
    base = {"pan": "yes", "pan_base_cm": cm - 4.0, "x_m": x_m, "speed_km_h": km_h}
    return [pit(cm, 8.0, at, y_m=9.0 * at, **base) | facts for at in range(count)]


GOOD = [pit(36.0, 3.0, at, x_m=12.0, y_m=9.0 * at) for at in range(4)]


@pytest.mark.parametrize(
    ("mid_km_h", "deep_km_h", "runs"),
    [
        (5.0, 4.5, {"40 cm": "6 and 8", "45 cm": "6 and 8"}),
        (8.0, 5.0, {"40 cm": "9", "45 cm": "6 and 8"}),  # of the usual ones it pulls 8, not 10
        (8.0, 8.0, {FIELD: "9"}),
    ],
)
def test_each_depth_is_told_its_own_faster_runs_before_the_points_of_the_field(
    mid_km_h: float, deep_km_h: float, runs: dict[str, str]
) -> None:
    told = three_depths(*GOOD, *left(40, 112.0, mid_km_h), *left(45, 212.0, deep_km_h))
    speed = told[told["step"] == "speed"].set_index("where")["text"]
    assert {name: words.split(": ")[1].split(" km/h")[0] for name, words in speed.items()} == runs
    points = told[(told["where"] == FIELD) & (told["step"] == "points")]["text"].iloc[0]
    names = " and ".join(runs)
    below = FIELD not in runs
    begins = f"If the runs asked for {names} below do not do it: look" if below else "Look"
    assert points.startswith(begins)


def test_runs_that_all_missed_depths_ask_alike_stay_with_the_field() -> None:
    told = three_depths(*left(35, 12.0, 5.0), *left(40, 112.0, 5.0), *left(45, 212.0, 5.0))
    assert told.loc[told["step"] == "speed", "where"].tolist() == [FIELD]


def test_a_depth_tells_at_what_speed_its_own_legs_floated() -> None:
    floated = left(45, 212.0, 7.5, 3, loosened_at_leg_cm=39.0, loosened_between_cm=33.0)
    slow = left(45, 232.0, 6.0, 3)
    told = three_depths(*GOOD, *slow, *floated)
    looks = told[told["step"] == "look"].set_index("where")["text"]
    assert "legs kept their depth at 6 km/h" in looks["45 cm"]
    assert "legs kept their depth" not in looks[FIELD]  # 35 cm held at 8 km/h


@pytest.mark.parametrize("passed", [3, 1])
def test_a_part_that_alone_missed_is_told_apart_though_most_pits_were_dug_there(
    passed: int,
) -> None:
    """Four of the headland stop above its base, so many of the body passed."""
    bad = [pit(35.0, 3.0, 9 + at, **FAR_BASE) for at in range(4)]
    advice, *_ = advised(*bad, *BODY[:passed], *DEEP)
    asked = set(advice.loc[advice["step"].isin(AT_DEPTH), "where"])
    assert {THERE, "35 cm"} & asked == {THERE if passed > 1 else "35 cm"}
    whole = advice.loc[advice["where"] == FIELD, "text"].str.cat(sep=" ")
    assert (THERE in whole) == (passed > 1)


def test_the_field_does_not_say_for_all_what_one_part_alone_asks() -> None:
    """No pit at another depth: five of the headland left a ridge, three of the body passed."""
    advice, *_ = advised(*[pit(36.0, 9.0, 9 + at, **RIDGED) for at in range(5)], *BODY[:3])
    asked = set(advice.loc[advice["step"].isin(("points", "spacing", "soil")), "where"])
    assert asked == {THERE}
