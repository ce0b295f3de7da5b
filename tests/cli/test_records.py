"""``zoning records`` and what ``zoning plan`` leaves in the record, as a user runs them."""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from zoning.cli import main
from zoning.records import Check, CheckRow, Draft, Photo, Pit, new_id, open_record


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    folder = tmp_path / "field"
    folder.mkdir()
    row = new_id()
    body = Pit(season=2026, pit="A1", phase="after", lon=0.8, lat=52.7)
    draft = Draft(body=body, row_id=row, record_id=row, based_on=0, origin="page")
    open_record(folder).save(draft)
    return folder


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["records", *words])


def test_out_and_back_in(folder: Path, tmp_path: Path) -> None:
    assert run("check", str(folder)).output.startswith("pits: 1 row, sound")
    shown = run("export", str(folder), "--out", str(tmp_path / "rows"))
    assert shown.exit_code == 0
    assert "1 row in 9 tables" in shown.output
    (tmp_path / "other").mkdir()
    shown = run("import", str(tmp_path / "other"), str(tmp_path / "rows"))
    assert "1 row added" in shown.output
    assert run("export", str(tmp_path / "other")).exit_code == 0
    for path in (tmp_path / "rows").iterdir():
        assert path.read_bytes() == (tmp_path / "other" / "record" / path.name).read_bytes()


def test_a_field_without_a_record_gets_none_by_looking(tmp_path: Path) -> None:
    shown = run("check", str(tmp_path))
    assert shown.exit_code == 1
    assert "no season record yet" in shown.output
    assert list(tmp_path.iterdir()) == []


def test_the_way_out_of_a_damaged_record_works_as_it_is_worded(
    folder: Path, tmp_path: Path
) -> None:

    store = sqlite3.connect(folder / "records.gpkg")
    store.execute("UPDATE zoning_heads SET entries = 7 WHERE table_name = 'pits'")
    store.commit()
    store.close()
    shown = run("check", str(folder))
    assert shown.exit_code == 1
    assert "--rescue" in shown.output
    assert run("export", str(folder), "--rescue", "--out", str(tmp_path / "rows")).exit_code == 0
    (folder / "records.gpkg").rename(folder / "records.damaged.gpkg")
    assert run("import", str(folder), str(tmp_path / "rows")).exit_code == 0
    assert run("check", str(folder)).exit_code == 0


def test_a_check_that_names_a_pit_nobody_kept_is_told(folder: Path) -> None:
    record = open_record(folder)
    assert "does not hold" not in run("check", str(folder)).output
    done = Check(season=2026, plan_id="c" * 64, after_pits=1)
    named = {"season": 2026, "check_id": "one", "about": "pit", "verdict": "reached"}
    rows = (done, CheckRow(name="A1", **named), CheckRow(name="A7", **named))  # type: ignore[arg-type]
    ids = ("one", "two", "three")
    record.save_all(
        [
            Draft(body=body, row_id=row, record_id=row, based_on=0, origin="check")
            for row, body in zip(ids, rows, strict=True)
        ]
    )
    shown = run("check", str(folder)).output
    assert "names pits that the record does not hold: A7." in shown
    assert "Run 'zoning check' again" in shown


def test_help_of_each_has_an_example() -> None:
    for name in ("export", "import", "check"):
        assert "Example:" in run(name, "--help").output


def test_a_photo_that_is_gone_is_named(folder: Path, tmp_path: Path) -> None:
    path, row = "photos/pit.jpg", new_id()
    body = Photo(season=2026, pit_id=new_id(), path=path, sha256="ab" * 32, media_type="image/jpeg",
                 width=1, height=1, bytes=1, location_kept="no")  # fmt: skip
    draft = Draft(body=body, row_id=row, record_id=row, based_on=0, origin="page")
    open_record(folder).save(draft)
    assert f"{folder / path} is gone or was changed" in run("check", str(folder)).output
    shown = run("export", str(folder), "--out", str(tmp_path / "rows"))
    assert f"take {folder / 'photos'} along" in shown.output
    row = new_id()
    beside = Draft(body=replace(body, path="p1.jpg"), row_id=row, record_id=row, based_on=0,
                   origin="file")  # fmt: skip
    open_record(folder).save(beside)
    shown = run("export", str(folder), "--out", str(tmp_path / "more"))
    assert f"take {folder / 'photos'}, {folder / 'p1.jpg'} along" in shown.output


def test_the_help_of_the_group_is_not_cut_short() -> None:
    assert "..." not in CliRunner().invoke(main, ["records", "--help"]).output.partition("Comm")[2]
