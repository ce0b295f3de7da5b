"""What bounds the depth of a zone, ground that a hazard holds, and legs that went past its cap."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from checks.conftest import drain, field_parts, pit_rows, planned_ground, station_rows, trial_rows

from zoning.checks.advice import advise
from zoning.checks.caps import held_name, not_held, past_caps, stop_words
from zoning.checks.groups import judge_groups, judge_zones
from zoning.checks.pits import judge_pits
from zoning.checks.trials import ridge_curve
from zoning.model.check import PlannedGround
from zoning.model.settings import MachineSection

LEFT = {"loosened_at_leg_cm": 34.0, "loosened_between_cm": 32.0, "pan": "yes", "pan_base_cm": 38.0}


def held_ground() -> PlannedGround:
    """A drain holds zone 1 at 35 cm, where the plan gave a pan at 38 cm little chance."""
    return planned_ground(base_cm=38.0, hazard_zones=drain(36.0), assurance=0.128)


def test_a_zone_is_bound_by_the_hazards_that_reach_it_and_by_no_other() -> None:
    zones = planned_ground(hazard_zones=drain(36.0)).zones
    assert zones["cap_cm"].tolist()[0] == 36.0
    assert zones["cap_by"].tolist() == ["drain", "", ""]
    assert np.isnan(zones["cap_cm"].tolist()[1])
    # The machine of 3 m reaches from 2 m beside the keep-off; a depth below the cap shows that
    # the plan did not find it bound there.
    beside = planned_ground(hazard_zones=drain(42.0, 90.0, 98.0)).zones
    assert beside["cap_cm"].tolist()[:2] == [42.0, 42.0]
    deeper = planned_ground(hazard_zones=drain(36.0, 90.0, 98.0)).zones
    assert np.isnan(deeper["cap_cm"].tolist()[1])


def test_the_least_bound_is_the_deepest_that_may_be_advised() -> None:
    machine = MachineSection(depth_max_cm=50.0)
    free = planned_ground(machine=machine).zones
    assert (free["deepest_cm"] == 50.0).all()
    near = planned_ground(hazard_zones=drain(36.0), machine=machine, notice_cm=30.0).zones
    assert near["deepest_cm"].tolist() == [30.0, 30.0, 30.0]
    assert set(near["deepest_by"]) == {"notice"}
    both = planned_ground(hazard_zones=drain(28.0), machine=machine, notice_cm=30.0).zones
    assert (both["deepest_cm"].iloc[0], both["deepest_by"].iloc[0]) == (28.0, "drain")


@pytest.mark.parametrize(
    ("cap", "assurance", "held"),
    [(36.0, 0.128, True), (36.0, 0.8, False), (38.0, 0.128, False), (35.0, float("nan"), False)],
)
def test_ground_is_held_where_no_deeper_setting_is_left_and_the_plan_expected_to_miss(
    cap: float, assurance: float, held: bool
) -> None:
    zones = planned_ground(hazard_zones=drain(cap), assurance=assurance).zones
    assert zones["held"].tolist() == [held, False, False]


@pytest.mark.parametrize(
    ("west_m", "east_m", "machine", "held"),
    [
        (48.0, 52.0, MachineSection(), True),
        # The drain touches the corner of a zone 100 m wide: its keep-off, the 3 m of the machine
        # and a run of 25 m cover less than half of it.
        (0.0, 2.0, MachineSection(), False),
        # The machine goes no deeper than 36 cm: no hazard is what leaves the pan.
        (48.0, 52.0, MachineSection(depth_max_cm=36.0), False),
    ],
)
def test_a_zone_that_a_hazard_only_touches_or_that_the_machine_limits_is_judged_as_any_other(
    west_m: float, east_m: float, machine: MachineSection, held: bool
) -> None:
    around = drain(36.0, west_m, east_m)
    planned = planned_ground(hazard_zones=around, assurance=0.1, machine=machine)
    assert planned.zones["held"].tolist() == [held, False, False]
    shallow = {"loosened_at_leg_cm": 26.0, "loosened_between_cm": 22.0, "pan": "yes", "x_m": 80.0}
    verdict = judge_pits(pit_rows(shallow), planned, read_on="")["verdict"].tolist()
    assert (verdict == ["held"]) == held


def test_a_pan_left_on_held_ground_is_as_planned_and_counts_nowhere() -> None:
    planned = held_ground()
    pits = judge_pits(pit_rows(LEFT), planned, read_on="")
    assert pits["verdict"].tolist() == ["held"]
    assert "holds the work here at 35 cm: as planned" in pits["reason"].iloc[0]
    groups = judge_groups(planned, pits, station_rows(), field_parts()).set_index("name")
    assert "35 cm" not in groups.index
    assert groups.loc["whole field", "pits"] == 0
    zone = judge_zones(planned, pits, station_rows(), field_parts()).set_index("zone").loc[1]
    assert zone[["verdict", "depth_verdict", "more_pits"]].tolist() == ["held", "held", 0]
    assert 1 not in set(not_held(planned).zones["zone"])


def test_a_pan_that_the_ridge_left_on_held_ground_is_not_laid_to_the_hazard() -> None:
    planned = held_ground()
    passed = LEFT | {"loosened_at_leg_cm": 35.0, "pan_base_cm": 31.0}
    pits = judge_pits(pit_rows(passed), planned, read_on="")
    assert pits["verdict"].tolist() == ["held"]
    assert "the ridge left the pan between legs, not the hazard" in pits["reason"].iloc[0]
    groups = judge_groups(planned, pits, station_rows(), field_parts())
    told = advise(groups, pits, ridge_curve(trial_rows()), MachineSection(), planned.zones)
    own = told.loc[told["where"] == held_name(35.0, "drain"), "text"].iloc[0]
    assert "At pit A0 the leg passed the base seen: between legs the ridge left the pan" in own
    assert own.endswith("Do not go deeper.")


def test_held_ground_is_told_to_stay_as_it_is_and_nothing_else() -> None:
    planned = held_ground()
    pits = judge_pits(pit_rows(LEFT), planned, read_on="")
    groups = judge_groups(planned, pits, station_rows(), field_parts())
    told = advise(groups, pits, ridge_curve(trial_rows()), MachineSection(), planned.zones)
    own = told[told["where"] == held_name(35.0, "drain")]
    assert own["step"].tolist() == ["hold"]
    assert own["text"].iloc[0] == (
        "Zone 1: here the drain holds the work at 35 cm; a pan that stays was planned. "
        "Pan seen in pit A0. Do not go deeper."
    )
    assert not told["text"].str.contains("Set |faster runs", regex=True).any()
    both = judge_pits(pit_rows(LEFT, LEFT), planned, read_on="")
    groups = judge_groups(planned, both, station_rows(), field_parts())
    told = advise(groups, both, ridge_curve(trial_rows()), MachineSection(), planned.zones)
    assert (
        told["text"]
        .str.contains("Pan seen in pits A0 and A1. Do not go deeper.", regex=False)
        .any()
    )


def test_a_leg_past_the_cap_of_its_zone_is_found_however_it_was_judged() -> None:
    planned = planned_ground(hazard_zones=drain(35.0))
    deep = pit_rows({"loosened_at_leg_cm": 48.0}, {"loosened_at_leg_cm": 36.0})
    past = past_caps(judge_pits(deep, planned, read_on=""))
    assert past[["pit", "far"]].to_numpy().tolist() == [["A0", True], ["A1", False]]
    assert past_caps(judge_pits(deep.assign(x_m=150.0), planned, read_on="")).empty
    words = stop_words(past.iloc[0].to_dict())
    assert words.startswith(
        "Stop: pit A0 at lon 0.800000, lat 52.700000 was loosened 48 cm deep, where the drain "
        "holds the work at 35 cm. Find out whether it was touched, and tell its owner before "
        "anyone works on. Look at its "
    )
    named = planned_ground(hazard_zones=drain(35.0, name="clay main"))
    (found,) = past_caps(judge_pits(deep.iloc[:1], named, read_on="")).to_dict("records")
    assert "where the drain (clay main) holds the work at 35 cm." in stop_words(found)


def test_past_the_cap_comes_first_in_the_advice_of_field_and_depth() -> None:
    planned = planned_ground(hazard_zones=drain(35.0))
    deep = {"loosened_at_leg_cm": 48.0, "loosened_between_cm": 33.0}
    pits = judge_pits(pit_rows(deep), planned, read_on="")
    groups = judge_groups(planned, pits, station_rows(), field_parts())
    told = advise(groups, pits, ridge_curve(trial_rows()), MachineSection(), planned.zones)
    first = told[told["order"] == 1].set_index("where")
    for where in ("whole field", "35 cm"):
        assert first.loc[where, "step"] == "stop"
        assert "Find out whether it was touched" in first.loc[where, "text"]
    assert isinstance(told, pd.DataFrame)


def test_a_leg_that_kept_to_the_notice_depth_ran_as_it_was_told() -> None:
    # 40 cm is planned; services are not located, and the sheet says: no deeper than 30 cm.
    plan = planned_ground(base_cm=34.0, depth_cm=40.0, notice_cm=30.0)
    plan = replace(plan, zones=plan.zones.assign(cleared=["NOT CLEARED"] * 2 + ["lifted out"]))
    left = {"pan": "yes", "pan_base_cm": 34.0, "loosened_between_cm": 25.0}
    rows = [left | {"loosened_at_leg_cm": leg} for leg in (30.0, 29.0, 25.5, 31.0)]
    pits = judge_pits(pit_rows(*rows), plan, read_on="")
    assert pits["set_cm"].tolist() == [30.0, 30.0, 30.0, 30.0]
    told = pits["reason"].tolist()
    kept = "The leg kept to the notice depth (30 cm), not to the 40 cm planned"
    assert [kept in words for words in told] == [True, True, False, False]
    assert "The leg ran 4.5 cm shallower than the 30 cm of the notice depth." in told[2]
    groups = judge_groups(plan, pits[:2], station_rows(), field_parts())
    advice = advise(groups, pits[:2], ridge_curve(trial_rows()), MachineSection(), plan.zones)
    words = " ".join(advice["text"])
    assert "shallower" not in words
    assert "frame level" not in words
    assert advice["step"].iloc[0] == "locate"
    assert (
        "The legs kept to the notice depth at pits A0 and A1: at the depth planned with the ridge "
        "found there they would have passed the pan. Once services are located work there" in words
    )
    assert "Add what the pits showed of the base" not in words
    # Where the base lies below the depth planned, the plan is what falls short.
    low = pit_rows(*(row | {"pan_base_cm": 42.0} for row in rows[:2]))
    deep = judge_pits(low, plan, read_on="")
    told = advise(
        judge_groups(plan, deep, station_rows(), field_parts()),
        deep, ridge_curve(trial_rows()), MachineSection(), plan.zones,
    )  # fmt: skip
    assert "Add what the pits showed of the base" in " ".join(told["text"])
    deep = judge_pits(pit_rows(*rows, left | {"loosened_at_leg_cm": 38.0}), plan, read_on="")
    assert deep["set_cm"].eq(40.0).all(), "who worked at the planned depth kept to no other"
    assert "The leg ran 9 cm shallower than the 40 cm planned." in deep["reason"].tolist()[3]
    located = planned_ground(base_cm=34.0, depth_cm=40.0)
    assert judge_pits(pit_rows(*rows), located, read_on="")["set_cm"].eq(40.0).all()
