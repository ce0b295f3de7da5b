"""Legs that ran shallow are named, and to keep is never advised beside them or an uneven ridge."""

from __future__ import annotations

import pandas as pd
from checks.conftest import field_parts, pit_rows, planned_ground, station_rows, trial_rows

from zoning.checks.advice import advise
from zoning.checks.deeper import how_deep
from zoning.checks.groups import FIELD, judge_groups
from zoning.checks.pits import judge_pits
from zoning.checks.trials import ridge_curve
from zoning.model.settings import MachineSection

LEG, BETWEEN = "loosened_at_leg_cm", "loosened_between_cm"


def told(
    *rows: dict[str, object], base_cm: float = 30.0, sd_cm: float = 2.0, speed_km_h: float = 8.0
) -> pd.DataFrame:
    planned = planned_ground(base_cm, sd_cm)
    pits = judge_pits(pit_rows(*rows), planned, read_on="")
    groups = judge_groups(planned, pits, station_rows(), field_parts())
    machine = MachineSection(speed_km_h=speed_km_h)
    return advise(groups, pits, ridge_curve(trial_rows()), machine, planned.zones)


def test_legs_that_ran_shallow_are_named_though_the_pan_was_passed() -> None:
    steps = told(*[{LEG: 31.5, BETWEEN: 31.0, "pan": "no"}] * 4)
    assert "keep" not in set(steps["step"])
    short = steps.loc[steps["step"] == "depth", "text"]
    assert short.str.contains("ran 3.5 cm shallower than planned, though the pan was passed").any()


def test_shallow_legs_in_pits_that_are_all_in_doubt_are_named_too() -> None:
    rows = [{LEG: 27.0, BETWEEN: 25.5, "pan": "no"}] * 4
    steps = told(*rows, base_cm=36.0, sd_cm=1.0)
    assert {"look", "depth"} <= set(steps["step"])
    assert steps["text"].str.contains("ran 8 cm shallower than planned").any()
    assert "keep" not in set(steps["step"])


def test_to_keep_is_not_advised_beside_an_uneven_ridge() -> None:
    row = {LEG: 42.0, BETWEEN: 31.0, "pan": "no", "speed_km_h": 12.0}
    steps = told(*[row] * 4, speed_km_h=12.0)
    assert "keep" not in set(steps["step"])
    assert steps["text"].str.contains("A ridge of 11 cm is left between the legs").any()
    assert not steps["text"].str.contains("pan was passed").any()
    settled = told(*[row] * 8, *[row | {"x_m": 150.0}] * 8, speed_km_h=12.0)
    assert settled["text"].str.contains("The pan was passed, yet a ridge of 11 cm").any()


def test_the_pan_is_not_said_to_be_passed_before_the_verdict() -> None:
    doubted = [{LEG: 36.0, BETWEEN: 20.0, "pan": "no"}] * 3
    steps = told(*doubted, {LEG: 36.0, "pan": "no"}, sd_cm=1.0)
    assert not steps["text"].str.contains("ridge of 16 cm").any()
    short = {LEG: 31.0, BETWEEN: 30.5, "pan": "no"}
    steps = told(*[short] * 3, {LEG: 26.0, BETWEEN: 25.0, "pan": "yes"})
    own = steps.loc[steps["step"] == "depth", "text"]
    assert own.str.contains("than planned, so far as was measured").any()
    assert not steps["text"].str.contains("pan was passed").any()


def test_drier_soil_is_not_what_is_left_where_only_the_pins_are_checked() -> None:
    steps = told(*[{LEG: 31.0, BETWEEN: 28.0, "pan": "yes", "pan_base_cm": 33.0}] * 5)
    assert steps["text"].str.contains("check the pins").any()
    assert not steps["step"].isin(["speed", "points", "spacing", "soil"]).any()


def test_legs_too_deep_here_and_too_shallow_there_are_told_by_depth_only() -> None:
    deep = [{LEG: 43.0, BETWEEN: 41.0, "pan": "no"}] * 4
    shallow = [{LEG: 36.0, BETWEEN: 28.0, "pan": "yes", "pan_base_cm": 37.0, "x_m": 150.0}] * 2
    steps = told(*deep, *shallow)
    whole = steps.loc[steps["where"] == FIELD, "text"]
    assert not whole.str.contains("than planned").any()
    own = steps.set_index("where")["text"]
    assert "The legs ran 8 cm deeper than planned" in " ".join(own.loc[["35 cm"]])
    assert "The legs ran 4 cm shallower than planned" in " ".join(own.loc[["40 cm"]])


