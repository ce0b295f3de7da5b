"""Advice in the order of its cost, and nothing that the pits or the trial runs rule out."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pandas as pd
from checks.conftest import field_parts, pit_rows, planned_ground, station_rows, trial_rows
from hypothesis import given, settings
from hypothesis import strategies as st

from zoning.checks.advice import advise
from zoning.checks.groups import FIELD, judge_groups
from zoning.checks.pits import judge_pits
from zoning.checks.steps import STEPS
from zoning.checks.trials import ridge_curve
from zoning.model.settings import MachineSection

LEG, BETWEEN = "loosened_at_leg_cm", "loosened_between_cm"
PRACTICE = ((4.0, 11.0), (6.0, 8.0), (8.0, 5.0), (10.0, 3.0))


def advice(
    *pits: tuple[float, float], runs: tuple[tuple[float, float], ...] = PRACTICE,
    surface: str = "level", machine: MachineSection | None = None, **facts: object,
) -> dict[str, str]:  # fmt: skip
    rows = [{LEG: leg, BETWEEN: between} | facts for leg, between in pits]
    planned = planned_ground()
    # So little ground at 40 cm that the whole field is judged without a pit there.
    planned = replace(planned, zones=planned.zones.assign(area_ha=[1.0, 0.2, 1.0]))
    judged = judge_pits(pit_rows(*rows), planned, read_on="")
    groups = judge_groups(planned, judged, station_rows(), field_parts())
    trials = trial_rows(*runs, surface=surface)
    told = advise(groups, judged, ridge_curve(trials), machine or MachineSection(), planned.zones)
    whole = told[told["where"] == FIELD].sort_values("order")
    return dict(zip(whole["step"], whole["text"], strict=True))


def test_a_slow_pass_is_told_to_drive_faster_first() -> None:
    told = advice(*[(35, 24)] * 5, speed_km_h=4.0)
    assert list(told) == ["speed", "points", "spacing", "under", "soil"]
    assert "10 km/h instead of 4" in told["speed"]
    assert "from 11 to 3 cm" in told["speed"]
    assert told["under"].startswith("Only where speed, points and spacing do not do it, plan again")


def test_a_fast_even_pass_that_reached_is_kept() -> None:
    told = advice(*[(35, 32)] * 5, speed_km_h=10.0)
    assert list(told) == ["keep", "next"]
    assert "10 km/h" in told["keep"]
    assert told["next"] == "Before you plan again set speed_km_h to 10."


def test_a_ridge_at_an_even_speed_is_not_blamed_on_speed() -> None:
    for between in (24, 30):  # an uneven ridge, and one that is fair but not even
        told = advice(*[(35, between)] * 5, speed_km_h=10.0, pan="yes", pan_base_cm=32.0)
        assert "speed" not in told
        assert list(told)[:3] == ["points", "spacing", "under"]
        assert "their ridge is then added to the depth once" in told["under"]


def test_without_trial_runs_they_are_asked_for() -> None:
    told = advice(*[(35, 24)] * 5, runs=(), speed_km_h=4.0)
    assert ": 6, 8 and 10 km/h" in told["speed"]  # 4 was driven


def test_pits_dug_at_two_speeds_speak_where_no_trial_runs_do() -> None:
    slow = [{LEG: 36.0, BETWEEN: 24.0, "speed_km_h": 5.0}] * 3
    fast = [{LEG: 36.0, BETWEEN: 34.0, "speed_km_h": 8.0}]
    planned = planned_ground()
    judged = judge_pits(pit_rows(*slow, *fast), planned, read_on="")
    groups = judge_groups(planned, judged, station_rows(), field_parts())
    told = advise(groups, judged, ridge_curve(trial_rows()), MachineSection(), planned.zones)
    (text,) = told.loc[(told["where"] == FIELD) & (told["step"] == "speed"), "text"]
    assert text.startswith("Drive 8 km/h: ")
    assert "12 cm at 5 km/h (3 pits), 2 cm at 8 km/h (1 pit)" in text
    assert "Dig behind the faster run" in text  # one pit is few
    assert told["step"].tolist().count("speed") == 1  # not again for the depth


def test_trial_runs_do_not_silence_the_speeds_that_pits_show() -> None:
    """One pit of five at the slower speed; the mean ridge is fair, the trial runs name 8 km/h."""
    slow = [{LEG: 36.0, BETWEEN: 22.0, "speed_km_h": 5.0}]
    fast = [{LEG: 36.0, BETWEEN: 33.0, "speed_km_h": 8.0}] * 4
    planned = planned_ground()
    judged = judge_pits(pit_rows(*slow, *fast), planned, read_on="")
    groups = judge_groups(planned, judged, station_rows(), field_parts())
    texts = []
    # None, runs that name 8 km/h, runs that were even at 5 km/h already.
    for runs in ((), ((5.0, 9.0), (8.0, 3.5)), ((5.0, 3.8), (8.0, 3.5))):
        curve = ridge_curve(trial_rows(*runs))
        told = advise(groups, judged, curve, MachineSection(), planned.zones)
        texts.append(told["text"].tolist())
        (text,) = told.loc[told["step"] == "speed", "text"]
        assert text.startswith("Drive 8 km/h: the pits show a ridge of 14 cm at 5 km/h (1 pit), 3 ")
    assert texts[0] == texts[1] == texts[2]


def test_a_change_stands_before_more_digging() -> None:
    slow = [{LEG: 35.0, BETWEEN: 22.0, "speed_km_h": 5.0, "pan": "yes", "pan_base_cm": 31.0}]
    fast = [{LEG: 35.0, BETWEEN: 32.0, "speed_km_h": 8.0}] * 2
    planned = planned_ground()
    judged = judge_pits(pit_rows(*slow, *fast), planned, read_on="")
    groups = judge_groups(planned, judged, station_rows(), field_parts())
    told = advise(groups, judged, ridge_curve(trial_rows()), MachineSection(), planned.zones)
    steps = told.loc[told["where"] == FIELD, "step"].tolist()
    assert steps == ["speed", "dig"]


def test_a_leg_afloat_asks_for_pins_at_its_depth_and_for_no_more_depth_or_speed() -> None:
    """By hand: 35 cm less a ridge of 4 cm is 31 cm, below the base of 29 cm."""
    good = [{LEG: 35.0, BETWEEN: 31.5, "speed_km_h": 8.0}] * 3
    afloat = {LEG: 29.5, BETWEEN: 25.5, "speed_km_h": 8.0, "pan": "yes", "pan_base_cm": 29.0}
    planned = planned_ground()
    for count in (1, 2):
        judged = judge_pits(pit_rows(*good, *[afloat] * count), planned, read_on="")
        groups = judge_groups(planned, judged, station_rows(), field_parts())
        told = advise(groups, judged, ridge_curve(trial_rows()), MachineSection(), planned.zones)
        assert not {"left", "depth", "speed", "points"} & set(told["step"])
        for where in (FIELD, "35 cm"):
            first = told[told["where"] == where].iloc[0]
            assert first["step"] == "pins"
            assert "Check the pins and the frame level on that run. Held at 35 cm with" in str(
                first["text"]
            )
    deep = afloat | {"pan_base_cm": 32.0}
    judged = judge_pits(pit_rows(*good, deep), planned, read_on="")
    groups = judge_groups(planned, judged, station_rows(), field_parts())
    told = advise(groups, judged, ridge_curve(trial_rows()), MachineSection(), planned.zones)
    assert "left" in set(told["step"])
    assert not told["text"].str.contains("would have passed").any()


def test_legs_clearly_shallow_that_alone_left_the_pan_ask_for_pins_and_for_nothing_else() -> None:
    """By hand: 35 cm less a ridge of 3 cm is 32 cm, the base; the legs ran 3 cm short of 35 cm."""
    missed = {"pan": "yes", "pan_base_cm": 32.0, "speed_km_h": 9.0}
    short = {LEG: 32.0, BETWEEN: 29.0} | missed
    good = [{LEG: 35.0, BETWEEN: 31.5, "speed_km_h": 6.0}] * 3
    planned = planned_ground()
    for rows in ([*good, short], [*good, *[short] * 3], [short] * 4, [*good, *[short] * 5]):
        judged = judge_pits(pit_rows(*rows), planned, read_on="")
        groups = judge_groups(planned, judged, station_rows(), field_parts())
        told = advise(groups, judged, ridge_curve(trial_rows()), MachineSection(), planned.zones)
        for where in (FIELD, "35 cm"):
            own = told[told["where"] == where]
            assert set(own["step"]) <= {"pins", "dig"}
            text = str(own["text"].iloc[0])
            assert "(3 cm)" in text
            assert "would have passed the pan: dig again before any other change." in text
            fast = "That was at 9 km/h; legs kept their depth at 6 km/h" in text
            assert fast == (len(rows) > 4 or rows[0]["speed_km_h"] == 6.0)
    # Less than a pin step says nothing of pins, and what the planned depth leaves too is no float.
    for facts in ({LEG: 33.0, BETWEEN: 30.0}, {"pan_base_cm": 33.0}):
        judged = judge_pits(pit_rows(*good, short | facts), planned, read_on="")
        groups = judge_groups(planned, judged, station_rows(), field_parts())
        told = advise(groups, judged, ridge_curve(trial_rows()), MachineSection(), planned.zones)
        assert "pins" not in set(told["step"])
        assert "left" in set(told["step"])


def test_ground_that_reached_at_the_faster_speed_alone_does_not_keep_the_slower() -> None:
    slow = [{LEG: 42.0, BETWEEN: 31.0, "speed_km_h": 5.0}]
    fast = [{LEG: 36.0, BETWEEN: 34.0, "speed_km_h": 8.0}] * 4
    planned = planned_ground()
    judged = judge_pits(pit_rows(*slow, *fast), planned, read_on="")
    groups = judge_groups(planned, judged, station_rows(), field_parts())
    assert judged["verdict"].isin(("reached", "too_deep")).sum() >= 4
    told = advise(groups, judged, ridge_curve(trial_rows()), MachineSection(), planned.zones)
    assert "keep" not in set(told["step"])
    assert told.loc[told["step"] == "speed", "text"].str.startswith("Drive 8 km/h").all()


def test_pits_that_are_even_at_every_speed_ask_for_no_speed() -> None:
    rows = [{LEG: 36.0, BETWEEN: 34.0, "speed_km_h": speed} for speed in (5.0, 5.0, 8.0, 8.0)]
    planned = planned_ground()
    judged = judge_pits(pit_rows(*rows), planned, read_on="")
    groups = judge_groups(planned, judged, station_rows(), field_parts())
    told = advise(groups, judged, ridge_curve(trial_rows()), MachineSection(), planned.zones)
    assert "speed" not in set(told["step"])
    assert told["text"].str.contains("5 to 8 km/h").any()


def test_no_even_speed_says_what_was_tried() -> None:
    told = advice(*[(35, 24)] * 5, runs=((4.0, 12.0), (6.0, 9.0)), speed_km_h=4.0)
    assert "the fastest, 6 km/h, left 9 cm" in told["speed"]
    rough = advice(*[(35, 24)] * 5, surface="heaved", speed_km_h=4.0)
    assert "heaved" in rough["speed"]


def test_legs_that_ran_shallow_are_a_matter_of_pins() -> None:
    deep = {"pan": "yes", "pan_base_cm": 34.0}  # 35 cm less the ridge of 2 cm does not pass it
    told = advice(*[(28, 26)] * 5, speed_km_h=10.0, **deep)
    assert "7 cm shallower than planned: check the pins" in told["depth"]
    assert "speed" not in told
    assert "spacing" not in told
    hydraulic = advice(*[(28, 26)] * 5, machine=MachineSection(depth_control="hydraulic"), **deep)
    assert "the depth control" in hydraulic["depth"]


def test_a_pan_deeper_than_planned_is_a_matter_of_the_plan() -> None:
    told = advice(*[(34, 32)] * 5, pan="yes", pan_base_cm=38.0, speed_km_h=10.0)
    # Two depths are worked on this field, so the number stands with the depth of the pits.
    assert "stands with that depth" in told["depth"]
    assert list(told) == ["depth", "soil"]


def test_too_deep_saves_depth() -> None:
    told = advice(*[(43, 41)] * 5)
    assert list(told) == ["depth"]
    assert "8 cm deeper than planned: check the pins" in told["depth"]


def test_plastic_soil_stops_the_work() -> None:
    told = advice(*[(35, 24)] * 5, moisture="plastic", speed_km_h=4.0)
    assert next(iter(told)) == "stop"
    assert told["stop"].startswith("Stop: soil was plastic in pits A0, A1, ")


def test_too_few_pits_say_how_many_more() -> None:
    told = advice((35, 24), speed_km_h=4.0)
    assert next(iter(told)) == "speed"
    assert list(told)[-1] == "dig"  # digging comes behind the change
    assert "3 more pits (1 so far)" in told["dig"]


def test_a_depth_says_only_what_the_field_does_not() -> None:
    rows = [{LEG: 35.0, BETWEEN: 24.0, "speed_km_h": 4.0}] * 5
    planned = planned_ground()
    judged = judge_pits(pit_rows(*rows), planned, read_on="")
    groups = judge_groups(planned, judged, station_rows(), field_parts())
    told = advise(
        groups, judged, ridge_curve(trial_rows(*PRACTICE)), MachineSection(), planned.zones
    )
    assert set(told["where"]) == {FIELD, "40 cm"}
    assert told.loc[told["where"] == "40 cm", "step"].tolist() == ["dig"]
    assert not told.duplicated(["step", "text"]).any()
    tiny = groups.assign(
        area_ha=groups["area_ha"].where(groups["name"] != "40 cm", 0.01),
        more_pits=groups["more_pits"].where(groups["name"] != "40 cm", 0),
    )
    curve = ridge_curve(trial_rows(*PRACTICE))
    assert set(advise(tiny, judged, curve, MachineSection(), planned.zones)["where"]) == {FIELD}
    order = [STEPS.index(step) for step in told.loc[told["where"] == FIELD, "step"]]
    assert order == sorted(order)
    assert isinstance(told, pd.DataFrame)


DUG = st.tuples(
    st.sampled_from([0.0, 22.0, 30.0, 35.0, 40.0]),  # at the leg
    st.sampled_from([0.0, 2.0, 6.0, 14.0]),  # ridge
    st.sampled_from([4.0, 7.0, 9.0]),
    st.sampled_from(["", "yes", "no"]),
    st.sampled_from([22.0, 31.0, 38.0, np.nan]),
)


@settings(max_examples=60, deadline=None)
@given(dug=st.lists(DUG, min_size=1, max_size=7), foot=st.booleans(), pull=st.floats(4, 12))
def test_no_ground_is_told_to_go_faster_and_to_keep_its_speed(
    dug: list[tuple[float, float, float, str, float]], foot: bool, pull: float
) -> None:
    planned = planned_ground()
    planned = replace(
        planned,
        zones=planned.zones.assign(foot_narrow=foot, legs_wide=False, work_speed_km_h=pull),
    )
    pits = [
        {
            LEG: leg, BETWEEN: max(leg - ridge, 0.0), "speed_km_h": speed, "pan": pan,
            "pan_base_cm": base if pan == "yes" else np.nan, "x_m": 15.0 + 25.0 * i,
        }
        for i, (leg, ridge, speed, pan, base) in enumerate(dug)
    ]  # fmt: skip
    judged = judge_pits(pit_rows(*pits), planned, read_on="")
    groups = judge_groups(planned, judged, station_rows(), field_parts())
    told = advise(groups, judged, ridge_curve(trial_rows()), MachineSection(), planned.zones)
    assert_no_contradiction(told)
    assert max(named_km_h(told), default=0.0) <= pull


def assert_no_contradiction(told: pd.DataFrame) -> None:
    for where in set(told["where"]):
        own = told[told["where"].isin({FIELD, where})]
        speeds = set(own.loc[own["step"] == "speed", "where"])
        keeps = own[(own["step"] == "keep") & own["text"].str.contains("Keep (?:the )?speed")]
        assert not (speeds and len(keeps))


def named_km_h(told: pd.DataFrame) -> list[float]:
    """Return every speed that the advice tells to drive or to try."""
    asked = r"^(?:Drive|Try a faster run:|Try faster runs:) ([\d., and]+) km/h"
    found = told.loc[told["step"] == "speed", "text"].str.extract(asked)[0].dropna()
    return [float(one) for text in found for one in re.findall(r"[\d.]+", text)]


EVEN = st.tuples(st.sampled_from([0.0, 2.0]), st.sampled_from([6.0, 7.5, 9.0]))


def test_speeds_with_a_number_are_in_reach_and_never_beside_keep_the_speed() -> None:
    """Slow uneven pits at one depth and fast even ones at either: made so that a speed is named."""
    numbered: list[bool] = []

    @settings(max_examples=60, deadline=None, derandomize=True)  # so that the count stands
    @given(
        uneven=st.lists(st.sampled_from([11.0, 14.0]), min_size=3, max_size=5),
        slow=st.sampled_from([4.0, 5.0]),
        even=st.lists(EVEN, max_size=5),
        same_ground=st.booleans(),
        pull=st.sampled_from([5.5, 6.5, 8.5, 12.0]),
    )
    def told_once(
        uneven: list[float],
        slow: float,
        even: list[tuple[float, float]],
        same_ground: bool,
        pull: float,
    ) -> None:
        planned = planned_ground()
        planned = replace(planned, zones=planned.zones.assign(work_speed_km_h=pull))
        pits = [
            {LEG: 36.0, BETWEEN: 36.0 - ridge, "speed_km_h": slow, "x_m": 15.0 + 14.0 * i}
            for i, ridge in enumerate(uneven)
        ] + [
            {
                LEG: 36.0 if same_ground else 41.0,
                BETWEEN: (36.0 if same_ground else 41.0) - ridge,
                "speed_km_h": speed,
                "x_m": (22.0 if same_ground else 115.0) + 14.0 * i,
                "y_m": 20.0,
            }
            for i, (ridge, speed) in enumerate(even)
        ]
        judged = judge_pits(pit_rows(*pits), planned, read_on="")
        groups = judge_groups(planned, judged, station_rows(), field_parts())
        told = advise(groups, judged, ridge_curve(trial_rows()), MachineSection(), planned.zones)
        assert_no_contradiction(told)
        speeds = named_km_h(told)
        assert max(speeds, default=0.0) <= pull
        assert min(speeds, default=99.0) > slow
        numbered.append(bool(speeds))

    told_once()
    assert sum(numbered) >= 30  # 33 of 60 when written; at the rest no such speed is in reach


def test_what_the_plan_warns_of_comes_before_the_speed_and_no_ridge_is_dug_under() -> None:
    facts = {"foot_narrow": [True, False, False], "legs_wide": [False, True, False]}
    for carries, offered in ((30.0, False), (np.inf, True)):
        planned = planned_ground()
        zones = planned.zones.assign(area_ha=[1.0, 0.2, 1.0], foot_lifts_cm=carries, **facts)
        planned = replace(planned, zones=zones)
        rows = [{LEG: 35.0, BETWEEN: 24.0, "speed_km_h": 4.0}] * 5
        judged = judge_pits(pit_rows(*rows), planned, read_on="")
        groups = judge_groups(planned, judged, station_rows(), field_parts())
        told = advise(groups, judged, ridge_curve(trial_rows()), MachineSection(), zones)
        whole = told[told["where"] == FIELD]
        steps = whole["step"].tolist()
        assert steps[:3] == ["points", "spacing", "speed"]
        assert ("under" in steps) == offered
        assert "presses the soil aside at 35 cm rather than" in whole["text"].iloc[0]
        assert "the legs stand too far apart for 40 cm" in whole["text"].iloc[1]
