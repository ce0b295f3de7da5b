"""Damage is found and named, a newer or foreign file is refused, and what reads can be saved."""

from __future__ import annotations

import dataclasses
import json
import sqlite3
from contextlib import closing, suppress
from pathlib import Path

import pytest
from records.kept import first, pit

from zoning.errors import InputRefused
from zoning.records import (
    Body,
    Check,
    CheckRow,
    Pit,
    Record,
    export_folder,
    import_folder,
    open_record,
    pits_not_held,
    rescued,
)


@pytest.fixture
def filled(record: Record) -> Record:
    record.save_all([first(pit(f"A{i}", note="wet below " * 20)) for i in range(60)])
    return record


def behind_its_back(record: Record, *statements: str) -> None:
    with closing(sqlite3.connect(record.path)) as store:
        for statement in statements:
            store.execute(statement)
        store.commit()


def refused(record: Record) -> str:
    before = record.path.read_bytes()
    with pytest.raises(InputRefused) as caught:
        open_record(record.path.parent)
    assert record.path.read_bytes() == before
    return str(caught.value)


def test_pits_that_a_check_names_and_nobody_kept_are_told(record: Record) -> None:
    def kept(body: Body) -> str:
        return record.save(dataclasses.replace(first(pit()), body=body)).record_id

    record.save_all([first(pit("A1")), first(pit("A2", season=2025, date="2025-09-10"))])
    check = kept(Check(season=2026, plan_id="c" * 64, after_pits=3))
    for name, date in (("A1", ""), ("A2", "2025-09-10"), ("A3", "2026-09-10")):
        facts = json.dumps({"date": date})
        row = {"season": 2026, "check_id": check, "about": "pit", "facts": facts}
        kept(CheckRow(name=name, verdict="reached", **row))  # type: ignore[arg-type]
    ((told, names),) = pits_not_held(record)
    assert (told.record_id, names) == (check, ("A3",))
    record.save(first(pit("A3", phase="before")))
    assert len(pits_not_held(record)) == 1
    record.save(first(pit("A3", withdrawn="yes")))
    assert pits_not_held(record) == []


def test_a_sound_record_opens(filled: Record) -> None:
    assert len(open_record(filled.path.parent).latest(Pit)) == 60


def test_another_program_cannot_change_or_delete_a_row(filled: Record) -> None:
    for statement in ("UPDATE pits SET note = ''", "DELETE FROM pits WHERE fid = 3"):
        with pytest.raises(sqlite3.IntegrityError, match="entries are kept"):
            behind_its_back(filled, statement)


@pytest.mark.parametrize(
    ("statement", "told"),
    [
        ("UPDATE pits SET loosened_at_leg_cm = 12 WHERE fid = 7", "row 7 of pits"),
        ("UPDATE pits SET geom = (SELECT zeroblob(29)) WHERE fid = 7", "row 7 of pits is drawn"),
        ("DELETE FROM pits WHERE fid = 7", "holds 59 rows where 60 were kept"),
        ("DELETE FROM pits WHERE fid = 60", "holds 59 rows where 60 were kept"),
        ("UPDATE zoning_heads SET head = 'x' WHERE table_name = 'pits'", "or other rows"),
    ],
)
def test_a_row_that_was_changed_is_named(filled: Record, statement: str, told: str) -> None:
    triggers = ("pits_not_changed", "pits_not_deleted")
    saved = sqlite3.connect(filled.path).execute(
        "SELECT sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'pits'"
    )
    again = [sql for (sql,) in saved]
    behind_its_back(filled, *(f"DROP TRIGGER {name}" for name in triggers), statement, *again)
    text = refused(filled)
    assert told in text
    assert "--rescue" in text


def test_a_strange_trigger_or_a_missing_table_is_found(filled: Record) -> None:
    behind_its_back(
        filled, "CREATE TRIGGER sly AFTER INSERT ON pits BEGIN DELETE FROM reviews; END"
    )
    assert "trigger sly" in refused(filled)
    behind_its_back(filled, "DROP TRIGGER sly", "DROP TABLE reviews")
    assert "reviews" in refused(filled)


def test_layers_that_a_gis_adds_do_no_harm(filled: Record) -> None:
    behind_its_back(filled, "CREATE TABLE layer_styles (id INTEGER PRIMARY KEY, style TEXT)")
    open_record(filled.path.parent)


def test_a_newer_layout_is_left_alone(filled: Record) -> None:
    behind_its_back(filled, "UPDATE zoning_record SET format_version = 99")
    text = refused(filled)
    assert "layout 99" in text
    assert "Update the program" in text


@pytest.mark.parametrize("content", [b"", b"not a database at all" * 100])
def test_a_foreign_file_is_refused(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "records.gpkg").write_bytes(content)
    with pytest.raises(InputRefused):
        open_record(tmp_path)
    assert (tmp_path / "records.gpkg").read_bytes() == content


def test_a_flipped_byte_is_found_or_harmless(filled: Record) -> None:
    """A record with one byte turned over is refused, or says exactly what it said."""
    whole = filled.path.read_bytes()
    said = filled.everything(Pit)
    for at in range(50, len(whole), len(whole) // 40):
        spoil(filled, whole, at, 1)
        with suppress(InputRefused):
            assert open_record(filled.path.parent).everything(Pit) == said


def test_a_flipped_byte_of_a_row_is_always_found(filled: Record) -> None:
    whole = filled.path.read_bytes()
    found = [at for at in range(len(whole)) if whole.startswith(b"below", at)]
    assert len(found) == 60 * 20
    for at in found[:: len(found) // 25]:
        spoil(filled, whole, at, 1)
        assert "records.gpkg" in refused(filled)


def spoil(record: Record, whole: bytes, at: int, count: int) -> None:
    spoilt = bytearray(whole)
    spoilt[at : at + count] = bytes(byte ^ 0x5F for byte in spoilt[at : at + count])
    record.path.write_bytes(bytes(spoilt))


def test_what_still_reads_of_a_torn_file_begins_a_new_record(
    filled: Record, tmp_path: Path
) -> None:
    whole = filled.path.read_bytes()
    spoil(filled, whole, whole.index(b"below") // 4096 * 4096, 4096)
    refused(filled)
    saved = rescued(filled.path.parent)
    assert 30 <= len(saved[Pit]) < 60
    export_folder(saved, tmp_path / "rows")
    new = tmp_path / "new"
    new.mkdir()
    record = open_record(new)
    assert import_folder(record, tmp_path / "rows") == len(saved[Pit])
    assert [e.body for e in record.everything(Pit)] == [e.body for e in saved[Pit]]
