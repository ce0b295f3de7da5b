"""What single pits ask for, once each, in the zones they lie in."""

from __future__ import annotations

import dataclasses
from collections.abc import Collection, Sequence

import pandas as pd
import pytest
from checks.conftest import drain, field_parts, pit_rows, planned_ground, station_rows, trial_rows

from zoning.checks.advice import LIFTED, advise
from zoning.checks.groups import FIELD, judge_groups
from zoning.checks.pits import judge_pits
from zoning.checks.trials import ridge_curve
from zoning.model.check import PlannedGround
from zoning.model.settings import MachineSection

LEG, BETWEEN = "loosened_at_leg_cm", "loosened_between_cm"


def pit(leg: float, between: float, at: int, **facts: object) -> dict[str, object]:
    place = {"x_m": 15.0 + 30.0 * (at % 3), "y_m": 15.0 + 30.0 * (at // 3)}
    return {LEG: leg, BETWEEN: between, "speed_km_h": 7.0} | place | facts


def told(
    *pits: dict[str, object],
    planned: PlannedGround | None = None,
    strikes: pd.Series | None = None,
    older: Collection[str] = (),
    **zones: object,
) -> pd.DataFrame:
    plan = planned or planned_ground()
    plan = dataclasses.replace(plan, zones=plan.zones.assign(**zones))
    judged = judge_pits(pit_rows(*pits), plan, read_on="", older=older)
    groups = judge_groups(plan, judged, station_rows(), field_parts())
    curve = ridge_curve(trial_rows())
    return advise(groups, judged, curve, MachineSection(), plan.zones, strikes)


def of_step(table: pd.DataFrame, step: str) -> list[str]:
    return table.loc[table["step"] == step, "text"].tolist()


def ridged(count: int) -> list[dict[str, object]]:
    return [pit(36, 22, i, pan="yes", pan_base_cm=31.0) for i in range(count)]


def test_a_short_leg_is_told_the_same_of_its_depth_and_of_the_whole_field() -> None:
    """By hand: 35 cm less a ridge of 4 cm is 31 cm, below the base of 29 cm."""
    good = [pit(36, 32, at) for at in range(5)]
    afloat = pit(29.5, 25.5, 6, pan="yes", pan_base_cm=29.0)
    few, more = (
        told(*good, afloat, *[pit(40, 36, 0, x_m=120.0 + 15 * at) for at in range(count)])
        for count in (1, 5)
    )
    for table in (few, more):
        pins = table[table["step"] == "pins"]
        assert pins["where"].tolist() == [FIELD, "35 cm"]
        assert len(set(pins["text"])) == 1
        assert "passed the pan. Where that run is driven again, dig" in pins["text"].iloc[0]
    missed = pit(0, 0, 8, pan="yes", pan_base_cm=29.0)
    for rows in ((*good[:1], afloat), (*good, afloat, missed)):
        (text, _) = of_step(told(*rows), "pins")
        assert text.endswith(
            "it would have passed the pan: dig again before any other change. Where that run is "
            "driven again, dig there anew and withdraw this pit."
        )
    anew = pit(36, 32, 6, y_m=79.0, date="2026-09-11")  # 4 m beside
    for text in of_step(told(*good, afloat, anew), "pins"):
        assert text.endswith(
            "withdraw this pit. If the ground there was driven again since, before pit A6 beside "
            "was dug, withdraw pit A5 now: it is done."
        )


def test_a_missed_strip_is_to_be_driven_and_says_nothing_of_speed_or_pins() -> None:
    missed = [pit(0, 0, 4 + i, pan="yes", pan_base_cm=31.0, speed_km_h=9.0) for i in range(2)]
    table = told(*ridged(4), *missed)
    (text,) = of_step(table, "drive")
    assert text == (
        "Not worked at pits A4 and A5: drive these strips to the depth of the plan, then dig there "
        "anew and withdraw these pits (worked again)."
    )
    assert table.loc[table["step"] == "drive", "zones"].tolist() == [(1,)]
    assert not table["text"].str.contains("9 km/h|shallower", regex=True).any()


def test_a_missed_strip_that_was_dug_anew_asks_for_its_pit_to_be_withdrawn() -> None:
    missed, ninth, eleventh = pit(0, 0, 4), {"date": "2026-09-09"}, {"date": "2026-09-11"}
    for metres, day, named in ((9, eleventh, True), (11, eleventh, False), (9, ninth, False)):
        (text,) = of_step(
            told(*ridged(4), missed, pit(36, 32, 4, y_m=45.0 + metres, **day)), "drive"
        )
        asked = (
            " If the ground there was driven again since, before pit A5 beside was dug, "
            "withdraw pit A4 now: it is done."
        )
        assert text.endswith(f"withdraw this pit (worked again).{asked if named else ''}")


def test_nobody_is_sent_to_a_missed_strip_before_services_are_located_or_below_a_cap() -> None:
    missed = pit(0, 0, 4)
    (text,) = of_step(told(*ridged(4), missed, cleared="NOT CLEARED"), "drive")
    assert "Not before services are located at pit A4: NOT CLEARED." in text
    under = planned_ground(hazard_zones=drain(30.0))
    (text,) = of_step(told(*ridged(4), missed, planned=under), "drive")
    assert "Plan again first for pit A4: a hazard allows less there now." in text


def test_a_pan_above_the_loosened_depth_asks_for_a_look_and_never_for_depth() -> None:
    table = told(*[pit(36, 33, i, pan="yes", pan_base_cm=22.0) for i in range(4)])
    (text,) = of_step(table, "look")
    assert text.startswith("A pan is seen in pits A0, A1, A2 and A3, yet the soil is loosened ")
    assert not of_step(table, "depth")
    assert not table["text"].str.contains("Set |pan goes deeper", regex=True).any()
    steps = table.loc[table["where"] == FIELD, "step"].tolist()
    assert {"speed", "points", "spacing", "soil"} <= set(steps)


def test_untouched_soil_without_a_pan_is_asked_about() -> None:
    table = told(*[pit(36, 0, i, pan="no") for i in range(4)])
    (text,) = of_step(table, "look")
    assert text.startswith("Nothing was loosened between the legs at pits A0, A1, A2 and A3, and ")
    assert not {"keep", "speed"} & set(table["step"])


def test_a_machine_that_floats_at_speed_is_told_and_that_speed_is_not() -> None:
    floats = [pit(22, 20, 4 + i, pan="yes", pan_base_cm=31.0, speed_km_h=9.0) for i in range(3)]
    table = told(*ridged(4), *floats)
    look = of_step(table, "pins")[0]
    assert look.startswith("Pits A4 (13 cm), A5 (13 cm) and A6 (13 cm): the leg ran shallower ")
    assert "That was at 9 km/h; legs kept their depth at 7 km/h" in look
    # One a little short that passed is no run that kept its depth.
    passed = pit(32, 31, 8, pan="no", speed_km_h=9.0)
    again = of_step(told(*ridged(4), *floats, passed), "pins")[0]
    assert "That was at 9 km/h; legs kept their depth at 7 km/h" in again
    (speed,) = of_step(table, "speed")
    assert speed.startswith("Try a faster run: 8 km/h, as planned, at the same setting")
    assert "ridge of" not in speed


def test_a_leg_far_shorter_than_legs_that_ran_short_too_is_not_set_against_none() -> None:
    far = pit(24, 21, 5, pan="yes", pan_base_cm=30.0)
    (text,) = set(of_step(told(*[pit(31, 28, i, pan="no") for i in range(4)], far), "pins"))
    assert text.startswith("Pit A4 (11 cm): the leg ran shallower than planned, the others by 4 cm")
    held = told(*[pit(35, 32, i, pan="no") for i in range(4)], far)
    (text,) = set(of_step(held, "pins"))
    assert text.startswith("Pit A4 (11 cm): the leg ran shallower than planned, though others did ")


def test_work_in_lifted_ground_stands_in_what_to_do() -> None:
    table = told(*[pit(36, 33, i) for i in range(4)], {"x_m": 250.0, LEG: 36.0, BETWEEN: 30.0})
    own = table[table["where"] == LIFTED]
    assert own[["step", "zones"]].to_numpy().tolist() == [["look", (3,)]]
    assert own["text"].iloc[0].startswith("Loosened at pit A4, where the plan lifts the legs out")


def test_a_strike_has_one_text_and_nobody_is_sent_to_dig_for_it() -> None:
    service = drain(0.0).assign(kind="service")
    planned = planned_ground(hazard_zones=service)
    strike = pd.Series({"A0": "Stop: pit A0 was loosened 0.2 m from the pipe."})
    table = told(pit(40, 35, 1), planned=planned, strikes=strike)
    assert set(of_step(table, "stop")) == {strike["A0"]}
    bare = told(pit(40, 35, 1), planned=planned)
    (text,) = set(of_step(bare, "stop"))
    assert "Find out whether it was touched, and tell its owner" in text
    assert "Find the" not in text
    assert bare.loc[bare["step"] == "stop", "zones"].map(lambda zones: zones == (1,)).all()


@pytest.mark.parametrize(("older", "pins"), [((), True), ([f"A{i}" for i in range(5)], False)])
def test_pits_older_than_the_plan_ask_for_no_pins_and_name_no_depth(
    older: Sequence[str], pins: bool
) -> None:
    shallow = told(*[pit(25, 23, i) for i in range(5)], older=older)
    assert shallow["text"].str.contains("shallower than planned").any() == pins
    deep = told(*[pit(34, 32, i, pan="yes", pan_base_cm=38.0) for i in range(5)], older=older)
    assert deep["text"].str.contains(r"Set \d", regex=True).any() == pins
    assert deep["text"].str.contains("plan again").any() == pins
    some = [pit(34, 26, i, pan="yes", pan_base_cm=30.0) for i in range(2)]
    left = told(*some, *[pit(36, 33, i) for i in range(2, 7)], older=older[:2])
    assert left["text"].str.contains("Pan left between legs").any() == pins


def test_a_base_far_off_is_measured_again_once_and_not_after_the_ground_passed() -> None:
    odd = pit(35, 31, 5, pan="yes", pan_base_cm=45.0)
    beside = odd | {"y_m": float(str(odd["y_m"])) + 4.0}
    good = [pit(36, 32, i) for i in range(4)]
    agrees, differs = beside | {"pan_base_cm": 44.0}, beside | {"pan_base_cm": 39.0}
    passed = beside | {"loosened_at_leg_cm": 45, "loosened_between_cm": 42, "pan": "no"}
    for rows, asked in (
        ([odd], True),
        ([odd, agrees], False),
        ([odd, differs], True),
        ([odd, passed | {"pan_base_cm": float("nan")}], False),
    ):
        looks = of_step(told(*good, *rows), "look")
        assert any("Measure it again" in text for text in looks) == asked


def test_legs_put_right_after_they_ran_deep_are_told_by_their_pits() -> None:
    deep = [pit(42, 38, i, pan="no") for i in range(4)]
    right = [pit(35.2, 31.2, 4 + i, pan="no") for i in range(4)]
    told_of = told(*deep)
    (text,) = of_step(told_of, "depth")
    assert text.startswith("The legs ran 7 cm deeper than planned: check the pins, the ")
    assert "before the work goes on, since over a hazard it is dangerous. If they were set" in text
    table = told(*deep, *right)
    assert not (table["step"] == "depth").any()
    look = of_step(table, "look")[0]
    assert look.startswith(
        "Pits A0 (7 cm), A1 (7 cm), A2 (7 cm) and A3 (7 cm): the leg ran deeper than planned, "
        "though others did not."
    )
    assert not (table["step"] == "keep").any()  # never beside legs that ran off the plan


def test_the_tape_does_not_part_one_setting_that_all_legs_ran_at() -> None:
    one = [pit(35 + cm, 31 + cm, i, pan="no") for i, cm in enumerate((4.5, 5.5, 4.5, 4.5, 5.5))]
    table = told(*one)
    assert of_step(table, "look") == []
    assert of_step(table, "depth")[0].startswith("The legs ran 4.9 cm deeper than planned")
    two = [pit(35 + cm, 31 + cm, i, pan="no") for i, cm in enumerate((2.0, 6.0, 2.0, 2.0, 2.4))]
    look = of_step(told(*two), "look")[0]
    assert look.startswith(
        "Pit A1 (6 cm): the leg ran deeper than planned, the others by up to 2.4 cm. Check"
    )
    assert "If it was set so because the planned depth left the pan, leave it and plan" in look


def test_a_ridge_of_the_pits_since_the_plan_alone_says_of_how_many() -> None:
    before = [pit(36, 33, i) for i in range(4)]
    since = [pit(36, 30.5, i) for i in range(4, 8)]
    (text,) = of_step(told(*before, *since, older=[f"A{i}" for i in range(4)]), "keep")
    assert "ridge 5.5 cm at 4 pits)" in text
    (text,) = of_step(told(*before, *since), "keep")
    assert "ridge 4.3 cm)" in text


@pytest.mark.parametrize(
    ("narrow", "first"), [(True, "points, then speed"), (False, "speed, then points")]
)
def test_the_cures_of_a_pan_left_stand_in_the_order_of_the_steps(
    *, narrow: bool, first: str
) -> None:
    left = pit(36, 31, 1, pan="yes", pan_base_cm=33.0)
    table = told(pit(35, 32, 0), left, foot_narrow=narrow)
    texts = table.loc[table["where"] == "35 cm", "text"].str.cat(sep=" ")
    texts += table.loc[table["where"] == FIELD, "text"].str.cat(sep=" ")
    assert f"do not keep the setting on this. Less of a ridge ({first}), or more depth" in texts


def test_how_far_the_legs_ran_short_is_told_of_all_the_pits_of_a_depth() -> None:
    """By hand: 3, 6, 2.5, 3 and 3 cm are 3.5 cm in the mean; held at 35 cm all but one would pass.

    One is left by that: what it alone ran short says nothing of the legs.
    """
    short = [(32.0, 30.0), (29.0, 34.0), (32.5, 30.0), (32.0, 30.0), (32.0, 30.0)]
    rows = [
        pit(leg, leg - 4.0, i, pan="yes", pan_base_cm=base) for i, (leg, base) in enumerate(short)
    ]
    for text in of_step(told(*rows), "depth"):
        assert text.startswith("The legs ran 3.5 cm shallower than planned: ")
    assert of_step(told(*rows), "depth")
