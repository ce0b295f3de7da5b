"""A plan folder opened to be verified: what is no plan, what is damaged, what is not as written."""

from __future__ import annotations

import json
import shutil
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from zoning.errors import InputRefused
from zoning.outputs.verify.files import (
    attempted,
    byte_faults,
    fault,
    foreign_notes,
    open_document,
    open_store,
)


@pytest.fixture
def folder(written: Path, tmp_path: Path) -> Path:
    """Return a copy of a plan folder to spoil."""
    return Path(shutil.copytree(written, tmp_path / "copy"))


def told(folder: Path) -> list[str]:
    return [str(each) for each in byte_faults(folder, open_document(folder))]


def test_a_plan_as_written_has_no_fault(folder: Path) -> None:
    assert told(folder) == []
    assert set(open_store(folder)) >= {"boundary", "zones", "passes", "hazards"}


def test_a_folder_without_a_plan_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputRefused, match="no plan here"):
        open_document(tmp_path)


@pytest.mark.parametrize("text", ["", "[]", "{", '{"plan_id": NaN}', "[" * 5000, "\ufffd"])
def test_a_document_that_is_no_plan_is_refused(folder: Path, text: str) -> None:
    (folder / "plan.json").write_text(text)
    with pytest.raises(InputRefused, match="damaged"):
        open_document(folder)


def test_a_changed_byte_a_missing_and_a_foreign_file_are_each_named(folder: Path) -> None:
    (folder / "depth_grid.csv").write_bytes(b"lon,lat,depth_cm\r\n")
    (folder / "map.html").unlink()
    (folder / "old_grid.CSV").write_text("lon,lat,depth_cm")
    (folder / "notes.txt").write_text("mine")
    assert [line.split(":")[0] for line in told(folder)] == [
        "depth_grid.csv",
        "map.html",
        "old_grid.CSV",
    ]


def test_what_cannot_be_taken_for_a_file_of_the_plan_is_noted_and_no_fault(folder: Path) -> None:
    for name in ("pan_surface.tif.ovr", "plan.gpkg-shm", "notes.txt"):
        (folder / name).write_text("mine")
    (folder / "photos.csv").mkdir()
    assert told(folder) == []
    made, rest = foreign_notes(folder, open_document(folder))
    assert made.endswith(": pan_surface.tif.ovr, plan.gpkg-shm.")
    assert rest.endswith(": notes.txt, photos.csv.")


def test_edits_that_are_not_yet_in_the_store_are_read_and_left_where_they_are(folder: Path) -> None:
    """As a program leaves them that is killed, or still open: SQLite, write-ahead log."""
    store = folder / "plan.gpkg"
    edit = (
        "import os, sqlite3, sys; c = sqlite3.connect(sys.argv[1]);"
        "c.execute('pragma journal_mode = wal'); c.execute('update zones set depth_cm = 50');"
        "c.commit(); os._exit(0)"
    )
    with sqlite3.connect(store) as connection:
        names = connection.execute("select name from sqlite_master where type = 'trigger'")
        for (name,) in names.fetchall():  # they need functions that sqlite3 has not
            connection.execute(f'drop trigger "{name}"')
    subprocess.run([sys.executable, "-c", edit, store], check=True)
    before = {path.name: path.read_bytes() for path in folder.glob("plan.gpkg*")}
    assert before["plan.gpkg-wal"]
    assert set(open_store(folder)["zones"]["depth_cm"]) == {50.0}
    del before["plan.gpkg-shm"]  # the index of the log, which every reader may touch
    assert {name: (folder / name).read_bytes() for name in before} == before
    first, *_ = foreign_notes(folder, open_document(folder))
    assert first.endswith(", compared with it: plan.gpkg-wal.")


def test_a_link_or_a_path_in_place_of_a_file_is_named(folder: Path, tmp_path: Path) -> None:
    (folder / "map.html").rename(tmp_path / "map.html")
    (folder / "map.html").symlink_to(tmp_path / "map.html")
    assert told(folder) == [str(fault("map.html", "The file is missing from the plan."))]


def test_a_file_named_otherwise_is_told_once_with_the_name_it_has(folder: Path) -> None:
    (folder / "depth_grid.csv").rename(folder / "grid for the cab.csv")
    (folder / "map.html").rename(folder / "map.txt")  # no kind of file that a plan holds
    grid, page = told(folder)
    assert (
        grid == "depth_grid.csv: The file is named 'grid for the cab.csv' here. Name it as it was."
    )
    assert "map.html: The file is missing" in page
    shutil.copy(folder / "grid for the cab.csv", folder / "depth_grid.csv")
    assert "is a copy of depth_grid.csv" in told(folder)[1]


def test_a_word_changed_in_the_document_itself_is_told(folder: Path) -> None:
    path = folder / "plan.json"
    path.write_text(path.read_text().replace("Buried services were", "Buried services are"))
    assert any("its own SHA-256" in line for line in told(folder))


def test_laying_out_the_document_anew_changes_nothing(folder: Path) -> None:
    path = folder / "plan.json"
    path.write_text(json.dumps(json.loads(path.read_text()), sort_keys=True))
    assert told(folder) == []


@pytest.mark.parametrize("data", [b"", b"<OGRVRTDataset/>", b"SQLite format 3\x00" + b"\x01" * 600])
def test_a_store_that_is_none_is_not_opened(folder: Path, data: bytes) -> None:
    (folder / "plan.gpkg").write_bytes(data)
    assert attempted("plan.gpkg", lambda: [*open_store(folder)] and [])
    with pytest.raises(Exception, match=r"no GeoPackage|database|damaged|malformed"):
        open_store(folder)


def test_only_the_first_differences_of_a_comparison_are_told() -> None:
    many = [fault("a.csv", f"difference {i}") for i in range(100)]
    assert attempted("a.csv", lambda: many) == many[:6]


def test_what_a_file_or_its_plan_lacks_is_told_as_of_another_version() -> None:
    (told,) = attempted("map.html", lambda: [{}["laid"]])
    assert told.what.startswith("It or the plan lacks 'laid': one of them was made by another")


@pytest.mark.parametrize("name", ["x" * 400, "a\x00b"])
def test_a_name_that_no_folder_can_have_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(InputRefused, match="no plan here"):
        open_document(tmp_path / name)
