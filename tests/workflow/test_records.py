"""What plans and files leave in the season record, and what the check takes from it."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import shapely
from workflow.worked import worked_folder

from zoning import records
from zoning.errors import OutputFailed
from zoning.model import FieldInputs, Plan
from zoning.records import (
    CheckRow,
    Draft,
    Pit,
    PlanIssued,
    Station,
    Trial,
    Zone,
    new_id,
    open_record,
    pits_not_held,
)
from zoning.workflow import check_work
from zoning.workflow.records import (
    record_check,
    record_inputs,
    record_plan,
    with_recorded_pits,
)


def page_pit(folder: Path, name: str, **said: object) -> str:
    """Save a pit as the review page does and return its record."""
    row = new_id()
    place = {"season": 2026, "pit": name, "phase": "after", "lon": 0.8076239, "lat": 52.7174356}
    body = Pit(**(place | said))  # type: ignore[arg-type]
    open_record(folder).save(Draft(body=body, row_id=row, record_id=row, based_on=0, origin="page"))
    return row


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


def test_a_pit_of_the_page_outranks_its_row_in_what_a_check_keeps(
    plan_folder: Path, tmp_path: Path
) -> None:
    folder = worked_folder(plan_folder, tmp_path / "field", "slow")
    page_pit(folder, "A01", loosened_at_leg_cm=11.0, pan="yes")
    for _ in range(2):
        assert record_check(folder, check_work(folder)) == ()
    record = open_record(folder)
    (kept,) = record.latest(Pit, pit="A01")
    assert (kept.version, kept.body.loosened_at_leg_cm) == (1, 11.0)
    (row,) = record.latest(CheckRow, about="pit", name="A01")
    assert "11 cm" in row.body.reason


def test_pits_of_the_page_join_those_of_the_files(
    sample_inputs: FieldInputs, tmp_path: Path
) -> None:
    assert with_recorded_pits(sample_inputs, tmp_path) is sample_inputs
    page_pit(tmp_path, "A1", loosened_at_leg_cm=36.0, pan="no")
    page_pit(tmp_path, "P2", phase="before", pan="yes", pan_base_cm=33.0)
    joined = with_recorded_pits(sample_inputs, tmp_path)
    pits = joined.pits.set_index(["pit", "phase"])
    assert len(joined.pits) == len(sample_inputs.pits) + 1
    assert pits.loc[("P2", "before"), "pan_base_cm"] == 33.0
    assert pits.loc[("A1", "after"), "file"] == "records.gpkg"
    pd.testing.assert_series_equal(joined.pits.dtypes, sample_inputs.pits.dtypes)
    # The place of P2 in the sample's own file, brought into the working CRS by the reader.
    own = sample_inputs.pits.set_index("pit").loc["P2", ["x_m", "y_m"]].to_numpy(dtype=float)
    kept = pits.loc[("A1", "after"), ["x_m", "y_m"]].to_numpy(dtype=float)
    assert np.hypot(*(own - kept)) < 0.01


def test_a_withdrawn_pit_is_left_out_by_name(sample_inputs: FieldInputs, tmp_path: Path) -> None:
    page_pit(tmp_path, "P2", phase="before", withdrawn="yes")
    joined = with_recorded_pits(sample_inputs, tmp_path)
    assert "P2" not in set(joined.pits["pit"])
    last = joined.left_out.iloc[-1]
    assert last["what"] == "pit P2, before"
    assert "Withdrawn" in last["reason"]


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
