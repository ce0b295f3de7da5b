"""Advice on speed names only speeds that are new, in reach and allowed; pins come before it."""

from __future__ import annotations

import dataclasses

import pandas as pd
import pytest
from checks.conftest import field_parts, pit_rows, planned_ground, station_rows, trial_rows

from zoning.checks.advice import LIFTED, advise
from zoning.checks.groups import FIELD, judge_groups
from zoning.checks.pits import judge_pits
from zoning.checks.speed import speeds_kept
from zoning.checks.trials import ridge_curve
from zoning.model.check import PlannedGround
from zoning.model.settings import MachineSection

DAY = "2026-05-01"


def pit(leg: float, ridge: float, speed: float, at: int, **facts: object) -> dict[str, object]:
    """Return a pit in zone 1, each at a place of its own."""
    place = {"x_m": 15.0 + 30.0 * (at % 3), "y_m": 15.0 + 30.0 * (at // 3)}
    measured = {"loosened_at_leg_cm": leg, "loosened_between_cm": leg - ridge, "speed_km_h": speed}
    return measured | place | facts


def told(
    *pits: dict[str, object],
    planned: PlannedGround | None = None,
    machine: MachineSection | None = None,
    runs: tuple[tuple[float, float], ...] = (),
    surface: str = "level",
    withdrawn: pd.DataFrame | None = None,
    **zones: object,
) -> pd.DataFrame:
    """Return the advice on the pits, beside trial runs of a speed and a ridge each."""
    plan = planned or planned_ground()
    plan = dataclasses.replace(plan, zones=plan.zones.assign(**zones))
    judged = judge_pits(pit_rows(*pits), plan, read_on=DAY)
    groups = judge_groups(plan, judged, station_rows(), field_parts())
    curve = ridge_curve(trial_rows(*runs, surface=surface))
    outfit = machine or MachineSection()
    return advise(groups, judged, curve, outfit, plan.zones, withdrawn=withdrawn)


def test_slow_and_even_beside_fast_and_not_is_told_to_drive_slow() -> None:
    pairs = [pit(36, ridge, speed, i) for i in range(3) for speed, ridge in ((4, 3), (8, 15))]
    table = told(*pairs)
    (text,) = table.loc[table["step"] == "speed", "text"]
    assert text == (
        "Drive 4 km/h: the pits show a ridge of 3 cm at 4 km/h (3 pits), 15 cm at 8 km/h (3 pits). "
        "Dig again behind that run; points only after."
    )
    assert not {"points", "spacing", "soil"} & set(table["step"])
    assert not table["text"].str.contains("no less of a ridge|faster run", regex=True).any()


@pytest.mark.parametrize(
    ("pull_km_h", "driven_km_h", "said"), [(9.5, 4.0, True), (8.0, 4.0, False), (8.0, 9.0, True)]
)
def test_a_rough_speed_is_gone_back_to_only_where_the_tractor_holds_it_or_it_was_driven(
    pull_km_h: float, driven_km_h: float, *, said: bool
) -> None:
    rows = [*(pit(35, 11, 4, i) for i in range(5)), pit(35, 8, driven_km_h, 6)]
    found = told(*rows, runs=((4, 11), (9, 3)), surface="heaved", work_speed_km_h=pull_km_h)
    words = "9 km/h is even below but leaves the surface heaved"
    assert found["text"].str.startswith(words).any() == said


def test_only_speeds_above_those_seen_and_within_the_pull_are_tried() -> None:
    rows = [pit(35, 11, 6, i) for i in range(5)]
    (free,) = told(*rows).query("step == 'speed'")["text"]
    assert free.startswith("Try faster runs: 8 and 10 km/h ")
    (text,) = told(*rows, work_speed_km_h=8.4, machine=MachineSection(speed_km_h=10.0)).query(
        "step == 'speed'"
    )["text"]
    assert text.startswith("Try a faster run: 8 km/h at the same setting, a pit")
    none = told(*rows, work_speed_km_h=5.2, machine=MachineSection(speed_km_h=7.0))
    assert "speed" not in set(none["step"])
    # What holds at one depth of several is tried there, before any metal is touched.
    deep = [pit(40, 11, 6, i, x_m=150.0) for i in range(3)]
    field = told(*rows, *deep, work_speed_km_h=[8.4, 7.1, 9.0]).query("where == @FIELD")
    assert field["step"].iloc[0] == "speed"
    text = field["text"].iloc[0]
    assert text.startswith(
        "Try a faster run where the tractor can pull it: 7.1 km/h at 40 cm and 8 km/h at 35 cm"
    )
    # The speed of the plan is one to try, rounded down where the tractor pulls no more.
    slow = [pit(35, 11, 5, i) for i in range(5)]
    planned = MachineSection(speed_km_h=7.0)
    for pulls, said in ((7.2, "6 and 7 km/h (7 as planned) at"), (6.88, "a faster run: 6 km/h at")):
        text = told(*slow, work_speed_km_h=pulls, machine=planned).query("step == 'speed'")["text"]
        assert said in text.iloc[0]
    alone = {7.2: "a faster run: 7 km/h, as planned, at", 6.88: "can pull it: 6.8 km/h at 35 cm,"}
    for pulls, said in alone.items():
        text = told(*rows, work_speed_km_h=pulls, machine=planned).query("step == 'speed'")["text"]
        assert said in text.iloc[0]
    # Without a faster run nothing hangs on one.
    assert not none["text"].str.contains("faster run").any()


def test_ground_not_cleared_has_services_located_first_and_is_not_driven_faster() -> None:
    rows = [pit(35, 11, 4, i) for i in range(5)]
    table = told(*rows, cleared="NOT CLEARED")
    assert table.iloc[0]["step"] == "locate"
    assert table["text"].iloc[0].startswith("Have services located before a leg goes that deep")
    assert "speed" not in set(table["step"])
    assert table["zones"].iloc[0] == (1, 2, 3)
    scrap = told(*rows, cleared=["NOT CLEARED", "at most", "lifted out"], area_ha=[1, 0.01, 1])
    assert "speed" not in set(scrap["step"])  # a scrap is no ground to try a speed on
    even = told(*[pit(36, 2, 8, i) for i in range(5)], cleared="NOT CLEARED")
    assert even["step"].iloc[0] == "locate"
    part = told(*rows, cleared=["at most", "NOT CLEARED", "lifted out"])
    (text,) = part.query("step == 'speed'")["text"]
    first = part[part["where"] == FIELD].iloc[0]
    assert first["step"] == "locate"
    assert first["text"].endswith("the ground at 40 cm is NOT CLEARED.")
    assert first["zones"] == (2,)
    assert "Not at 40 cm: that ground is NOT CLEARED." in text


def test_pins_and_level_come_before_speed() -> None:
    for base, step in ((30.0, "pins"), (33.0, "depth")):  # 35 less 5 cm passes the first alone
        table = told(*[pit(25, 5, 4, i, pan="yes", pan_base_cm=base) for i in range(5)])
        steps = table.loc[table["where"] == FIELD, "step"].tolist()
        assert "speed" not in steps
        assert next(one for one in steps if one != "dig") == step
    uneven = told(*[pit(25, 12, 4, i) for i in range(5)])
    order = uneven.loc[uneven["where"] == FIELD, "step"].tolist()
    assert order.index("depth") < order.index("speed")
    # Also where the mean of all is short for those that floated, and the others held.
    floated = [pit(30, 3, 7, i, pan="yes", pan_base_cm=30.0) for i in range(4)]
    held = [pit(35, 9, 5, i, pan="yes", pan_base_cm=31.0) for i in range(4, 7)]
    table = told(*floated, *held, machine=MachineSection(speed_km_h=6.0))
    order = table.loc[table["where"] == FIELD, "step"].tolist()
    assert order.index("depth") < order.index("speed")


def test_a_single_shallow_pit_is_named() -> None:
    table = told(pit(26.5, 2, 8, 0), *[pit(36, 2, 8, i) for i in range(1, 6)])
    (text,) = set(table.loc[table["step"] == "pins", "text"])
    assert text.startswith("Pit A0 (8.5 cm): the leg ran shallower than planned")


def test_a_pan_in_lifted_ground_says_that_the_plan_is_wrong() -> None:
    found = [{"x_m": 250.0, "y_m": 20.0 * i, "pan": "yes", "pan_base_cm": 28.0} for i in (1, 2)]
    table = told(*[pit(36, 2, 8, i) for i in range(6)], *found)
    own = table[table["where"] == LIFTED]
    assert (
        own["text"]
        .iloc[0]
        .startswith(
            "Pits A6 and A7 found a pan where the plan lifts the legs out: the plan is wrong here."
        )
    )
    kept = table.loc[(table["where"] == FIELD) & (table["step"] == "keep"), "text"]
    assert not kept.str.startswith("Keep speed").any()
    assert told(*found, cap_cm=0.0, cap_by="service").query("where == @LIFTED").empty


def test_last_years_pits_command_nothing() -> None:
    old = pit(35, 11, 4, 0, date="2025-09-10", moisture="plastic")
    assert "stop" not in set(told(old)["step"])
    assert "stop" in set(told(old | {"date": "2026-09-10"})["step"])


def test_closer_legs_are_not_offered_where_the_plan_asks_for_wider() -> None:
    rows = [pit(44, 18, 10, i) for i in range(5)]
    deep = planned_ground(base_cm=40.0, depth_cm=45.0)
    machine = MachineSection(point="plain", leg_spacing_cm=43.0, speed_km_h=10.0)
    (close,) = told(*rows, planned=deep, machine=machine).query("step == 'spacing'")["text"]
    assert close.startswith("Then spacing: winged points, or a second pass")
    wide = MachineSection(point="plain", leg_spacing_cm=60.0, speed_km_h=10.0)
    (text,) = told(*rows, planned=deep, machine=wide).query("step == 'spacing'")["text"]
    assert "closer legs" in text


def test_scraps_get_no_advice() -> None:
    pits = pit_rows(*[pit(35, 11, 4, i) for i in range(5)])
    plan = planned_ground()
    judged = judge_pits(pits, plan, read_on=DAY)
    groups = judge_groups(plan, judged, station_rows(), field_parts())
    groups["area_ha"] = groups["area_ha"].where(groups["group"] == "field", 0.006)
    table = advise(groups, judged, ridge_curve(trial_rows()), MachineSection(), plan.zones)
    assert set(table["where"]) == {FIELD}


def test_an_even_speed_that_the_tractor_does_not_hold_is_not_asked_for() -> None:
    rows = [pit(35, 11, 4, i) for i in range(5)]
    plan = planned_ground()
    plan = dataclasses.replace(plan, zones=plan.zones.assign(work_speed_km_h=7.2))
    judged = judge_pits(pit_rows(*rows), plan, read_on=DAY)
    groups = judge_groups(plan, judged, station_rows(), field_parts())
    curve = ridge_curve(trial_rows((4.0, 11.0), (10.0, 3.0)))
    table = advise(groups, judged, curve, MachineSection(), plan.zones)
    (text,) = table.loc[table["step"] == "speed", "text"]
    assert text == (
        "In the trial runs the ridge fell from 11 to 3 cm at 10 km/h, which by the equations the "
        "tractor may not hold on all of this ground: try fewer legs at that speed."
    )
    uneven = ridge_curve(trial_rows((4.0, 12.0), (8.0, 9.0)))
    table = advise(groups, judged, uneven, MachineSection(), plan.zones)
    assert not table["text"].str.contains("Try a faster run").any()


def test_a_speed_below_that_of_the_even_run_is_named_where_it_leaves_a_low_ridge_and_is_held() -> (
    None
):
    """By hand: halfway from 5 cm at 6 km/h to 3 cm at 8 km/h lies 4 cm at 7 km/h."""
    runs = ((4.0, 9.0), (6.0, 5.0), (8.0, 3.0))
    rows = [pit(36, 11, 5, i) for i in range(5)]
    seven = MachineSection(speed_km_h=7.0)
    table = told(*rows, runs=runs, machine=seven, work_speed_km_h=7.2)
    (text,) = table.loc[table["step"] == "speed", "text"]
    assert text.startswith(
        "Drive 7 km/h, as planned, instead of 5: in the trial runs the ridge fell from 7 to 4 cm. "
    )
    # Held no faster, or slower than any run was driven: nothing is known of the ridge there.
    for tried, pull_km_h in ((runs, 6.8), (((8.0, 3.0), (10.0, 2.0)), 7.2)):
        table = told(*rows, runs=tried, machine=seven, work_speed_km_h=pull_km_h)
        (text,) = table.loc[table["step"] == "speed", "text"]
        assert "try fewer legs at that speed" in text
        assert "Drive" not in text
    cloddy = trial_rows(*runs)
    cloddy.loc[cloddy["speed_km_h"] == 6.0, "surface"] = "cloddy"
    plan = planned_ground()
    zones = plan.zones.assign(work_speed_km_h=7.2)
    judged = judge_pits(pit_rows(*rows), plan, read_on=DAY)
    groups = judge_groups(plan, judged, station_rows(), field_parts())
    table = advise(groups, judged, ridge_curve(cloddy), seven, zones)
    assert not table["text"].str.contains("Drive 7").any()


def test_an_even_speed_of_pits_that_the_tractor_does_not_hold_is_not_asked_for() -> None:
    rows = [*(pit(36, 13, 5, i) for i in range(3)), *(pit(36, 2, 8, i) for i in range(3, 5))]
    (driven,) = told(*rows, work_speed_km_h=8.1).query("step == 'speed'")["text"]
    assert driven.startswith("Drive 8 km/h: the pits show")
    assert driven.endswith(
        "Where ground was driven again at 8 km/h since its slower pits were dug, withdraw those "
        "(worked again), also where they passed."
    )
    (text,) = told(*rows, work_speed_km_h=7.2).query("step == 'speed'")["text"]
    assert text == (
        "The pits show a ridge of 13 cm at 5 km/h (3 pits), 2 cm at 8 km/h (2 pits). By the "
        "equations the tractor may not hold 8 km/h on all of this ground: try fewer legs at that "
        "speed."
    )


def test_pins_come_before_points_that_come_before_the_strip_to_drive() -> None:
    rows = [pit(25, 12, 4, i) for i in range(5)]
    missed = pit(0, 0, 4, 5)
    orders = [
        told(*rows, missed, cleared="NOT CLEARED", **facts).query("where == @FIELD")["step"]
        for facts in ({"foot_narrow": True}, {"legs_wide": True}, {})
    ]
    narrow, wide, plain = ([s for s in order if s not in ("dig", "soil")] for order in orders)
    assert narrow == ["locate", "depth", "points", "drive", "spacing"]
    assert wide == ["locate", "drive", "depth", "points", "spacing"]
    assert plain == ["locate", "drive", "depth", "points", "spacing"]
    fast = told(*rows, missed, legs_wide=True).query("where == @FIELD")["step"].tolist()
    assert [s for s in fast if s not in ("dig", "soil")] == [
        "drive", "depth", "points", "spacing", "speed",
    ]  # fmt: skip


def test_points_come_first_only_where_no_speed_is_named_and_then_at_once() -> None:
    slow = [pit(36, 13, 5, i) for i in range(3)]
    fast = [pit(36, 2, 7, i) for i in range(3, 5)]
    bare = told(*slow, foot_narrow=True).query("where == @FIELD")
    assert bare["step"].iloc[0] == "points"
    assert "leading tines come first" in bare["text"].iloc[0]
    held = told(*slow, foot_narrow=True, cleared="NOT CLEARED").query("where == @FIELD")
    assert held["step"].tolist()[:2] == ["locate", "points"]
    named = told(*slow, *fast, foot_narrow=True).query("where == @FIELD")
    steps = named["step"].tolist()
    assert steps.index("speed") < steps.index("points")
    texts = dict(zip(named["step"], named["text"], strict=True))
    assert texts["speed"].startswith("Drive 7 km/h")
    assert "If that speed does not do it: wings, wider feet" in texts["points"]
    assert not named["text"].str.contains("come first").any()


def test_a_speed_named_for_a_depth_holds_back_the_points_of_the_field() -> None:
    # At 35 cm the pits at 7 km/h are even; at 40 cm they are not, so that the field names none.
    deep = [pit(41, 13, speed, 3 * i, x_m=150.0) for i, speed in enumerate((5, 7, 7), 0)]
    rows = [*(pit(36, 13, 5, i) for i in range(2)), pit(36, 2, 7, 2), *deep]
    table = told(*rows, foot_narrow=True)
    speeds = table.query("step == 'speed'").set_index("where")["text"]
    assert speeds[FIELD].startswith("Try faster runs: 8 and 10 km/h")
    assert speeds["35 cm"].startswith("Drive 7 km/h")
    (text,) = table.query("step == 'points' and where == @FIELD")["text"]
    assert "If the speed named for 35 cm below does not do it: wings" in text


def test_services_are_asked_for_from_the_notice_depth_on() -> None:
    plan = planned_ground(notice_cm=30.0)
    table = told(pit(36, 2, 8, 0), planned=plan, cleared="NOT CLEARED")
    words = "Have services located before a leg goes deeper than 30 cm (notice_depth_cm): the "
    assert table["text"].iloc[0].startswith(words)


def test_an_even_faster_run_is_named_although_the_slow_ridge_is_only_fair() -> None:
    missed = {"pan": "yes", "pan_base_cm": 33.0}
    slow = [pit(36, 9, 6, i, **missed) for i in range(3)]
    fast = [pit(36, 4, 8, i, **missed) for i in (3, 4)]
    (text,) = told(*slow, *fast).query("step == 'speed'")["text"]
    assert text.startswith(
        "Drive 8 km/h: the pits show a ridge of 9 cm at 6 km/h (3 pits), 4 cm at 8 km/h (2 pits)."
    )
    fair = told(*slow, *[pit(36, 5, 8, i, **missed) for i in (3, 4)])
    assert not fair["text"].str.contains("the pits show a ridge").any()
    # Where the pan was passed a ridge that is only fair asks for no faster run.
    passed = told(*[pit(40, 6, 6, i) for i in range(3)], *[pit(40, 3, 8, i) for i in (3, 4)])
    assert "speed" not in set(passed["step"])


def test_slow_pits_that_left_the_pan_name_the_even_speed_though_most_pits_passed() -> None:
    """Ridges of 8 cm at 4 km/h are not even, and 27 cm leaves a base of 31 cm."""
    slow = [pit(35, 8, 4, i, pan="yes", pan_base_cm=31.0) for i in range(2)]
    fast = [pit(35, 3.5, 6, i) for i in range(2, 6)]
    table = told(*slow, *fast)
    ((where, text),) = table.loc[table["step"] == "speed", ["where", "text"]].to_numpy()
    assert (where, text[:13]) == (FIELD, "Drive 6 km/h:")
    # The same ridge over a pan that was passed asks for no speed.
    passed = told(*[pit(35, 8, 4, i, pan="no") for i in range(2)], *fast)
    assert "speed" not in set(passed["step"])
    # Pits that the named speed is about are not named again at a depth as uneven.
    worse = told(pit(35, 11, 4, 0, pan="yes", pan_base_cm=31.0), *slow[1:], *fast)
    assert "speed" in set(worse["step"])
    assert not worse["text"].str.contains("an uneven ridge").any()


def test_a_faster_run_that_passed_the_pan_is_named_though_its_ridge_is_but_fair() -> None:
    slow = [pit(36, 11, 5, at, pan="yes", pan_base_cm=31) for at in range(5)]
    for fast, said in (
        ([pit(36, 5.5, 7, 5 + at, pan="no") for at in range(3)], True),
        ([pit(36, 5.5, 7, 5 + at, pan="yes", pan_base_cm=32) for at in range(3)], False),
        ([pit(36, 9.5, 7, 5 + at, pan="no") for at in range(3)], False),  # hardly less of a ridge
    ):
        table = told(*slow, *fast, machine=MachineSection(speed_km_h=5))
        first = table[table["where"] == FIELD].iloc[0]
        ridge = "11 cm at 5 km/h (5 pits), 5.5 cm at 7 km/h (3 pits)."
        named = first["text"].startswith(f"Drive 7 km/h: the pits show a ridge of {ridge}")
        assert named == said
    fast = [pit(36, 5.5, 7, 5 + at, pan="no") for at in range(3)]
    table = told(*fast, machine=MachineSection(speed_km_h=5))
    assert not table["step"].isin(["points", "spacing", "soil"]).any()


def test_points_of_a_depth_wait_for_the_speed_of_the_whole_field() -> None:
    """Most pits of the field passed, most at 35 cm did not: all that ran at 7 km/h passed."""
    rows = [pit(36, 13, 5, at, pan="yes", pan_base_cm=33) for at in range(3)]
    rows += [pit(36, 3, 7, 3 + at, pan="no") for at in range(2)]
    rows += [pit(41, 13, 5, 0, x_m=110.0, pan="yes", pan_base_cm=38)]
    rows += [pit(41, 3, 7, 3 * (at % 3), x_m=140.0 + 30 * (at // 3), pan="no") for at in range(5)]
    table = told(*rows)
    field = table.query("where == @FIELD")
    assert field["text"].iloc[0].startswith("Drive 7 km/h")
    assert "points" not in set(field["step"])
    (text,) = table.query("step == 'points' and where == '35 cm'")["text"]
    assert text.startswith("If the speed of the whole field does not do it: look at the points: ")


def test_pits_that_the_speed_of_their_depth_is_to_mend_are_not_to_be_looked_at_again() -> None:
    """Half of a depth was driven slower and left the pan; most of the field passed."""
    slow = [pit(36, 6, 5, at, pan="yes", pan_base_cm=33) for at in range(3)]
    fast = [pit(36, 3, 7, 3 + at, pan="no") for at in range(3)]
    deep = [pit(41, 3, 6, at, x_m=150.0, pan="no") for at in range(4)]
    table = told(*slow, *fast, *deep)
    (text,) = table.query("step == 'speed'")["text"]
    assert text.startswith(
        "Drive 7 km/h: the pits show a ridge of 6 cm at 5 km/h (3 pits), 3 cm at"
    )
    assert table.query("step == 'speed'")["where"].tolist() == ["35 cm"]
    assert "left" not in set(table["step"])
    # One that was as fast has to be looked at all the same.
    further = [pit(36, 3, 7, at, pan="no") for at in (6, 7)]
    again = told(pit(36, 6, 7, 8, pan="yes", pan_base_cm=33), *slow, *fast, *deep, *further)
    (left,) = again.query("step == 'left'")["text"]
    assert left.startswith("Pan left between legs at pit A0, ")


def test_a_whole_speed_between_two_usual_ones_is_tried_where_the_next_is_not_held() -> None:
    rows, own = [pit(35, 11, 6, at) for at in range(5)], MachineSection(speed_km_h=6.0)
    runs = ((4.0, 12.0), (6.0, 6.0))

    def speeds(*pits: dict[str, object], pull: float, tried: bool) -> list[str]:
        driven = runs if tried else ()
        table = told(*pits, runs=driven, work_speed_km_h=pull, machine=own)
        return list(table.query("step == 'speed' and where == @FIELD")["text"])

    (text,) = speeds(*rows, pull=7.3, tried=False)
    assert text.startswith("Try a faster run where the tractor can pull it: 7 km/h at 35 cm, at")
    (text,) = speeds(*rows, pull=9.4, tried=False)
    assert text.startswith("Try a faster run: 8 km/h at the same setting")
    (text,) = speeds(*rows, pull=7.3, tried=True)
    assert text.endswith(
        "Try 7 km/h, which the tractor holds by the equations, if the surface stays level."
    )
    for tried in (False, True):
        assert speeds(*rows, pull=6.9, tried=tried) == []
        assert speeds(*rows, pit(35, 11, 7, 5), pull=7.3, tried=tried) == []


def test_a_speed_stays_with_the_depth_that_holds_it_although_the_field_does_not() -> None:
    missed = {"pan": "yes", "pan_base_cm": 33.0}
    slow = [pit(36, 11, 6, i, **missed) for i in range(3)]
    fast = [pit(36, 3, 8, i, **missed) for i in (3, 4)]
    deep = [pit(41, 11, 6, 3 * i, x_m=150.0, **missed) for i in range(3)]
    pulls = {"work_speed_km_h": [8.4, 7.1, 9.0]}
    speeds = told(*slow, *fast, *deep, **pulls).query("step == 'speed'").set_index("where")["text"]
    assert speeds.index.tolist() == [FIELD, "35 cm"]
    assert "may not hold 8 km/h on all of this ground" in speeds[FIELD]
    assert speeds["35 cm"].startswith("Drive 8 km/h")
    all_hold = told(*slow, *fast, *deep, work_speed_km_h=8.4).query("step == 'speed'")
    assert all_hold["where"].tolist() == [FIELD]


@pytest.mark.parametrize(
    ("leg_cm", "run", "held"),
    [
        (35.0, {}, [8.0, 7.1, 8.0]),  # at 35 cm, so there and shallower, not at 40 cm
        (33.0, {}, [8.0, 7.1, 8.0]),  # within the tolerance of what was set, 2.5 cm
        (32.0, {}, [7.1, 7.1, 7.1]),
        (44.0, {}, [8.0, 7.1, 8.0]),  # deeper than was set: held at what was set
        (35.0, {"date": "2026-04-01"}, [7.1, 7.1, 7.1]),  # of earlier work
        (41.0, {"x_m": 150.0}, [8.0, 8.0, 8.0]),
    ],
)
def test_a_speed_that_a_pit_of_this_work_kept_its_depth_at_is_held(
    leg_cm: float, run: dict[str, object], held: list[float]
) -> None:
    plan = planned_ground()
    judged = judge_pits(pit_rows(pit(leg_cm, 3, 8, 0, **run)), plan, read_on=DAY)
    zones = plan.zones.assign(work_speed_km_h=7.1)
    seen = speeds_kept(zones, judged, trial_rows())
    assert seen["work_speed_km_h"].tolist() == held
    assert speeds_kept(plan.zones, judged, trial_rows()) is plan.zones  # its power is not known


def test_a_speed_that_a_trial_run_kept_its_depth_at_is_held_though_the_equations_deny_it() -> None:
    none = judge_pits(pit_rows(), planned_ground(), read_on=DAY)
    zones = planned_ground().zones.assign(work_speed_km_h=[8.4, 7.1, float("nan")])
    runs = trial_rows((4.0, 11.0), (8.0, 3.0), (10.0, 2.0))
    assert speeds_kept(zones, none, runs)["work_speed_km_h"].tolist() == [10.0, 7.1, 10.0]
    short = runs.assign(loosened_at_leg_cm=[35.0, 34.0, 31.0])
    assert speeds_kept(zones, none, short)["work_speed_km_h"].tolist() == [8.4, 7.1, 8.0]
    deep = runs.assign(depth_setting_cm=41.0, loosened_at_leg_cm=40.0)
    assert speeds_kept(zones, none, deep)["work_speed_km_h"].tolist() == [10.0, 10.0, 10.0]
    blank = runs.assign(loosened_at_leg_cm=float("nan"))
    assert speeds_kept(zones, none, blank)["work_speed_km_h"].tolist()[:2] == [8.4, 7.1]


def test_to_dig_under_a_ridge_comes_after_speed_points_and_spacing() -> None:
    missed = {"pan": "yes", "pan_base_cm": 33.0}
    rows = [pit(36, 7, 6, i, **missed) for i in range(4)]
    deep = [pit(41, 10, 6, 3 * i, x_m=150.0, **missed) for i in range(3)]
    table = told(*rows, *deep, work_speed_km_h=[8.4, 7.1, 9.0])
    speed = table[table["step"] == "speed"]
    assert speed["where"].tolist() == [FIELD]
    assert (
        "where the tractor can pull it: 7.1 km/h at 40 cm and 8 km/h at 35 cm"
        in speed["text"].iloc[0]
    )
    again = table.loc[table["text"].str.contains("and plan again"), ["where", "text"]].to_numpy()
    ((where, text),) = again
    assert where == FIELD
    asked = "Only where speed, points and spacing do not do it, drive trial runs and plan again:"
    assert text.startswith(asked)
    bare = told(*rows, *deep, work_speed_km_h=6.4).query("where == @FIELD")
    assert [step for step in bare["step"] if step != "dig"] == [
        "points", "spacing", "under", "soil",
    ]  # fmt: skip


def test_pins_come_before_a_speed_whose_slower_pits_ran_shallow_too() -> None:
    missed = {"pan": "yes", "pan_base_cm": 33.0}
    even = [pit(35, 3, 7, i) for i in (4, 5)]
    shallow = [pit(31.5, 8, 4, i, **missed) for i in range(4)]
    table = told(*shallow, *even)
    (text,) = table.query("where == @FIELD and step == 'speed'")["text"]
    assert text.startswith(
        "At the slower pits the legs ran 3.5 cm shallower than planned: check the pins and the "
        "frame level first. Then: Drive 7 km/h: the pits show a ridge of 8 cm at 4 km/h"
    )
    assert not table["text"].str.contains("or the speed").any()
    assert not table["text"].str.contains("Pan left").any(), "the speed says it of these pits"
    held = told(*[pit(35, 8, 4, i, **missed) for i in range(4)], *even)
    (text,) = held.query("where == @FIELD and step == 'speed'")["text"]
    assert text.startswith("Drive 7 km/h")


def test_a_speed_of_the_trial_runs_that_pits_deny_is_not_named_again() -> None:
    slow = [pit(33, 7, 6, i, pan="yes", pan_base_cm=31.0) for i in range(3)]
    fast = [pit(33, 8, 7, 3 + i, pan="yes", pan_base_cm=31.0) for i in range(3)]

    def steps(*rows: dict[str, object]) -> pd.DataFrame:
        table = told(*rows, runs=((5.0, 7.0), (7.0, 4.0), (9.0, 3.0)))
        return table[table["where"] == FIELD].set_index("step")

    assert steps(*slow).loc["speed", "text"].startswith("Drive 7 km/h instead of 6: in the trial")
    both = steps(*slow, *fast)
    assert "speed" not in both.index
    assert both.loc["points", "text"].startswith(
        "Pits at 7 km/h or faster show a ridge of 8 cm, though the trial runs were even there. "
    )


def test_a_ridge_below_the_slowest_trial_run_is_that_of_the_pits() -> None:
    slow = [pit(33, 5, 6, i, pan="yes", pan_base_cm=31.0) for i in range(3)]
    table = told(*slow, runs=((8.0, 3.0),))
    (text,) = table.loc[table["step"] == "speed", "text"]
    assert text.startswith(
        "Drive 8 km/h instead of 6: the ridge fell from 5 cm in the pits to 3 cm in the trial runs."
    )


def test_a_faster_speed_that_is_driven_already_is_no_change_any_more() -> None:
    slow = [pit(35, 6, 6, i, pan="yes", pan_base_cm=31.0) for i in range(2)]
    fast = [pit(35, 3, 8, 2 + i) for i in range(7)]
    beside = [pit(40, 3, 8, i, x_m=110.0 + 20 * i) for i in range(4)]

    def whole(*rows: dict[str, object]) -> list[str]:
        table = told(*rows)
        return table.loc[(table["where"] == FIELD) & (table["step"] == "speed"), "text"].tolist()

    (early,) = whole(*slow, *fast[:2])
    assert early.startswith("Drive 8 km/h: the pits show a ridge of 6 cm at 6 km/h (2 pits), 3 cm")
    (late,) = whole(*slow, *fast, *beside)
    assert late == (
        "Go on at 8 km/h: the pits show a ridge of 6 cm at 6 km/h (2 pits), 3 cm at 8 km/h (7 "
        "pits)."
    )
    deep = [pit(40, 6, 6, 0, x_m=110.0, pan="yes", pan_base_cm=36.0)]
    table = told(*slow, *fast, *deep, *[pit(40, 3, 8, i, x_m=125.0 + 15 * i) for i in range(3)])
    assert table.loc[table["step"] == "speed", "where"].tolist() == [FIELD], "not named anew there"


def test_speeds_are_compared_at_one_depth_since_deeper_work_is_driven_slower() -> None:
    """Each depth at a speed of its own, the deeper slower and with more of a ridge."""
    shallow = [pit(36, ridge, 8, at) for at, ridge in enumerate((2.5, 3.0, 2.5, 3.0, 3.0))]
    deep = [pit(41, 4, 7, at, x_m=110.0 + 30 * at) for at in range(3)]
    bad = pit(41, 12, 7, 5, x_m=190.0, pan="yes", pan_base_cm=36.0)
    pull = [8.0, 7.2, 8.0]
    for rows in ((*shallow[:2], deep[0], bad), (*shallow, *deep, bad)):
        table = told(*rows, work_speed_km_h=pull)
        assert "speed" not in set(table["step"])
        assert not table["text"].str.contains("Go on|fewer legs", regex=True).any()
        left = table.loc[table["step"] == "left", "text"]
        assert left.str.contains("at pit A").any()
    slow = [pit(36, 7, 7, 5 + at, pan="yes", pan_base_cm=31.0) for at in range(2)]
    apart = told(*slow, *shallow, *deep, work_speed_km_h=pull)
    assert apart.loc[apart["step"] == "speed", "where"].tolist() == ["35 cm"]
    well = [pit(40, 6, 7, at, x_m=110.0 + 30 * at) for at in range(3)]
    whole = told(*shallow, *well).query("step == 'keep'")["text"].iloc[0]
    assert whole.startswith("Keep the setting and the speed of each depth (pits at 7 to 8 km/h,")
    driven = [row | {"speed_km_h": 8} for row in deep]
    for fastest, slower in ((pull, ", slower where the sheet says so"), (8.0, "")):
        text = told(*slow, *shallow, *driven, work_speed_km_h=fastest)["text"].iloc[0]
        assert text == (
            f"Go on at 8 km/h{slower}: the pits show a ridge of 7 cm at 7 km/h (2 pits), 2.8 cm at "
            "8 km/h (5 pits)."
        )


def test_a_depth_driven_well_at_a_faster_speed_is_not_sent_down_to_that_of_another() -> None:
    even = [pit(36, 3, 8, at) for at in range(4)]
    slow = [pit(40, 10, 5, at, x_m=110.0 + 15 * at, pan="yes", pan_base_cm=35.0) for at in range(3)]
    faster = [pit(40, 4, 6.5, at, x_m=155.0 + 15 * at) for at in range(2)]
    table = told(*even, *slow, *faster)
    assert table.loc[table["step"] == "speed", "where"].tolist() == ["40 cm"]
    uneven = [pit(36, 14, 8, at, pan="yes", pan_base_cm=30.0) for at in range(4)]
    table = told(*uneven, *slow, *faster)
    assert table.loc[table["step"] == "speed", "where"].tolist()[0] == FIELD


def test_the_field_is_told_a_speed_that_each_depth_was_driven_at() -> None:
    """At 35 cm 7 and 9 km/h, at 40 cm 8 km/h too: 8 is for 40 cm to name."""
    shallow = [pit(36, 7, 7, at, pan="yes", pan_base_cm=31.0) for at in range(3)]
    shallow += [pit(36, 3, 9, 3 + at) for at in range(4)]
    slow = [pit(40, 8, 7, at, x_m=110.0 + 15 * at, pan="yes", pan_base_cm=35.0) for at in range(3)]
    for speeds, field in (((9, 9, 9, 8), [9.0]), ((8, 9, 9, 9), [9.0]), ((8, 8, 8, 8), [])):
        deep = [pit(41, 4, km_h, at, x_m=155.0 + 15 * at) for at, km_h in enumerate(speeds)]
        table = told(*shallow, *slow, *deep)
        named = table[table["step"] == "speed"].set_index("where")["text"]
        told_km_h = named.str.extract(r"(?:Drive|Go on at) ([\d.]+) km/h")[0].astype(float)
        assert told_km_h.get([FIELD], pd.Series(dtype=float)).tolist() == field
        if not field:
            assert told_km_h.to_dict() == {"35 cm": 9.0, "40 cm": 8.0}


def test_a_leg_above_the_base_and_ridges_alike_say_nothing_of_speed() -> None:
    fast = [pit(35, 3, 8, i) for i in range(2)]
    high = pit(33, 6, 6, 2, pan="yes", pan_base_cm=36.0)  # no speed passes it
    alike = pit(36, 4.5, 6, 2, pan="yes", pan_base_cm=33.0)  # 1.5 cm more than at 8 km/h
    clear = pit(36, 6, 6, 2, pan="yes", pan_base_cm=33.0)
    named = [
        told(*fast, slow)["text"].str.startswith("Drive 8 km/h: the pits show").any()
        for slow in (high, alike, clear)
    ]
    assert named == [False, False, True]
