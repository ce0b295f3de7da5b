"""What is acknowledged is kept once; what is refused changes nothing."""

from __future__ import annotations

import hashlib
import json
import os
import signal
import sqlite3
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from records.kept import first, pit

from zoning.errors import InputRefused, OutputFailed
from zoning.records import Conflict, Draft, NameTaken, Pit, Record, new_id, open_record

WRITER = """
import sys
from pathlib import Path
from zoning.records import Draft, Pit, open_record
folder, who, count = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
record = open_record(folder)
for i in range(count):
    row = f"{who}{i:031d}"
    body = Pit(season=2026, pit=f"{who}{i}", phase="after", lon=0.8, lat=52.7)
    record.save(Draft(body=body, row_id=row, record_id=row, based_on=0, origin="page"))
    print(row, flush=True)
"""


def test_a_pit_reads_back_as_it_was_saved(record: Record) -> None:
    said = pit(note="=x\r\n'a\u2028", loosened_at_leg_cm=31.5, pan="no")
    entry = record.save(first(said, by_whom="M. Hale"))
    assert record.latest(Pit) == [entry]
    assert (entry.body, entry.version, entry.by_whom) == (said, 1, "M. Hale")
    assert entry.recorded_at.endswith("Z")


def test_the_same_form_sent_again_is_the_same_entry(record: Record) -> None:
    draft = first(pit())
    assert record.save(draft) == record.save(draft)
    assert len(record.everything(Pit)) == 1


def test_the_same_form_with_other_values_is_a_conflict(record: Record) -> None:
    draft = first(pit())
    record.save(draft)
    other = Draft(
        body=pit(note="more"), row_id=draft.row_id, record_id=draft.record_id, based_on=0,
        origin="page",
    )  # fmt: skip
    with pytest.raises(Conflict) as caught:
        record.save(other)
    assert caught.value.current.body.note == ""
    assert caught.value.draft.body.note == "more"
    assert len(record.everything(Pit)) == 1


def test_an_edit_is_a_new_row_and_the_old_one_stays(record: Record) -> None:
    one = record.save(first(pit()))
    two = record.save(
        Draft(body=pit(note="seen again"), row_id=new_id(), record_id=one.record_id, based_on=1,
              origin="page", why="misread")
    )  # fmt: skip
    assert record.trail(Pit, one.record_id) == [one, two]
    assert record.latest(Pit) == [two]
    assert (two.version, two.why) == (2, "misread")


def test_of_two_edits_of_one_version_the_second_is_told_of_the_first(record: Record) -> None:
    one = record.save(first(pit()))

    def edit(note: str) -> Draft[Pit]:
        return Draft(
            body=pit(note=note), row_id=new_id(), record_id=one.record_id, based_on=1, origin="page"
        )

    record.save(edit("hers"))
    with pytest.raises(Conflict) as caught:
        record.save(edit("his"))
    assert caught.value.current.body.note == "hers"
    assert caught.value.current.version == 2
    assert [e.body.note for e in record.everything(Pit)] == ["", "hers"]


def test_a_name_stands_once_a_season_and_phase(record: Record) -> None:
    record.save(first(pit("A1")))
    with pytest.raises(NameTaken):
        record.save(first(pit("A1")))
    record.save(first(pit("A1", phase="before")))
    record.save(first(pit("A1", season=2027)))
    assert len(record.latest(Pit)) == 3


def test_the_name_of_a_withdrawn_pit_is_free_again(record: Record) -> None:
    one = record.save(first(pit("A1")))
    gone = pit("A1", withdrawn="yes")
    record.save(
        Draft(body=gone, row_id=new_id(), record_id=one.record_id, based_on=1, origin="page")
    )
    record.save(first(pit("A1")))
    assert len(record.latest(Pit, withdrawn="")) == 1


def test_several_drafts_are_kept_together_or_not_at_all(record: Record) -> None:
    with pytest.raises(NameTaken):
        record.save_all([first(pit("A1")), first(pit("A1"))])
    assert record.everything(Pit) == []


@pytest.mark.parametrize(
    "said",
    [
        {"loosened_at_leg_cm": 500.0},
        {"lat": 91.0},
        {"lon": float("nan")},
        {"phase": "during"},
        {"note": "x" * 4001},
        {"note": "bell \x07"},
        {"part": "\ud800"},
    ],
)
def test_a_value_outside_its_limits_is_refused_by_name(
    record: Record, said: dict[str, object]
) -> None:
    with pytest.raises(InputRefused, match=next(iter(said))):
        record.save(first(pit(**said)))
    assert record.everything(Pit) == []


def test_a_column_that_is_not_there_cannot_be_asked_for(record: Record) -> None:
    with pytest.raises(ValueError, match="no column"):
        record.latest(Pit, **{"pit = '' OR 1": 1})


def test_threads_of_one_program_lose_nothing(record: Record) -> None:
    def work(who: int) -> None:
        for i in range(10):
            record.save(first(pit(f"T{who}-{i}")))

    threads = [threading.Thread(target=work, args=(who,)) for who in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(e.sequence for e in record.everything(Pit)) == list(range(1, 61))
    open_record(record.path.parent)


def test_two_programs_killed_while_saving_lose_and_double_nothing(tmp_path: Path) -> None:
    """Each line printed is a save that was acknowledged; kill -9 at an arbitrary moment."""
    open_record(tmp_path)
    acknowledged: set[str] = set()
    for round_ in range(3):
        runs = [
            subprocess.Popen(
                [sys.executable, "-c", WRITER, str(tmp_path), letter, "40"],
                stdout=subprocess.PIPE, text=True,
            )
            for letter in "ab"
        ]  # fmt: skip
        for i, run in enumerate(runs):
            assert run.stdout is not None
            seen = [run.stdout.readline().strip() for _ in range(4 + 5 * round_ + i)]
            os.kill(run.pid, signal.SIGKILL)
            seen += [line.strip() for line in run.stdout]
            run.wait()
            acknowledged |= {row for row in seen if len(row) == 32}
    kept = [entry.row_id for entry in open_record(tmp_path).everything(Pit)]
    assert acknowledged <= set(kept)
    assert len(kept) == len(set(kept))


def test_a_full_disk_is_told_and_nothing_is_half_saved(
    record: Record, monkeypatch: pytest.MonkeyPatch
) -> None:
    record.save(first(pit("A1")))

    def full(*_: object) -> None:
        raise sqlite3.OperationalError("database or disk is full")

    monkeypatch.setattr("zoning.records.store.next_head", full)
    with pytest.raises(OutputFailed, match="disk is full"):
        record.save(first(pit("A2")))
    monkeypatch.undo()
    assert [e.body.pit for e in open_record(record.path.parent).latest(Pit)] == ["A1"]


def test_hashes_are_those_of_the_row_as_json(record: Record) -> None:
    """Recomputed here by hand from what SQLite holds, with hashlib alone."""
    record.save(first(pit(note="ä")))
    store = sqlite3.connect(record.path)
    store.row_factory = sqlite3.Row
    row = dict(store.execute("SELECT * FROM pits").fetchone())
    store.close()
    hashed = row.pop("row_hash")
    row = {name: value for name, value in row.items() if name not in ("fid", "geom")}
    text = json.dumps(["pits", *row.values()], ensure_ascii=False)
    assert hashed == hashlib.sha256(text.encode()).hexdigest()
