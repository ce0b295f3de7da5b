"""``zoning plan`` as a user runs it: what it prints, what it writes, what it refuses."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from zoning.cli import main

SAMPLE = Path(__file__).parents[2] / "sample_data" / "teasel_piece"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a copy of the sample field's folder."""
    target = tmp_path / "field"
    shutil.copytree(SAMPLE, target, ignore=shutil.ignore_patterns("truth", "plan", "records*"))
    return target


def plan(folder: Path, *more: str) -> Result:
    return CliRunner().invoke(main, ["plan", str(folder), *more])


@pytest.fixture(autouse=True)
def late_in_the_year(monkeypatch: pytest.MonkeyPatch) -> None:
    """The sample was read in August 2026: not a day to come, whenever the tests run."""
    monkeypatch.setattr("zoning.workflow.season_dates.today", lambda: "2026-12-31")


def test_readings_of_a_day_to_come_are_told_of_a_draft_too_and_written_nowhere(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = plan(folder, "--out", str(tmp_path / "plain"), "--quiet")
    monkeypatch.setattr("zoning.workflow.season_dates.today", lambda: "2026-01-01")
    early = plan(folder, "--out", str(tmp_path / "early"), "--quiet")
    assert (plain.exit_code, early.exit_code) == (0, 0)
    assert plain.output == ""
    assert "Caution: Dated on a day that is not here yet: cone.csv" in early.output
    for path in (tmp_path / "plain").iterdir():
        assert path.read_bytes() == (tmp_path / "early" / path.name).read_bytes(), path.name


def test_two_runs_write_the_same_bytes_and_say_what_was_done(folder: Path, tmp_path: Path) -> None:
    (folder / "plan").mkdir()  # an earlier plan that a GIS has looked at
    for name in ("plan.json", "pan_surface.tif.aux.xml"):
        (folder / "plan" / name).write_text("{}")
    first = plan(folder)
    assert first.exit_code == 0, first.output
    assert any(line.endswith(": pan_surface.tif.aux.xml") for line in first.output.splitlines())
    for word in (
        "Teasel Piece",
        "Is loosening called for?",
        "Working depths",
        "Cautions",
        "files written to",
    ):
        assert word in first.output
    again = plan(folder, "--out", str(tmp_path / "again"), "--quiet")
    assert (again.exit_code, again.output) == (0, "")
    written = sorted(path.name for path in (folder / "plan").iterdir())
    assert written == sorted(path.name for path in (tmp_path / "again").iterdir())
    for name in written:
        assert (folder / "plan" / name).read_bytes() == (tmp_path / "again" / name).read_bytes(), (
            name
        )


def test_a_folder_that_is_not_a_plan_is_refused_before_any_work(
    folder: Path, tmp_path: Path
) -> None:
    other = tmp_path / "letters"
    other.mkdir()
    (other / "letter.txt").write_text("keep me")
    shown = plan(folder, "--out", str(other))
    assert shown.exit_code == 1
    assert (other / "letter.txt").read_text() == "keep me"


def test_a_missing_folder_is_refused_with_a_remedy(tmp_path: Path) -> None:
    shown = plan(tmp_path / "nowhere")
    assert shown.exit_code == 1
    assert "nowhere" in shown.output
    assert "Traceback" not in shown.output
