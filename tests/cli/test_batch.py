"""``zoning batch`` as a user runs it."""

from __future__ import annotations

import shutil
import sys
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner, Result

from zoning.batch import Outcome
from zoning.batch.job import PlanFacts
from zoning.cli import main
from zoning.cli.batch_progress import account, rate_words, shown
from zoning.outputs.bars import STANDING

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "sample_data"))


def batch(*args: object) -> Result:
    return CliRunner().invoke(main, ["batch", *map(str, args)])


@pytest.fixture(scope="module")
def field(tmp_path_factory: pytest.TempPathFactory) -> Path:
    from simulate import simulate  # noqa: PLC0415 - from sample_data

    return simulate(3, area_ha=1.2, stations=10, pits=1).write(
        tmp_path_factory.mktemp("f") / "good"
    )


def test_failures_are_told_listed_and_stop_no_other_field(field: Path, tmp_path: Path) -> None:
    farm = tmp_path / "farm"
    shutil.copytree(field, farm / "good")
    shutil.copytree(field, farm / "bad")
    (farm / "bad" / "cone.csv").write_text("station\n")
    first = batch(farm, "--out", tmp_path / "out")
    assert first.exit_code == 3
    assert "cone.csv" in first.stderr
    assert "1 planned, 1 refused" in first.stdout
    table = pd.read_csv(tmp_path / "out" / "batch.csv").set_index("status")
    assert set(table.index) == {"planned", "refused"}
    shutil.rmtree(farm / "bad")
    second = batch(farm, "--out", tmp_path / "out", "--processes", 1)
    assert second.exit_code == 0
    assert "1 kept" in second.stdout


def test_what_a_gis_had_laid_beside_a_plan_is_named_when_it_goes(
    field: Path, tmp_path: Path
) -> None:
    shutil.copytree(field, tmp_path / "good")
    first = batch(tmp_path / "good", "--out", tmp_path / "out", "--processes", 1)
    assert "another program" not in first.stdout
    beside = tmp_path / "good" / "plan" / "pan_surface.tif.aux.xml"
    beside.write_text("<PAMDataset/>")
    again = batch(tmp_path / "good", "--out", tmp_path / "out", "--processes", 1, "--again")
    assert not beside.exists()
    assert "good: gone with the earlier plan, whose files another program read:" in again.stdout
    assert "pan_surface.tif.aux.xml" in again.stdout


def test_a_pattern_without_a_match_is_refused_before_any_work(tmp_path: Path) -> None:
    shown_ = batch(tmp_path / "none*", "--out", tmp_path / "out")
    assert shown_.exit_code == 1
    assert not (tmp_path / "out").exists()


def test_no_folder_is_wrong_usage() -> None:
    assert batch().exit_code == 2


def test_processes_and_scheduler_exclude_each_other(field: Path, tmp_path: Path) -> None:
    both = batch(field, "--processes", 2, "--scheduler", "tcp://127.0.0.1:1", "--out", tmp_path)
    assert both.exit_code == 1
    assert "--processes" in both.stderr


@pytest.mark.parametrize(
    ("done", "count", "seconds", "words"),
    [
        (0, 10, 5.0, "0 of 10 fields"),
        (30, 90, 60.0, "30 of 90 fields, 30.0 a minute, 2 min left"),
        (9, 10, 540.0, "9 of 10 fields, 1.0 a minute, 1 min left"),
        (10, 610, 60.0, "10 of 610 fields, 10.0 a minute, 1.0 h left"),
        (59, 60, 59.0, "59 of 60 fields, 60.0 a minute, 1 s left"),
    ],
)
def test_rate_and_time_left_by_hand(done: int, count: int, seconds: float, words: str) -> None:
    assert rate_words(done, count, seconds) == words


def test_a_failure_is_told_even_when_quiet(capsys: pytest.CaptureFixture[str]) -> None:
    with shown(2, quiet=True) as heard:
        heard(Outcome("a", "planned"))
        heard(Outcome("b", "refused", "wrong \x1b[31m file"))
        heard(Outcome("c", "planned", told=("Caution: The season record was not written.",)))
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.splitlines() == [
        "b: refused: wrong \\x1b[31m file",
        "c: Caution: The season record was not written.",
    ]


def test_the_end_of_a_batch_names_the_fields_whose_work_something_stops(tmp_path: Path) -> None:
    facts = PlanFacts(
        **dict.fromkeys(PlanFacts.__dataclass_fields__) | {"area_ha": 1.0, "rating": ""}  # type: ignore[arg-type]
    )
    held = replace(facts, cautions="not-cleared; slope")
    stopped = replace(facts, cautions=f"not-cleared; {STANDING}")
    done = [Outcome(f"f{n}", "planned", facts=held) for n in range(9)]
    free = Outcome("free", "kept", facts=replace(facts, cautions="slope"))
    told = account([free, *done, Outcome("last", "planned", facts=stopped)], [tmp_path / "a.csv"])
    assert told.splitlines()[1:3] == [
        "last: STOP BY THE CHECK: see the first caution",
        "f0, f1, f2, f3, f4, f5 and 4 more: NOT CLEARED",
    ]
    assert "free" not in told


def test_fields_behind_an_address_are_said_to_stand_in_no_season_record() -> None:
    written = [Path("out") / "batch.csv"]
    far = account([Outcome("s3://farm/a", "planned"), Outcome("b", "planned")], written)
    assert "1 behind an address: not in a season record" in far
    alone = account([Outcome("b", "planned")], written)
    assert alone.startswith("1 field: 1 planned; ")
    assert "season record" not in alone
