"""One field: planned, kept, refused or failed, never an error that stops the others."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner
from workflow.paged import keep_check

from zoning import workflow
from zoning.batch import Job, jobs_for, plan_field
from zoning.batch.settle import settle_cell
from zoning.cli import main
from zoning.errors import OutputFailed
from zoning.records import Draft, PlanIssued, Station, Trial, new_id, open_record
from zoning.workflow.left_over import RUNS


@pytest.fixture
def done(planned: Path, tmp_path: Path) -> Path:
    """Return a copy of a field that is planned."""
    shutil.copytree(planned / "farm" / "one", tmp_path / "one")
    return tmp_path / "one"


def job(folder: Path, **more: object) -> Job:
    return replace(jobs_for([str(folder)])[0], **more)


def marks(folder: Path) -> dict[str, int]:
    return {p.name: p.stat().st_mtime_ns for p in (folder / "plan").iterdir()}


def test_a_plan_of_the_same_inputs_is_kept_untouched(done: Path) -> None:
    before = marks(done)
    outcome = plan_field(job(done))
    assert (outcome.status, outcome.seconds, marks(done)) == ("kept", None, before)
    assert outcome.facts is not None


def test_again_plans_anew_and_gives_the_same_bytes(done: Path) -> None:
    before = {p.name: p.read_bytes() for p in (done / "plan").iterdir()}
    outcome = plan_field(job(done, again=True))
    assert outcome.status == "planned"
    assert {p.name: p.read_bytes() for p in (done / "plan").iterdir()} == before


@pytest.mark.parametrize("name", ["field.toml", "cone.csv", "plan/depth_zones.csv"])
def test_a_changed_file_is_noticed(done: Path, name: str) -> None:
    with (done / name).open("a", encoding="utf-8") as stream:
        stream.write("\n")
    assert plan_field(job(done)).status == "planned"


@pytest.mark.parametrize("name", ["plan.json", "map.html"])
def test_a_lost_file_of_the_plan_is_noticed(done: Path, name: str) -> None:
    (done / "plan" / name).unlink()
    outcome = plan_field(job(done))
    if name == "plan.json":  # without it the folder might be anybody's
        assert outcome.status == "failed"
        assert "plan.json" in outcome.error
    else:
        assert outcome.status == "planned"
        assert (done / "plan" / name).exists()


def test_a_refusal_names_file_and_key_and_the_earlier_plan_stays(
    done: Path, spoil: Callable[[Path], None]
) -> None:
    before = marks(done)
    spoil(done)
    outcome = plan_field(job(done))
    assert outcome.status == "refused"
    for word in ("field.toml", "seeson", "earlier run"):
        assert word in outcome.error
    assert "\n" not in outcome.error
    assert (outcome.facts, marks(done)) == (None, before)


def test_a_worker_of_another_version_plans_nothing(done: Path) -> None:
    outcome = plan_field(job(done, version="9.9"))
    assert outcome.status == "failed"
    assert "9.9" in outcome.error


def test_a_fault_of_the_program_or_the_disk_is_an_outcome(
    farm: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_args: object, **_more: object) -> None:
        raise ZeroDivisionError("no such thing")

    def full(*_args: object, **_more: object) -> None:
        raise OutputFailed("No space left on the disk.")

    monkeypatch.setattr(workflow, "make_plan", broken)
    outcome = plan_field(job(farm / "one"))
    assert outcome.status == "failed"
    assert "ZeroDivisionError" in outcome.error
    monkeypatch.setattr(workflow, "make_plan", full)
    assert plan_field(job(farm / "one")).status == "failed"
    assert not (farm / "one" / "plan").exists()


def issued(folder: Path) -> list[str]:
    return [entry.body.plan_id for entry in open_record(folder).latest(PlanIssued)]


def plan_id(folder: Path) -> str:
    return str(json.loads((folder / "plan" / "plan.json").read_text(encoding="utf-8"))["plan_id"])


def test_a_plan_is_kept_in_the_season_record_as_the_command_plan_keeps_it(done: Path) -> None:
    first = plan_id(done)
    assert issued(done) == [first]
    text = (done / "field.toml").read_text(encoding="utf-8")
    (done / "field.toml").write_text(f"{text}\n[costs]\nmachine_per_h = 91.0\n", encoding="utf-8")
    assert plan_field(job(done)).status == "planned"
    assert plan_id(done) != first
    assert issued(done) == [first, plan_id(done)]
    held = len(open_record(done).everything(Station))
    ran = CliRunner().invoke(main, ["plan", str(done), "--quiet"])
    assert ran.exit_code == 0, ran.output
    assert issued(done) == [first, plan_id(done)]
    assert len(open_record(done).everything(Station)) == held > 0


def test_a_plan_that_stands_but_was_never_recorded_is_given_out_now(done: Path) -> None:
    before = {p.name: p.read_bytes() for p in (done / "plan").iterdir()}
    (done / "records.gpkg").unlink()
    assert plan_field(job(done)).status == "planned"
    assert issued(done) == [plan_id(done)]
    assert {p.name: p.read_bytes() for p in (done / "plan").iterdir()} == before
    assert plan_field(job(done)).status == "kept"


def test_a_damaged_record_costs_no_plan_and_is_told_as_by_the_command_plan(done: Path) -> None:
    shutil.rmtree(done / "plan")
    (done / "records.gpkg").write_bytes(b"letters" * 900)
    outcome = plan_field(job(done))
    assert (outcome.status, (done / "plan" / "plan.json").exists()) == ("planned", True)
    ran = CliRunner().invoke(main, ["plan", str(done), "--quiet"])
    assert list(outcome.told) == ran.stderr.splitlines()
    assert "The season record was not written" in outcome.told[0]


def test_a_plan_that_the_record_cannot_take_stands_and_is_told_each_time(done: Path) -> None:
    (done / "records.gpkg").write_bytes(b"letters" * 900)
    before = marks(done)
    for _ in range(2):
        outcome = plan_field(job(done))
        assert (outcome.status, marks(done)) == ("kept", before)
        assert "The season record was not written" in outcome.told[0]
    (done / "records.gpkg").unlink()
    assert (plan_field(job(done)).told, issued(done)) == ((), [plan_id(done)])


def test_a_stop_of_a_check_comes_into_a_plan_that_stands_and_goes_with_it(
    done: Path, tmp_path: Path
) -> None:
    def planned_for(*told: tuple[str, str]) -> dict[str, bytes]:
        keep_check(done, *told, season=2026)
        assert workflow.verify_plan(done / "plan", done).faults == ()
        outcome = plan_field(job(done))
        assert (outcome.status, plan_field(job(done)).status) == ("planned", "kept")
        assert outcome.facts is not None
        assert ("check-stop-stands" in outcome.facts.cautions) is bool(told)
        for field in (None, done):
            assert workflow.verify_plan(done / "plan", field).faults == ()
        return {p.name: p.read_bytes() for p in (done / "plan").iterdir()}

    before = {p.name: p.read_bytes() for p in (done / "plan").iterdir()}
    number = plan_id(done)
    held = planned_for(("check-past-cap", "Stop: pit B8 was loosened 36 cm deep."))
    assert plan_id(done) == number
    ran = CliRunner().invoke(main, ["plan", str(done), "--out", str(tmp_path / "draft")])
    assert re.search(r"Cautions:\n  - STOP, by the check of [\d-]+ against plan a+: pit B8 was",
                     ran.output)  # fmt: skip
    assert {p.name: p.read_bytes() for p in (tmp_path / "draft").iterdir()} == held
    assert planned_for() == before


def test_trial_runs_that_the_record_holds_in_an_earlier_season_come_into_a_plan_that_stands(
    done: Path,
) -> None:
    runs = "run,speed_km_h,loosened_at_leg_cm,loosened_between_cm\nT1,8,40,36\nT2,6,40,33\n"
    (done / "trials.csv").write_text(runs, encoding="utf-8")
    text = (done / "field.toml").read_text(encoding="utf-8")
    text = text.replace("[readings]", '[readings]\ntrials = "trials.csv"')
    (done / "field.toml").write_text(text, encoding="utf-8")
    for status in ("planned", "kept"):
        outcome = plan_field(job(done))
        assert (outcome.status, outcome.told) == (status, ())
        assert outcome.facts is not None
        assert RUNS not in outcome.facts.cautions
    number = plan_id(done)
    record = open_record(done)
    for ago, now in enumerate(record.latest(Trial), 1):
        body, row = replace(now.body, season=now.body.season - ago), new_id()
        record.save(Draft(body=body, row_id=row, record_id=row, based_on=0, origin="file"))
    for status in ("planned", "kept"):
        outcome = plan_field(job(done))
        assert (outcome.status, outcome.told, plan_id(done)) == (status, (), number)
        assert outcome.facts is not None
        assert RUNS in outcome.facts.cautions
        assert "ridge of an earlier season" in settle_cell({"cautions": RUNS})


def test_a_plan_of_no_known_season_is_made_once_and_asks_for_it_each_time(farm: Path) -> None:
    field = farm / "one"
    for name in ("field.toml", "cone.csv", "pits.csv"):
        text = (field / name).read_text(encoding="utf-8")
        undated = re.sub(r"(?m)^season = .*\n|\b\d{4}-\d\d-\d\d\b", "", text)
        (field / name).write_text(undated, encoding="utf-8")
    first, then = plan_field(job(field)), plan_field(job(field))
    assert (first.status, then.status, then.told) == ("planned", "kept", first.told)
    assert "Nothing says which season this is" in first.told[0]
    assert not (field / "records.gpkg").exists()


def test_the_record_says_who_gave_the_plans_of_a_batch_out(farm: Path, tmp_path: Path) -> None:
    told = ["--out", str(tmp_path / "out"), "--by", "A. Adviser", "--quiet"]
    ran = CliRunner().invoke(main, ["batch", str(farm / "one"), *told])
    assert ran.exit_code == 0, ran.output
    (plan,) = open_record(farm / "one").latest(PlanIssued)
    assert plan.by_whom == "A. Adviser"


def test_a_missing_folder_is_refused(tmp_path: Path) -> None:
    outcome = plan_field(job(tmp_path / "nowhere"))
    assert outcome.status == "refused"
    assert "nowhere" in outcome.error
