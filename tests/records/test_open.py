"""Beginning a record, alone or two at once, and where it cannot be begun."""

from __future__ import annotations

import threading
from contextlib import closing
from pathlib import Path

import pytest
from records.kept import first, pit

from zoning.errors import OutputFailed
from zoning.records import NameTaken, Pit, Record, copy_record, everything, open_record
from zoning.records.file import connect, tidy


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
    # Eight that save at once may each pass the journal by for another's sake; the next clears it.
    assert {path.name for path in tmp_path.iterdir()} <= {"records.gpkg", "records.gpkg-journal"}
    found[0].save(first(pit("A9")))
    assert [path.name for path in tmp_path.iterdir()] == ["records.gpkg"]


def test_a_save_a_refusal_and_a_failure_leave_the_record_alone_in_its_folder(
    tmp_path: Path,
) -> None:
    record = open_record(tmp_path)
    record.save(first(pit("A1")))
    assert [path.name for path in tmp_path.iterdir()] == ["records.gpkg"]
    with pytest.raises(NameTaken):
        record.save(first(pit("A1")))
    with pytest.raises(ZeroDivisionError):
        _save_that_fails(record)
    assert [path.name for path in tmp_path.iterdir()] == ["records.gpkg"]
    assert len(open_record(tmp_path).everything(Pit)) == 1


def _save_that_fails(record: Record) -> None:
    with record.adding() as store:
        store.execute("UPDATE zoning_heads SET head = ''")
        raise ZeroDivisionError


def test_an_empty_journal_that_was_left_is_cleared_by_the_next_save(tmp_path: Path) -> None:
    record = open_record(tmp_path)
    (tmp_path / "records.gpkg-journal").touch()
    record.save(first(pit("A1")))
    assert [path.name for path in tmp_path.iterdir()] == ["records.gpkg"]


def test_a_journal_that_another_program_writes_is_let_be(tmp_path: Path) -> None:
    record = open_record(tmp_path)
    journal = tmp_path / "records.gpkg-journal"
    with closing(connect(record.path)) as other, closing(connect(record.path)) as one:
        other.execute("BEGIN IMMEDIATE")
        other.execute("UPDATE zoning_heads SET head = 'x'")
        assert journal.stat().st_size > 0
        tidy(one)
        assert journal.stat().st_size > 0
        other.execute("ROLLBACK")
    assert open_record(tmp_path).everything(Pit) == []


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
