"""A season with two plans: the check says by which of them it goes."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from pathlib import Path

import pytest

from zoning import outputs
from zoning.model import FieldInputs, Plan
from zoning.model.check import PlannedGround
from zoning.outputs.check import words as outputs_words
from zoning.records import PlanIssued, open_record
from zoning.workflow.issued import OLDER, after_notices, issued_notices, made_on
from zoning.workflow.records import record_plan


def another(plan: Plan, letter: str, *, deeper_cm: float) -> Plan:
    """Return the plan under another number, its first zone that much deeper."""
    zones = plan.zones.copy()
    zones.loc[zones.index[0], "depth_cm"] += deeper_cm
    return dataclasses.replace(plan, plan_id=letter * 64, zones=zones)


@pytest.fixture(scope="module")
def planned(plan_folder: Path) -> PlannedGround:
    return outputs.read_planned(plan_folder)


def text(folder: Path, inputs: FieldInputs, planned: PlannedGround, plans: Iterable[Plan]) -> str:
    for plan in plans:
        record_plan(folder, plan)
    told = issued_notices(folder, inputs, planned)
    codes = {"check-plans-issued", OLDER}
    assert all(n.level == "caution" and n.code in codes for n in told)
    return told[0].text if told else ""


def test_another_plan_of_other_depths_is_named_with_its_day_and_a_remedy(
    tmp_path: Path, sample_plan: Plan, sample_inputs: FieldInputs, planned: PlannedGround
) -> None:
    other = another(sample_plan, "b", deeper_cm=2.5)
    told = text(tmp_path, sample_inputs, planned, [other, sample_plan])
    first, second = open_record(tmp_path).latest(PlanIssued)
    assert f"issued in season 2026: bbbbbbbb ({first.recorded_at[:10]} " in told
    goes_by = f"goes by {sample_plan.plan_id[:8]} ({second.recorded_at[:10]} "
    assert goes_by in told
    assert "--plan" in told
    assert "--out" in told


def test_one_plan_the_same_again_or_one_of_the_same_depths_needs_no_word(
    tmp_path: Path, sample_plan: Plan, sample_inputs: FieldInputs, planned: PlannedGround
) -> None:
    assert text(tmp_path, sample_inputs, planned, []) == ""
    same = another(sample_plan, "c", deeper_cm=0.0)
    assert text(tmp_path, sample_inputs, planned, [sample_plan, same, sample_plan]) == ""
    # A date says nothing of which plan was driven where there was but one.
    assert made_on(tmp_path, sample_inputs, planned) == ""


def test_a_plan_of_another_season_is_not_counted(
    tmp_path: Path, sample_plan: Plan, sample_inputs: FieldInputs, planned: PlannedGround
) -> None:
    other = another(sample_plan, "d", deeper_cm=2.5)
    field = dataclasses.replace(other.settings.field, season=2025)
    earlier = dataclasses.replace(other, settings=dataclasses.replace(other.settings, field=field))
    assert text(tmp_path, sample_inputs, planned, [earlier, sample_plan]) == ""


def test_pits_dug_before_the_plan_was_issued_are_counted(
    tmp_path: Path, sample_plan: Plan, sample_inputs: FieldInputs, planned: PlannedGround
) -> None:
    pits = sample_inputs.pits.head(3).assign(phase="after", date=["2020-01-01", "2999-01-01", ""])
    dug = dataclasses.replace(sample_inputs, pits=pits)
    other = another(sample_plan, "e", deeper_cm=2.5)
    told = text(tmp_path, dug, planned, [other, sample_plan])
    assert told.startswith("1 of 3 pits is older than the plan that it is judged by: the work that")
    alone = dataclasses.replace(dug, pits=pits.head(1))
    told = text(tmp_path, alone, planned, [other, sample_plan])
    assert told.startswith("The one pit is older than the plan that it is judged by")
    assert "If another was driven" in told
    assert [n.code for n in issued_notices(tmp_path, dug, planned)] == [OLDER]
    assert OLDER == outputs_words.OLDER
    issued = {e.body.plan_id: e.recorded_at for e in open_record(tmp_path).latest(PlanIssued)}
    assert made_on(tmp_path, dug, planned) == issued[planned.plan_id][:10]


def test_a_plan_that_was_put_back_is_as_old_as_it_was(
    tmp_path: Path,
    sample_plan: Plan,
    sample_inputs: FieldInputs,
    planned: PlannedGround,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Dug between the first plan and another; then the first is made again, as the words say."""
    other = another(sample_plan, "b", deeper_cm=2.5)
    for plan, day in ((sample_plan, "01"), (other, "20"), (sample_plan, "25")):
        now = f"2026-09-{day}T08:00:00.000Z"
        monkeypatch.setattr("zoning.records.store.utc_now", lambda now=now: now)
        record_plan(tmp_path, plan)
    pits = sample_inputs.pits.head(1).assign(phase="after", date="2026-09-10")
    dug = dataclasses.replace(sample_inputs, pits=pits)
    assert [n.code for n in issued_notices(tmp_path, dug, planned)] == ["check-plans-issued"]


