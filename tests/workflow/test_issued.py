"""A season with two plans: the check says by which of them it goes."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from pathlib import Path

import pytest

from zoning import outputs
from zoning.model import FieldInputs, Plan
from zoning.model.check import PlannedGround
from zoning.outputs.check.words import OF_THE_DAY, OLDER
from zoning.records import PlanIssued, open_record
from zoning.workflow.issued import after_notices, issued_notices
from zoning.workflow.records import record_inputs, record_plan


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
    assert "Where ground was driven again to this plan, withdraw it there (worked again)." in told
    assert "If another was driven" in told
    (notice,) = issued_notices(tmp_path, dug, planned)
    assert (notice.code, notice.pits) == (OLDER, tuple(pits["pit"].head(1)))


@dataclasses.dataclass(frozen=True)
class Evening:
    """Two plans of one day, and pits of that day that were kept at an hour of it."""

    folder: Path
    plans: tuple[Plan, Plan]
    inputs: FieldInputs
    planned: PlannedGround
    clock: pytest.MonkeyPatch

    def at(self, hour: int) -> None:
        now = f"2026-11-26T{hour:02d}:00:00.000Z"
        self.clock.setattr("zoning.records.store.utc_now", lambda: now)

    def dug(self, date: str = "2026-11-26", **facts: object) -> FieldInputs:
        pits = self.inputs.pits.head(2).assign(phase="after", date=date, **facts)
        return dataclasses.replace(self.inputs, pits=pits)

    def told(
        self, pits: FieldInputs, *, held: FieldInputs | None = None, kept: int
    ) -> tuple[str, tuple[str, ...]]:
        """Return code and pits of the notice by the plan of noon; another was issued at eight."""
        for hour in sorted({8, 12, kept}):
            self.at(hour)
            if hour == kept:
                record_inputs(open_record(self.folder), self.folder, held or pits)
            else:
                record_plan(self.folder, self.plans[hour == 12])
        (notice,) = issued_notices(self.folder, pits, self.planned)
        return notice.code, notice.pits


@pytest.fixture
def evening(
    tmp_path: Path,
    sample_plan: Plan,
    sample_inputs: FieldInputs,
    planned: PlannedGround,
    monkeypatch: pytest.MonkeyPatch,
) -> Evening:
    plans = (another(sample_plan, "b", deeper_cm=2.5), sample_plan)
    return Evening(tmp_path, plans, sample_inputs, planned, monkeypatch)


@pytest.mark.parametrize("kept", [7, 10])
@pytest.mark.parametrize("date", ["2026-11-26", "2026-11-27"])
def test_a_pit_that_the_record_held_before_the_plan_is_older_whatever_its_date(
    evening: Evening, kept: int, date: str
) -> None:
    """Dug by day, entered in the evening, and planned anew on the same date."""
    pits = evening.dug(date)
    assert evening.told(pits, kept=kept) == (OLDER, tuple(pits.pits["pit"]))


def test_the_files_that_a_plan_was_made_beside_held_pits_older_than_it(evening: Evening) -> None:
    """``zoning plan`` keeps the pits of the field just before it keeps the plan."""
    pits = evening.dug()
    evening.at(8)
    record_plan(evening.folder, evening.plans[0])
    evening.at(12)
    record_plan(evening.folder, dataclasses.replace(evening.plans[1], pits=pits.pits))
    (notice,) = issued_notices(evening.folder, pits, evening.planned)
    assert (notice.code, len(notice.pits)) == (OLDER, 2)


@pytest.mark.parametrize("facts", [{"date": "2026-11-27"}, {"lon": 0.9}])
def test_another_pit_under_the_name_of_one_that_was_held_is_not_older(
    evening: Evening, facts: dict[str, object]
) -> None:
    """Dug again behind the new plan: on another day, or elsewhere."""
    pits = evening.dug(**facts)  # type: ignore[arg-type]
    code = "check-plans-issued" if "date" in facts else OF_THE_DAY
    assert evening.told(pits, held=evening.dug(), kept=10) == (code, ())


def test_pits_of_the_day_that_may_be_older_than_the_plan_have_it_told_at_the_head(
    evening: Evening,
) -> None:
    """The record first held them after the plan, so nothing tells."""
    pits = evening.dug()
    assert evening.told(pits, kept=13) == (OF_THE_DAY, ())
    (notice,) = issued_notices(evening.folder, pits, evening.planned)
    told = "2 of 2 pits bear the day of the plan that they are judged by. Other plans with other "
    assert notice.text.startswith(told)
    assert "If another was driven, name the folder of its copy" in notice.text
    later = evening.dug("2026-11-27")
    codes = [n.code for n in issued_notices(evening.folder, later, evening.planned)]
    assert codes == ["check-plans-issued"]


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
    dug = noted.assign(loosened_at_leg_cm=38.0, loosened_between_cm=30.2).where(behind, noted)
    (two,) = after_notices(dug)
    (tried,) = after_notices(dug, trial_runs=True)
    assert "ridge" not in tried.text  # the depths hold that of the trial runs
    kept = "1 pit after the work is kept for the check; the plan takes no pan from it. If the "
    assert one.text.startswith(kept)
    assert two.text.startswith("2 pits after the work are kept for the check; the plan takes no ")
    told = "of the ridge between legs goes by the 7.8 cm that they show (median); no depth is added"
    assert told in two.text
    assert two.level == "note"
