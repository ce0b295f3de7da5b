"""``zoning check`` as a user runs it: what it prints, what it writes, what it refuses."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner, Result

from zoning.cli import main
from zoning.outputs import CHECK_WRITERS
from zoning.records import BODIES, open_record

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "sample_data"))


@pytest.fixture(scope="module")
def slow(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the sample field, planned and worked slowly."""
    from simulate_after import SLOW, make_worked  # noqa: PLC0415

    folder = tmp_path_factory.mktemp("worked") / "field"
    make_worked(folder, SLOW)
    return folder


@pytest.fixture(autouse=True)
def late_in_the_year(monkeypatch: pytest.MonkeyPatch) -> None:
    """The sample was read and worked in 2026: not a day to come, whenever the tests run."""
    monkeypatch.setattr("zoning.workflow.season_dates.today", lambda: "2026-12-31")


def check(folder: Path, *more: str) -> Result:
    return CliRunner().invoke(main, ["check", str(folder), *more])


def test_two_runs_write_the_same_bytes_and_say_what_to_do(slow: Path, tmp_path: Path) -> None:
    first = check(slow)
    assert first.exit_code == 0, first.output
    for words in (
        "reached at the leg only",
        "fell from 11 to 3 cm at 10 km/h, which by the equations the tractor may not hold",
        "Trial runs: ridge 11 cm at 4 km/h",
        "Dig next",
        "Cautions",
        "5 files written to",
    ):
        assert words in first.output
    again = check(slow, "--out", str(tmp_path / "again"), "--quiet")
    assert (again.exit_code, again.output) == (0, "")
    assert sorted(p.name for p in (slow / "check").iterdir()) == sorted(CHECK_WRITERS)
    for name in CHECK_WRITERS:
        one, other = (slow / "check" / name), (tmp_path / "again" / name)
        assert one.read_bytes() == other.read_bytes(), name


def test_a_check_written_elsewhere_is_a_draft_that_the_record_does_not_keep(
    slow: Path, tmp_path: Path
) -> None:
    assert "A draft" not in check(slow).output
    record = open_record(slow, begin=False)
    held = [len(record.everything(kind)) for kind in BODIES]
    pits = (slow / "pits.csv").read_bytes()
    try:
        (slow / "pits.csv").write_bytes(b"".join(pits.splitlines(keepends=True)[:-1]))
        shown = check(slow, "--out", str(tmp_path / "draft"))
    finally:
        (slow / "pits.csv").write_bytes(pits)
    assert shown.exit_code == 0, shown.output
    assert "A draft: not kept in the season record" in shown.output
    assert [len(record.everything(kind)) for kind in BODIES] == held
    assert "A draft" not in check(slow, "--out", str(slow / "x" / ".." / "check")).output


def test_pits_of_a_day_to_come_are_told_and_written_nowhere(
    slow: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert "not here yet" not in check(slow, "--out", str(tmp_path / "plain"), "--quiet").output
    monkeypatch.setattr("zoning.workflow.season_dates.today", lambda: "2026-01-01")
    early = check(slow, "--out", str(tmp_path / "early"), "--quiet")
    assert early.exit_code == 0
    assert "Caution: Dated on a day that is not here yet: cone.csv" in early.output
    for name in CHECK_WRITERS:
        assert (tmp_path / "plain" / name).read_bytes() == (tmp_path / "early" / name).read_bytes()


def test_a_field_without_a_plan_is_refused_and_nothing_is_written(
    slow: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "field"
    shutil.copytree(slow, folder, ignore=shutil.ignore_patterns("plan", "check"))
    shown = check(folder)
    assert shown.exit_code == 1
    assert "There is no plan here" in shown.output
    assert "Traceback" not in shown.output
    assert not (folder / "check").exists()
    assert check(folder, "--plan", str(slow / "plan"), "--quiet").exit_code == 0


def test_a_folder_that_is_not_a_check_is_refused(slow: Path, tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("keep me")
    shown = check(slow, "--out", str(tmp_path))
    assert shown.exit_code == 1
    assert (tmp_path / "letter.txt").read_text() == "keep me"


def test_a_read_only_place_is_refused_with_a_clear_message(slow: Path, tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("")
    shown = check(slow, "--out", str(blocked / "check"))
    assert shown.exit_code == 1
    assert "could not be written" in shown.output


def test_a_year_later_the_pits_of_last_season_are_in_the_record(
    slow: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("zoning.workflow.season_dates.today", lambda: "2027-12-31")
    folder, out = tmp_path / "field", tmp_path / "rows"
    shutil.copytree(slow, folder, ignore=shutil.ignore_patterns("check", "records.gpkg"))
    assert check(folder, "--quiet").exit_code == 0
    judged = pd.read_csv(folder / "pits.csv", dtype=str, keep_default_na=False)
    # As docs/howto/review.rst says: the new readings in the place of the old ones.
    toml = folder / "field.toml"
    newer = toml.read_text("utf-8").replace("season = 2026", "season = 2027")
    toml.write_text(newer.replace('cone_after = "cone_after.csv"\n', ""), "utf-8")
    before = judged[judged["phase"] == "before"].replace({"date": {"2026": "2027"}}, regex=True)
    before.to_csv(folder / "pits.csv", index=False)
    cone = folder / "cone.csv"
    cone.write_text(cone.read_text("utf-8").replace("2026-", "2027-"), "utf-8")
    last = "4 trial runs (A, B, C, D) are of 2026 by the season record"
    for _ in range(2):
        ran = CliRunner().invoke(main, ["plan", str(folder)])
        assert ran.output.count(last) == 1
    for name in ("plan.json", "map.html"):
        assert last in (folder / "plan" / name).read_text("utf-8")
    told = CliRunner().invoke(main, ["records", "check", str(folder)]).output
    assert "does not hold" not in told
    CliRunner().invoke(main, ["records", "export", str(folder), "--out", str(out)])
    rows = pd.read_csv(out / "pits.csv", dtype=str, keep_default_na=False)
    for season, wanted in (("2026", judged), ("2027", before)):
        own = rows[rows["season"] == season]
        assert sorted(own["pit"] + own["date"]) == sorted(wanted["pit"] + wanted["date"])
    verdicts = pd.read_csv(out / "check_rows.csv", dtype=str).query("about == 'pit'")
    assert set(verdicts["name"]) == set(judged.loc[judged["phase"] == "after", "pit"])