def test_of_many_plans_the_newest_are_named_and_the_rest_counted(
    tmp_path: Path, sample_plan: Plan, sample_inputs: FieldInputs, planned: PlannedGround
) -> None:
    others = [another(sample_plan, letter, deeper_cm=2.5) for letter in "bcdef"]
    told = text(tmp_path, sample_inputs, planned, others)
    assert "2026: 2 earlier ones, dddddddd" in told
    assert "ffffffff" in told
    assert "bbbbbbbb" not in told
    assert f"goes by {sample_plan.plan_id[:8]} (not in the record)." in told


def with_after(plan: Plan, count: int) -> Plan:
    """Return the plan with that many of its pits as if dug after the work."""
    pits = plan.pits.copy()
    pits.loc[pits.index[:count], "phase"] = "after"
    return dataclasses.replace(plan, pits=pits)


def test_a_new_plan_names_the_one_before_it_where_pits_after_the_work_are_there(
    tmp_path: Path, sample_plan: Plan
) -> None:
    other = another(sample_plan, "b", deeper_cm=2.5)
    record_plan(tmp_path, other)
    assert "plan-worked-to" not in {n.code for n in record_plan(tmp_path, sample_plan)}
    told = {n.code: n.text for n in record_plan(tmp_path, with_after(sample_plan, 2))}
    assert told["plan-worked-to"].startswith("2 pits after the work are kept for the check.")
    assert "worked to plan bbbbbbbb (" in told["plan-worked-to"]


def test_a_plan_of_the_same_depths_before_it_is_not_named(
    tmp_path: Path, sample_plan: Plan
) -> None:
    record_plan(tmp_path, another(sample_plan, "c", deeper_cm=0.0))
    told = record_plan(tmp_path, with_after(sample_plan, 2))
    assert "plan-worked-to" not in {n.code for n in told}


def test_pits_after_the_work_are_said_to_be_no_readings_of_a_plan(sample_plan: Plan) -> None:
    assert after_notices(sample_plan.pits) == ()
    bare = with_after(sample_plan, 1).pits
    noted = with_after(sample_plan, 2).pits
    behind = noted["phase"] == "after"
    (one,) = after_notices(bare.assign(loosened_at_leg_cm=float("nan")))
    (two,) = after_notices(
        noted.assign(loosened_at_leg_cm=38.0, loosened_between_cm=30.2).where(behind, noted)
    )
    kept = "1 pit after the work is kept for the check; the plan takes no pan from it. If the "
    assert one.text.startswith(kept)
    assert two.text.startswith("2 pits after the work are kept for the check; the plan takes no ")
    told = "of the ridge between legs goes by the 7.8 cm that they show (median); no depth is added"
    assert told in two.text
    assert two.level == "note"