def test_a_setting_that_leaves_the_pan_says_so() -> None:
    machine = MachineSection(depth_max_cm=37.5, depth_step_cm=2.5)
    zones = planned_ground(machine=machine).zones.iloc[:1]
    assert "The pits lack 4 cm, and that is 2.5 cm more: it leaves the pan" in how_deep(
        zones, 4.0, machine
    )
    assert "it leaves the pan" not in how_deep(zones, 2.5, machine)


def test_a_depth_to_set_passes_the_base_with_its_clearance_and_says_what_the_ridge_leaves() -> None:
    """Base 38 cm and 3 cm of clearance: 41 cm, and the next setting is 42.5 cm."""
    dug = {LEG: 35.0, BETWEEN: 29.0, "pan": "yes", "pan_base_cm": 38.0}
    text = " ".join(told(*[dug] * 5)["text"])
    assert "Set 42.5 cm here" in text
    assert "leaves 36.5 cm between the legs, above the base of 38 cm" in text
    mixed = [dug | {"pan_base_cm": base} for base in (36.0, 36.0, 36.0, 41.0, 41.0)]
    assert "Set 45 cm here" in " ".join(told(*mixed)["text"])


def test_a_plan_that_holds_the_ridge_is_not_asked_to_add_it_again() -> None:
    """By hand: a base of 32 cm and a ridge of 5.5 cm ask for 37.5 cm, one step below 35 cm."""
    runs = ridge_curve(trial_rows((5.0, 9.0), (8.0, 3.5)))
    dug = {LEG: 35.0, BETWEEN: 29.5, "pan": "yes", "pan_base_cm": 32.0}
    texts = {}
    for held_cm, km_h in ((0.0, 8.0), (3.5, 8.0), (3.5, 5.0)):
        planned = planned_ground()
        zones = planned.zones.assign(plan_ridge_cm=held_cm)
        pits = judge_pits(pit_rows(*[dug | {"speed_km_h": km_h}] * 4), planned, read_on="")
        groups = judge_groups(planned, pits, station_rows(), field_parts())
        steps = advise(groups, pits, runs, MachineSection(), zones)
        own = steps[(steps["step"] == "under") & (steps["where"] == "35 cm")]
        texts[held_cm, km_h] = "".join(steps.loc[steps["step"] == "under", "text"])
        assert len(own) == (held_cm > 0)  # else the whole field has said it
    again = "plan again with the trial runs"
    assert again in texts[0.0, 8.0]
    assert again not in texts[3.5, 8.0]
    assert "Set 37.5 cm here" in texts[3.5, 8.0]
    behind = "Only where speed, points and spacing do not do it, go deeper: the legs ran"
    assert behind in texts[3.5, 8.0]
    assert behind in texts[3.5, 5.0]


def test_a_ridge_above_the_clearance_is_asked_for_as_trial_runs_where_there_are_none() -> None:
    """The clearance of the plan is 3 cm, and a plan adds a ridge of trial runs alone."""
    dug = {LEG: 35.0, BETWEEN: 31.0, "pan": "yes", "pan_base_cm": 33.0}
    for between_cm, asked in ((31.0, True), (32.0, False)):
        steps = told(*[dug | {BETWEEN: between_cm}] * 4)
        own = steps.loc[steps["step"] == "depth", "text"]
        assert own.str.contains("plan again").any()
        assert own.str.contains("and of the ridge as trial runs").any() == asked
    planned = planned_ground()
    pits = judge_pits(pit_rows(*[dug] * 4), planned, read_on="")
    groups = judge_groups(planned, pits, station_rows(), field_parts())
    runs = ridge_curve(trial_rows((5.0, 9.0), (8.0, 3.5)))
    steps = advise(groups, pits, runs, MachineSection(), planned.zones)
    assert not steps["text"].str.contains("as trial runs").any()


