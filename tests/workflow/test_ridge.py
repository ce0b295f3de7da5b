"""The ridge allowance enters the plan once: below clearance, in no setting, told where it counts."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import zoning
from zoning.model import FieldInputs, Plan
from zoning.outputs import write_plan
from zoning.workflow.ridge import allowance_cm, working_settings

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
    import json

    from zoning.outputs.sheet_facts import sheet_facts

    write_plan(with_trials, tmp_path / "plan")
    document = json.loads((tmp_path / "plan" / "plan.json").read_text(encoding="utf-8"))
    assert document["totals"]["ridge_allowance_cm"] == 3.0
    assert any("ridge between legs" in text for text in sheet_facts(with_trials)["cautions"])
