"""Beginning a record, alone or two at once, and where it cannot be begun."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest
from records.kept import first, pit

from zoning.errors import OutputFailed
from zoning.records import Pit, Record, copy_record, everything, open_record


def test_a_record_is_begun_once_by_programs_that_begin_together(tmp_path: Path) -> None:
    found: list[Record] = []

    def begin(name: str) -> None:
        record = open_record(tmp_path)
        record.save(first(pit(name)))
        found.append(record)

    threads = [threading.Thread(target=begin, args=(f"A{i}",)) for i in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(found) == 8
    assert len(open_record(tmp_path).latest(Pit)) == 8
    assert {path.name for path in tmp_path.iterdir()} <= {"records.gpkg", "records.gpkg-journal"}


def test_a_folder_without_a_record_is_told(tmp_path: Path) -> None:
    with pytest.raises(OutputFailed, match="no season record yet"):
        everything(tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_there_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(OutputFailed, match="could not be begun"):
        open_record(tmp_path / "nowhere")


def test_a_copy_holds_everything_and_is_a_record(record: Record, tmp_path: Path) -> None:
    entry = record.save(first(pit()))
    other = tmp_path / "other"
    other.mkdir()
    copy_record(record, other / "records.gpkg")
    assert open_record(other).everything(Pit) == [entry]
