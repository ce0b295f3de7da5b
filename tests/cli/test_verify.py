"""``zoning verify`` as a user runs it."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner
from invariants.fields import plan_folders

from zoning.cli import main


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return the plan of a small field."""
    return next(plan_folders(1, 1, tmp_path))[0]


def test_a_whole_plan_says_so_and_ends_with_0(folder: Path) -> None:
    done = CliRunner().invoke(main, ["verify", str(folder)])
    assert done.exit_code == 0
    assert "zones agree with each other" in done.output


def test_what_differs_is_listed_on_stderr_and_ends_with_1(folder: Path) -> None:
    (folder / "depth_grid.csv").write_text("lon,lat,depth_cm\r\n")
    done = CliRunner().invoke(main, ["verify", str(folder), "--quiet"])
    assert done.exit_code == 1
    assert done.stdout == ""
    assert done.stderr.startswith("Refused. depth_grid.csv: ")
    assert "SHA-256 differs" in done.stderr


def test_no_plan_ends_with_1(tmp_path: Path) -> None:
    done = CliRunner().invoke(main, ["verify", str(tmp_path)])
    assert done.exit_code == 1
    assert "no plan here" in done.stderr