def test_legs_set_deeper_because_the_pan_was_left_may_stay_so() -> None:
    text = told(*[{LEG: 38.0, BETWEEN: 34.0, "pan": "no"}] * 4).set_index("step")["text"]
    assert text["depth"].startswith("The legs ran 3 cm deeper than planned: check the pins")
    assert "If they were set so because the planned depth left the pan, leave them" in text["depth"]


def test_one_pit_as_planned_does_not_hide_that_most_legs_ran_deeper() -> None:
    deep, planned = ({LEG: cm, BETWEEN: cm - 4, "pan": "no"} for cm in (38.0, 35.0))
    for pits, off in (([*[deep] * 4, planned], True), ([deep, *[planned] * 4], False)):
        steps = told(*pits)
        assert (steps["step"] == "keep").any() != off
        assert steps["text"].str.contains("ran 3 cm deeper than planned").any() == off


def test_no_depth_is_named_for_a_ridge_that_no_leg_measured() -> None:
    planned = planned_ground()
    zones = planned.zones.assign(plan_ridge_cm=3.5)
    dug = {BETWEEN: 29.5, "pan": "yes", "pan_base_cm": 32.0}
    pits = judge_pits(pit_rows(*[dug] * 4), planned, read_on="")
    groups = judge_groups(planned, pits, station_rows(), field_parts())
    runs = ridge_curve(trial_rows((5.0, 9.0), (8.0, 3.5)))
    steps = advise(groups, pits, runs, MachineSection(), zones)
    assert groups["verdict"].iloc[1] == "not_between"
    assert not steps["text"].str.contains("Set |ran as planned", regex=True).any()


def test_one_deep_base_among_others_names_no_depth_for_all_ground() -> None:
    bases = (36.0, 36.0, 36.0, 36.0, 46.0)
    rows = [{LEG: 35.0, BETWEEN: 33.0, "pan": "yes", "pan_base_cm": base} for base in bases]
    text = told(*rows).set_index("step").loc["depth", "text"]
    assert "36 to 46 cm in them, so no one depth is named: measure it again at pit A4" in str(text)
    assert "Set " not in str(text)
    alike = told(*[row | {"pan_base_cm": 36.0} for row in rows])
    assert alike.loc[alike["step"] == "depth", "text"].str.contains("Set ").any()


def test_no_deeper_setting_is_named_where_the_planned_one_passes_the_base() -> None:
    short = {LEG: 29.0, BETWEEN: 27.0, "pan": "yes", "pan_base_cm": 31.0}
    level = {LEG: 35.0, BETWEEN: 33.0, "pan": "no"}
    held = {LEG: 34.0, BETWEEN: 31.0, "pan": "yes", "pan_base_cm": 35.0}
    steps = told(*[short] * 4, held, *[level] * 4)
    own = " ".join(steps["text"])
    assert "(6 cm)" in own, "the legs that ran shallow are named"
    assert "the pan goes deeper" not in own
    deeper = told(*[short | {"pan_base_cm": 39.0}] * 4, held, *[level] * 4)
    assert deeper["text"].str.contains("the pan goes deeper").any()


def test_legs_a_little_short_of_a_depth_that_would_have_passed_ask_for_no_deeper_one() -> None:
    """Planned at 35 cm, bases at 31: held there with a ridge of 3 cm the legs pass every one."""
    row = {"pan": "yes", "pan_base_cm": 31.0, "speed_km_h": 8.0}
    short = [3.0, 2.0, 2.0, 1.5, 1.5, 2.0]
    rows = [row | {LEG: 35.0 - cm, BETWEEN: 32.0 - cm} for cm in short]
    steps = told(*rows)
    assert not steps["text"].str.contains("as planned|pan goes deeper|Set 3").any()
    depth = steps.loc[steps["step"] == "depth", "text"]
    assert depth.str.startswith("The legs ran 2 cm shallower than planned: check").all()
    assert len(depth)
    assert steps["text"].str.contains("A0 .3 cm.: the leg ran shallower than planned, the ").any()
    deep = [each | {"pan_base_cm": 33.5} for each in rows * 2]
    assert told(*deep)["text"].str.contains("the pan goes deeper").any()
