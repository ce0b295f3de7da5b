"""``zoning verify`` as a user runs it."""

from __future__ import annotations

import json
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


def test_a_copy_is_judged_under_any_name(folder: Path, tmp_path: Path) -> None:
    sent = tmp_path / "depth_grid_for_the_contractor.csv"
    text = (folder / "depth_grid.csv").read_text()
    sent.write_text(text)
    same = CliRunner().invoke(main, ["verify", str(folder), "--sent", str(sent)])
    assert same.exit_code == 1  # line ends
    assert "Every row reads as planned: only how it is written differs" in same.stderr
    sent.write_bytes((folder / "depth_grid.csv").read_bytes())
    same = CliRunner().invoke(main, ["verify", str(folder), "--sent", str(sent)])
    assert same.exit_code == 0
    assert f"{sent}: depth_grid.csv of plan " in same.stdout


def test_files_of_two_plans_are_answered_under_their_plan(tmp_path: Path) -> None:
    (one, _), (two, _) = plan_folders(1, 2, tmp_path)  # the first is NOT CLEARED in part
    names = [
        f"Plan {document['plan_id'][:8]} of {document['field']['name']}: "
        for document in (json.loads((at / "plan.json").read_text()) for at in (one, two))
    ]
    sent = [tmp_path / f"{name.split()[1]}.csv" for name in names]
    for at, copy in zip((one, two), sent, strict=True):
        copy.write_bytes((at / "depth_grid.csv").read_bytes())
    args = ["verify", str(tmp_path), "--sent", str(sent[1]), "--sent", str(sent[0])]
    done = CliRunner().invoke(main, args)
    assert done.exit_code == 0
    second, first = done.stdout.partition(names[1])[2].split(names[0])
    assert str(sent[0]) in first
    assert str(sent[1]) in second
    assert "\nNOT CLEARED: 1 of 2 zones, " in first
    assert "NOT CLEARED" not in second
    sent[0].write_text(sent[0].read_text())
    (two / "depth_passes.csv").write_text("")
    done = CliRunner().invoke(main, [*args, "--sent", str(tmp_path / "gone.csv")])
    assert done.exit_code == 1
    gone, _, rest = done.stderr.partition(names[1].strip())
    assert gone.startswith(f"Refused. {tmp_path / 'gone.csv'}: There is no such file.")
    second, first = rest.split(names[0].strip())
    assert second.strip().startswith("depth_passes.csv: ")
    assert first.strip().startswith(f"{sent[0]}: Every row reads as planned")


def test_a_file_in_the_place_of_a_plan_is_told_how_to_compare_it(folder: Path) -> None:
    done = CliRunner().invoke(main, ["verify", str(folder / "depth_grid.csv")])
    assert done.exit_code == 1
    assert "zoning verify PLAN_FOLDER --sent " in done.stderr


def test_a_copy_left_in_the_plan_folder_is_told_as_one(folder: Path) -> None:
    data = (folder / "depth_grid.csv").read_bytes()
    (folder / "mine.csv").write_bytes(data)
    (folder / "edited.csv").write_bytes(data[:-2])
    told = CliRunner().invoke(main, ["verify", str(folder)]).stderr
    assert "mine.csv: The file is a copy of depth_grid.csv, byte for byte" in told
    assert "edited.csv: The file is no part of the plan, and could be taken for one" in told
    assert "--sent says what in it differs" in told
