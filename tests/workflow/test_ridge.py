"""The ridge allowance enters the plan once, below the clearance, and is told where it counts."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import zoning
from zoning.model import FieldInputs, Plan
from zoning.outputs import write_plan
from zoning.outputs.sheet.facts import sheet_facts
from zoning.workflow.ridge import allowance_cm, measured_ridge_cm, ridge_notices, working_settings

# Common practice: 10-12 cm of ridge at 4 km/h, about 3 cm at 10 km/h with the same settings.
TRIALS = pd.DataFrame(
    {
        "run": ["A", "B"],
        "speed_km_h": [4.0, 10.0],
        "depth_setting_cm": [35.0, 35.0],
        "loosened_at_leg_cm": [35.0, 35.0],
        "loosened_between_cm": [24.0, 32.0],
        "surface": ["level", "level"],
        "note": ["", ""],
        "file": ["trials.csv", "trials.csv"],
        "row": [2, 3],
    }
)


def at_speed(inputs: FieldInputs, speed_km_h: float, clearance_cm: float = 3.0) -> FieldInputs:
    settings = inputs.settings
    settings = dataclasses.replace(
        settings,
        machine=dataclasses.replace(settings.machine, speed_km_h=speed_km_h),
        depth=dataclasses.replace(settings.depth, clearance_cm=clearance_cm),
    )
    return dataclasses.replace(inputs, settings=settings, trials=TRIALS)


@pytest.fixture(scope="module")
def with_trials(sample_inputs: FieldInputs) -> Plan:
    return zoning.make_plan(at_speed(sample_inputs, 10.0))


def test_without_trial_runs_nothing_is_added(sample_inputs: FieldInputs, sample_plan: Plan) -> None:
    assert allowance_cm(sample_inputs) == 0.0
    assert working_settings(sample_inputs) == sample_inputs.settings
    assert sample_plan.totals["ridge_allowance_cm"] == 0.0
    assert not [n for n in sample_plan.notices if n.code.startswith("ridge-")]


@pytest.mark.parametrize(("speed", "ridge"), [(4, 11), (10, 3), (7, 7), (12, 3), (2, 11)])
def test_the_allowance_is_the_ridge_at_the_speed_of_the_plan(
    sample_inputs: FieldInputs, speed: float, ridge: float
) -> None:
    inputs = at_speed(sample_inputs, speed)
    assert allowance_cm(inputs) == pytest.approx(ridge)
    assert working_settings(inputs).depth.clearance_cm == pytest.approx(3 + ridge)
    assert inputs.settings.depth.clearance_cm == 3.0


def test_the_need_is_that_of_a_clearance_of_the_same_sum(
    sample_inputs: FieldInputs, with_trials: Plan
) -> None:
    # Pan base + 3 + 3 is the same need as pan base + 6: the same zones, not deeper by another 3.
    summed = dataclasses.replace(
        at_speed(sample_inputs, 10.0, clearance_cm=6.0), trials=sample_inputs.trials
    )
    other = zoning.make_plan(summed)
    assert with_trials.zones["depth_cm"].tolist() == other.zones["depth_cm"].tolist()
    assert np.allclose(with_trials.zones["assurance"], other.zones["assurance"])


def test_it_is_told_in_totals_and_cautions_and_the_settings_stay(with_trials: Plan) -> None:
    assert with_trials.settings.depth.clearance_cm == 3.0
    assert with_trials.totals["ridge_allowance_cm"] == 3.0
    told = [n.text for n in with_trials.notices if n.code == "ridge-allowance"]
    assert len(told) == 1
    assert "3 cm" in told[0]
    assert "do not add it again" in told[0]


def test_it_stands_in_plan_json_and_on_the_sheet(with_trials: Plan, tmp_path: Path) -> None:
    write_plan(with_trials, tmp_path / "plan")
    document = json.loads((tmp_path / "plan" / "plan.json").read_text(encoding="utf-8"))
    assert document["totals"]["ridge_allowance_cm"] == 3.0
    assert any("ridge between legs" in text for text in sheet_facts(with_trials)["cautions"])


def test_the_machine_is_judged_by_the_ridge_that_was_measured(
    sample_plan: Plan, with_trials: Plan
) -> None:
    # By 45-degree geometry the ridge is (43 - 6) / 2 = 18.5 cm; the runs left 3 cm at 10 km/h.
    code = "machine-ridge-between-legs"
    assert any(n.code == code and "18.5 cm" in n.text for n in sample_plan.notices)
    assert not any(n.code == code for n in with_trials.notices)


def test_where_the_tractor_cannot_hold_the_speed_the_ridge_is_told(
    sample_inputs: FieldInputs,
) -> None:
    inputs = at_speed(sample_inputs, 10.0)
    zones = pd.DataFrame(
        {"depth_cm": [40.0, 30.0, 0.0], "area_ha": 1.0, "work_speed_km_h": [7.0, 10.0, np.nan]}
    )
    codes = {n.code: n.text for n in ridge_notices(inputs, zones)}
    # 7 cm at 7 km/h against the 3 cm allowed for at 10 km/h.
    assert (
        "does not hold 10 km/h at every depth, and slower leaves a higher ridge than the 3 cm that "
        "the depths hold: 40 cm at 7 km/h, about 7 cm. Dig there first"
    ) in codes["ridge-where-slow"]
    slower = zones.assign(work_speed_km_h=[6.78, 6.9, np.nan])  # as the order of work prints it
    codes = {n.code: n.text for n in ridge_notices(inputs, slower)}
    assert "does not hold 10 km/h at any depth" in codes["ridge-where-slow"]
    assert "Set speed_km_h to 6.7 and plan again, so that" in codes["ridge-where-slow"]
    assert (
        "hold: 30 cm at 6.9 km/h, about 7 cm and 40 cm at 6.7 km/h, about"
        in (codes["ridge-where-slow"])
    )
    fast = zones.assign(work_speed_km_h=10.0)
    assert "ridge-where-slow" not in {n.code for n in ridge_notices(inputs, fast)}
    assert ridge_notices(sample_inputs, zones) == ()


def test_without_trial_runs_the_pits_after_the_work_give_the_ridge(
    sample_inputs: FieldInputs,
) -> None:
    assert measured_ridge_cm(sample_inputs) is None
    after = sample_inputs.pits.head(3).assign(
        phase="after",
        loosened_at_leg_cm=[40.0, 41.0, 42.0],
        loosened_between_cm=[36.0, 30.0, np.nan],
    )
    pits = pd.concat([sample_inputs.pits, after], ignore_index=True)
    assert (
        measured_ridge_cm(dataclasses.replace(sample_inputs, pits=pits)) == 7.5
    )  # between 4 and 11


def test_a_faster_run_is_advised_only_as_fast_as_the_tractor_can_pull(
    sample_inputs: FieldInputs,
) -> None:
    inputs = at_speed(sample_inputs, 4.0)
    zones = pd.DataFrame(
        {"depth_cm": [45.0, 30.0], "area_ha": [3.0, 1.0], "work_speed_km_h": [4.0, 4.0]}
    )

    def told(power_kw: float | None, trials: pd.DataFrame = TRIALS) -> str:
        tractor = dataclasses.replace(inputs.settings.tractor, pto_power_kw=power_kw)
        settings = dataclasses.replace(inputs.settings, tractor=tractor)
        asked = dataclasses.replace(inputs, settings=settings, trials=trials)
        notices = ridge_notices(asked, zones)
        return next(n.text for n in notices if n.code == "ridge-allowance-large")

    assert told(None).endswith("if the tractor can pull it.")
    assert told(900.0).endswith("set speed_km_h to that and plan again.")
    assert "the tractor pulls by the equations no more than" in told(60.0)
    driven = TRIALS.assign(depth_setting_cm=45.0, loosened_at_leg_cm=45.0)
    driven["loosened_between_cm"] = 45.0 - (
        TRIALS["loosened_at_leg_cm"] - TRIALS["loosened_between_cm"]
    )
    assert told(60.0, driven).endswith("set speed_km_h to that and plan again.")
    uneven = TRIALS.assign(loosened_between_cm=[24.0, 29.0])
    assert "a faster run if the tractor can pull it" in told(900.0, uneven)
    assert "faster run" not in told(60.0, uneven)
