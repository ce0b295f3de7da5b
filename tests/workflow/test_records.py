"""What plans and files leave in the season record, and what the check takes from it."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pandas as pd
import pytest
import shapely
from workflow.worked import worked_folder

from zoning import records
from zoning.errors import OutputFailed
from zoning.model import FieldInputs, Plan
from zoning.records import (
    CheckRow,
    Pit,
    PlanIssued,
    Station,
    Trial,
    Zone,
    open_record,
    pits_not_held,
)
from zoning.workflow import check_work, read_field
from zoning.workflow.left_over import RUNS
from zoning.workflow.recorded import trial_bodies
from zoning.workflow.records import (
    is_given_out,
    record_check,
    record_inputs,
    record_plan,
)
from zoning.workflow.season_dates import NOT_KEPT


def test_a_plan_is_kept_with_zones_stations_and_who_issued_it(
    sample_plan: Plan, tmp_path: Path
) -> None:
    assert record_plan(tmp_path, sample_plan, by_whom="A. Adviser") == ()
    record = open_record(tmp_path)
    (issued,) = record.latest(PlanIssued)
    assert (issued.body.plan_id, issued.by_whom) == (sample_plan.plan_id, "A. Adviser")
    zones = record.latest(Zone)
    assert len(zones) == len(sample_plan.zones)
    depths = sample_plan.zones.set_index("zone")["depth_cm"].to_dict()
    assert {e.body.zone: e.body.depth_cm for e in zones} == depths
    assert all(shapely.from_wkt(e.body.geometry_wkt).is_valid for e in zones)
    cones = sample_plan.stations[sample_plan.stations["kind"] == "cone"]
    kept = {e.body.station: e.body for e in record.latest(Station)}
    assert {name: body.verdict for name, body in kept.items()} == dict(
        zip(cones["station"], cones["verdict"], strict=True)
    )
    assert len(record.latest(Pit)) == len(sample_plan.pits)


def test_a_plan_looked_at_first_is_given_out_by_a_name_after(
    sample_plan: Plan, tmp_path: Path
) -> None:
    for by_whom in ("", "A. Adviser", "", "A. Adviser", "B. Office"):
        record_plan(tmp_path, sample_plan, by_whom=by_whom)
    issues = open_record(tmp_path).latest(PlanIssued)
    assert [issue.by_whom for issue in issues] == ["", "A. Adviser", "B. Office"]
    assert is_given_out(tmp_path, sample_plan.plan_id)
    assert is_given_out(tmp_path, sample_plan.plan_id, "B. Office")
    assert not is_given_out(tmp_path, sample_plan.plan_id, "A. Adviser")


def test_the_same_plan_again_adds_nothing(sample_plan: Plan, tmp_path: Path) -> None:
    record_plan(tmp_path, sample_plan)
    before = {k: len(v) for k, v in records.everything(tmp_path).items()}
    record_plan(tmp_path, sample_plan)
    assert {k: len(v) for k, v in records.everything(tmp_path).items()} == before


def test_a_plan_issued_anew_after_another_is_a_new_issue_of_known_zones(
    sample_plan: Plan, tmp_path: Path
) -> None:
    other = dataclasses.replace(sample_plan, plan_id="0" * 64)
    for plan in (sample_plan, other, sample_plan):
        record_plan(tmp_path, plan)
    record = open_record(tmp_path)
    assert [e.body.plan_id[:2] for e in record.latest(PlanIssued)] == [
        sample_plan.plan_id[:2], "00", sample_plan.plan_id[:2],
    ]  # fmt: skip
    assert len(record.latest(Zone)) == 2 * len(sample_plan.zones)


def test_a_record_that_cannot_be_written_is_told_and_stops_nothing(
    sample_plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "records.gpkg").write_bytes(b"letters" * 900)
    (notice,) = record_plan(tmp_path, sample_plan)
    assert notice.code == "record-not-written"
    assert "--rescue" in notice.text
    (notice,) = record_plan(tmp_path / "nowhere", sample_plan)
    assert "could not be begun" in notice.text

    def full(*_: object) -> None:
        raise OutputFailed("records.gpkg: the disk is full.")

    monkeypatch.setattr(records.Record, "save_all", full)
    (tmp_path / "records.gpkg").unlink()
    (notice,) = record_plan(tmp_path, sample_plan)
    assert "the disk is full" in notice.text


def test_files_after_a_plan_add_nothing_and_keep_its_verdicts(
    sample_plan: Plan, sample_inputs: FieldInputs, tmp_path: Path
) -> None:
    record_plan(tmp_path, sample_plan)
    record = open_record(tmp_path)
    assert record_inputs(record, tmp_path, sample_inputs).added == 0
    assert {e.body.verdict for e in record.latest(Station)} != {""}


def test_a_plan_after_the_files_adds_the_verdicts(
    sample_plan: Plan, sample_inputs: FieldInputs, tmp_path: Path
) -> None:
    record_inputs(open_record(tmp_path), tmp_path, sample_inputs)
    record_plan(tmp_path, sample_plan)
    record = open_record(tmp_path)
    assert {e.version for e in record.latest(Station)} == {2}
    assert {e.version for e in record.latest(Pit)} == {1}


@pytest.fixture(scope="module")
def worked(plan_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return worked_folder(plan_folder, tmp_path_factory.mktemp("record") / "field", "slow")


def test_a_check_keeps_the_pits_stations_and_trials_that_it_judged(worked: Path) -> None:
    check = check_work(worked)
    assert record_check(worked, check) == ()
    record = open_record(worked)
    dug = {(e.body.pit, e.body.phase) for e in record.latest(Pit)}
    rows = pd.read_csv(worked / "pits.csv", dtype=str)
    assert dug == set(zip(rows["pit"], rows["phase"], strict=True))
    trials = pd.read_csv(worked / "trials.csv", dtype=str)
    assert {e.body.run for e in record.latest(Trial)} == set(trials["run"])
    after = {e.body.station: e.body for e in record.latest(Station, phase="after")}
    assert set(after) == set(pd.read_csv(worked / "cone_after.csv")["station"])
    told = check.probes.set_index("station")["verdict"].to_dict()
    assert {name: body.verdict for name, body in after.items()} == told
    assert pits_not_held(record) == []
    kept = [e.body.reason for e in record.latest(CheckRow, about="advice")]
    assert kept == [notice.text for notice in check.notices if notice.level == "caution"]
    assert kept


def test_the_same_check_again_adds_nothing_and_another_is_kept(worked: Path) -> None:
    check = check_work(worked)
    record_check(worked, check)
    before = {k: len(v) for k, v in records.everything(worked).items()}
    record_check(worked, check)
    record_check(worked, check_work(worked))
    assert {k: len(v) for k, v in records.everything(worked).items()} == before
    record_check(worked, dataclasses.replace(check, ridge_allowance_cm=9.0))
    assert len(open_record(worked).latest(records.Check)) == before[records.Check] + 1


def test_a_pit_that_a_check_left_out_is_kept_with_the_check_and_its_reason(worked: Path) -> None:
    check = check_work(worked)
    far = pd.DataFrame(
        {
            "file": ["pits.csv", "cone.csv", "records.gpkg"],
            "row": [40, 2, 3],
            "what": ["the pit K9 (after)", "pit 7, a reading of it", "pit K8, after"],
            "pit_phase": ["after", "", "after"],
            "reason": ["40 m outside the boundary", "outside", "Withdrawn on the review page."],
        }
    )
    inputs = dataclasses.replace(check.inputs, left_out=far)
    record_check(worked, dataclasses.replace(check, inputs=inputs))
    record = open_record(worked)
    last = record.latest(records.Check)[-1].record_id
    rows = [e.body for e in record.latest(CheckRow, check_id=last) if e.body.name == "left-out"]
    words = "Left out: pits.csv, row 40: the pit K9 (after). 40 m outside the boundary"
    assert [(row.about, row.verdict, row.reason) for row in rows] == [("advice", "note", words)]
    assert pits_not_held(record) == []


def in_season(plan: Plan, season: int) -> Plan:
    field = dataclasses.replace(plan.settings.field, season=season)
    return dataclasses.replace(plan, settings=dataclasses.replace(plan.settings, field=field))


def test_readings_of_last_season_left_in_the_files_are_told_and_not_doubled(
    sample_plan: Plan, tmp_path: Path
) -> None:
    record_plan(tmp_path, in_season(sample_plan, 2026))
    later = in_season(sample_plan, 2027)
    told = {notice.code: notice.text for notice in record_plan(tmp_path, later)}
    assert set(told) == {"pits-of-another-season", "stations-of-another-season"}
    assert all(name in told["pits-of-another-season"] for name in sample_plan.pits["pit"])
    assert "in the place of those in pits.csv" in told["pits-of-another-season"]
    count = sample_plan.cone["station"].nunique()
    assert f"{count} cone stations of 2026 stand in cone.csv" in told["stations-of-another-season"]
    record = open_record(tmp_path)
    assert record.latest(Pit, season=2027) == record.latest(Station, season=2027) == []
    moved = dataclasses.replace(later, pits=later.pits.assign(lon=later.pits["lon"] + 1e-4))
    assert [n.code for n in record_plan(tmp_path, moved)] == ["stations-of-another-season"]
    assert len(record.latest(Pit, season=2027)) == len(moved.pits)


def dated(plan: Plan, day: str) -> Plan:
    return dataclasses.replace(
        plan, cone=plan.cone.assign(date=day), pits=plan.pits.assign(date=day)
    )


def test_trial_runs_of_last_season_are_told_and_not_doubled(
    sample_plan: Plan, worked: Path, tmp_path: Path
) -> None:
    trials = read_field(worked).trials
    record_plan(tmp_path, in_season(sample_plan, 2026), trials=trials)
    later = in_season(sample_plan, 2027)
    fresh = dated(later, "2027-08-20")
    (told,) = record_plan(tmp_path, fresh, trials=trials)
    assert told.code == RUNS
    said = dataclasses.replace(fresh, notices=(*fresh.notices, told))
    assert record_plan(tmp_path, said, trials=trials) == (), "the plan tells it already"
    record = open_record(tmp_path)
    assert len(record.latest(Trial, season=2026)) == len(trials)
    assert record.latest(Trial, season=2027) == []
    driven = trials.assign(loosened_between_cm=trials["loosened_between_cm"] + 1.0)
    assert record_plan(tmp_path, fresh, trials=driven) == ()
    assert len(record.latest(Trial, season=2027)) == len(trials)
    slip = dated(in_season(sample_plan, 2029), "2031-08-20")
    assert record_plan(tmp_path, slip, trials=trials)[0].code == NOT_KEPT


def test_trial_runs_of_an_earlier_season_are_told_by_the_check_and_not_beside_it(
    worked: Path,
) -> None:
    assert RUNS not in [notice.code for notice in check_work(worked).notices]
    for body in trial_bodies(read_field(worked).trials, 2025):
        row = records.new_id()
        draft = records.Draft(body=body, row_id=row, record_id=row, based_on=0, origin="file")
        open_record(worked).save(draft)
    check = check_work(worked)
    assert [notice.code for notice in check.notices].count(RUNS) == 1
    assert RUNS not in [notice.code for notice in record_check(worked, check)]


def test_new_readings_at_the_old_stations_are_kept_without_a_word(
    sample_plan: Plan, tmp_path: Path
) -> None:
    record_plan(tmp_path, in_season(sample_plan, 2026))
    later = in_season(sample_plan, 2027)
    cone = later.cone.assign(
        cone_index_mpa=later.cone["cone_index_mpa"] + 0.1, date="2027-08-20", file="cone_2027.csv"
    )
    pits = later.pits.assign(date="2027-08-20")
    assert record_plan(tmp_path, dataclasses.replace(later, cone=cone, pits=pits)) == ()
    kept = open_record(tmp_path).latest(Station, season=2027)
    assert len(kept) == cone["station"].nunique()


def test_a_season_that_was_mistyped_and_put_right_keeps_its_pits(
    sample_plan: Plan, tmp_path: Path
) -> None:
    record_plan(tmp_path, in_season(sample_plan, 2025))
    assert record_plan(tmp_path, in_season(sample_plan, 2026)) == ()
    assert len(open_record(tmp_path).latest(Pit, season=2026)) == len(sample_plan.pits)


def test_a_plan_whose_dates_are_all_of_another_season_is_not_kept_as_issued(
    sample_plan: Plan, tmp_path: Path
) -> None:
    """The new year's readings stand in the files and ``season`` is still the old one."""
    record_plan(tmp_path, in_season(sample_plan, 2026))
    held = {table: len(rows) for table, rows in records.everything(tmp_path).items()}
    cone = sample_plan.cone.assign(date="2027-08-20")
    pits = sample_plan.pits.assign(date="2027-08-20")
    slip = dataclasses.replace(
        in_season(sample_plan, 2026), cone=cone, pits=pits, plan_id="ab" * 32
    )
    (told, *_) = record_plan(tmp_path, slip)
    assert told.code == NOT_KEPT
    assert "set season = 2027 in field.toml" in told.text
    elsewhere = tmp_path / "no_record_yet"
    elsewhere.mkdir()
    assert record_plan(elsewhere, slip)[0] == told
    assert not list(elsewhere.iterdir())
    assert {table: len(rows) for table, rows in records.everything(tmp_path).items()} == held
    record_plan(tmp_path, in_season(slip, 2027))
    (told, *_) = record_plan(tmp_path, slip)
    assert told.code == NOT_KEPT
    one_fits = pits.assign(date=["2026-09-01", *pits["date"].iloc[1:]])
    record_plan(tmp_path, dataclasses.replace(slip, pits=one_fits, plan_id="cd" * 32))
    assert len(open_record(tmp_path).latest(PlanIssued, season=2026)) == 2
