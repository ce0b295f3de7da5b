"""A folder appears whole or not at all, whatever happens while it is written."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import pytest

from zoning.errors import OutputFailed
from zoning.outputs import publish
from zoning.outputs.publish import check_target, staged

KNOWN = {"plan.json", "zones.csv", "map.html"}


def put(folder: Path, text: str, fault: BaseException | None = None) -> None:
    """Publish a plan of two files that say `text`; with a fault, fail between the two."""
    with staged(folder, KNOWN) as new:
        (new / "zones.csv").write_text(text, encoding="utf-8")
        if fault is not None:
            raise fault
        (new / "plan.json").write_text(text, encoding="utf-8")


def contents(folder: Path) -> dict[str, str]:
    return {path.name: path.read_text(encoding="utf-8") for path in sorted(folder.iterdir())}


def both(text: str) -> dict[str, str]:
    return {"plan.json": text, "zones.csv": text}


def test_a_folder_is_made_with_its_parents(tmp_path: Path) -> None:
    put(tmp_path / "a" / "b" / "plan", "one")
    assert contents(tmp_path / "a" / "b" / "plan") == both("one")
    assert [path.name for path in (tmp_path / "a" / "b").iterdir()] == ["plan"]


@pytest.mark.parametrize("exchange", [True, False])
def test_an_older_plan_is_replaced_with_all_its_files(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *, exchange: bool
) -> None:
    if not exchange:  # As on a file system that cannot exchange two names.
        monkeypatch.setattr(publish, "_exchanged", lambda *_: False)
    folder = tmp_path / "plan"
    put(folder, "one")
    (folder / "map.html").write_text("old", encoding="utf-8")
    (folder / "zones.csv.aux.xml").write_text("from another program", encoding="utf-8")
    put(folder, "two")
    assert contents(folder) == both("two")
    assert [path.name for path in tmp_path.iterdir()] == ["plan"]


@pytest.mark.parametrize(
    "fault", [OSError(28, "No space left on device"), KeyboardInterrupt(), KeyError("x")]
)
def test_a_failure_while_writing_leaves_the_old_plan(tmp_path: Path, fault: BaseException) -> None:
    put(tmp_path / "plan", "one")
    wanted = OutputFailed if isinstance(fault, OSError) else type(fault)
    with pytest.raises(wanted):
        put(tmp_path / "plan", "two", fault)
    assert contents(tmp_path / "plan") == both("one")
    assert [path.name for path in tmp_path.iterdir()] == ["plan"]


def test_a_first_failure_leaves_nothing_not_even_parents(tmp_path: Path) -> None:
    with pytest.raises(OutputFailed, match="No space"):
        put(tmp_path / "a" / "plan", "one", OSError(28, "No space left on device"))
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("call", ["fsync", "rename"])
def test_a_failure_while_publishing_leaves_the_old_plan(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str
) -> None:
    put(tmp_path / "plan", "one")

    def fail(*_: object) -> None:
        raise OSError(5, "Input/output error")

    if call == "fsync":
        monkeypatch.setattr(os, "fsync", fail)
    else:
        monkeypatch.setattr(publish, "_exchanged", lambda *_: False)
        rename = Path.rename
        monkeypatch.setattr(
            Path, "rename", lambda self, to: fail() if "new" in self.name else rename(self, to)
        )
    with pytest.raises(OutputFailed, match="Input/output error"):
        put(tmp_path / "plan", "two")
    monkeypatch.undo()
    assert contents(tmp_path / "plan") == both("one")
    assert [path.name for path in tmp_path.iterdir()] == ["plan"]


def test_a_folder_of_something_else_is_refused_and_kept(tmp_path: Path) -> None:
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "pit.jpg").write_bytes(b"x")
    with pytest.raises(OutputFailed, match=r"holds other files and no plan\.json"):
        put(tmp_path / "photos", "one")
    assert [path.name for path in (tmp_path / "photos").iterdir()] == ["pit.jpg"]


def test_a_plan_with_a_file_of_the_users_is_refused_and_kept(tmp_path: Path) -> None:
    put(tmp_path / "plan", "one")
    (tmp_path / "plan" / "my notes.txt").write_text("keep me", encoding="utf-8")
    with pytest.raises(OutputFailed, match=r"my notes\.txt, which would be lost"):
        put(tmp_path / "plan", "two")
    assert contents(tmp_path / "plan") == both("one") | {"my notes.txt": "keep me"}


def test_what_another_program_made_from_a_file_is_told_and_goes_with_it(tmp_path: Path) -> None:
    folder = tmp_path / "plan"
    put(folder, "one")
    for name in ("zones.csv.aux.xml", "zones.csv.ovr", "zones.csv-shm", "Thumbs.db"):
        (folder / name).write_text("made", encoding="utf-8")
    (folder / "zones.csv-wal").touch()  # empty: everything in it is in the file already
    told = check_target(folder, KNOWN)
    assert set(told) == {path.name for path in folder.iterdir()} - KNOWN
    put(folder, "two")
    assert contents(folder) == both("two")


@pytest.mark.parametrize(
    "name", ["zones.csv-wal", "zones.csv-journal", "mine.tif.aux.xml", "a.ovr"]
)
def test_edits_of_another_program_and_what_belongs_to_other_files_are_kept(
    tmp_path: Path, name: str
) -> None:
    folder = tmp_path / "plan"
    put(folder, "one")
    (folder / name).write_text("mine", encoding="utf-8")
    with pytest.raises(OutputFailed, match=f"{name}, which would be lost"):
        put(folder, "two")
    assert contents(folder) == both("one") | {name: "mine"}


def test_a_file_or_a_link_in_the_place_is_refused(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x", encoding="utf-8")
    put(tmp_path / "plan", "one")
    (tmp_path / "link").symlink_to(tmp_path / "plan")
    for name in ("file", "link"):
        with pytest.raises(OutputFailed, match="is not a folder"):
            check_target(tmp_path / name, KNOWN)
        with pytest.raises(OutputFailed, match="is not a folder"):
            put(tmp_path / name, "two")
    assert contents(tmp_path / "plan") == both("one")


def test_an_empty_folder_is_taken(tmp_path: Path) -> None:
    (tmp_path / "plan").mkdir()
    put(tmp_path / "plan", "one")
    assert contents(tmp_path / "plan") == both("one")


def test_a_second_run_into_the_same_folder_is_refused_at_once(tmp_path: Path) -> None:
    put(tmp_path / "plan", "zero")
    with staged(tmp_path / "plan", KNOWN) as new:
        (new / "plan.json").write_text("one", encoding="utf-8")
        with pytest.raises(OutputFailed, match="Another run"):
            put(tmp_path / "plan", "two")
        put(tmp_path / "other", "three")
    assert contents(tmp_path / "plan") == {"plan.json": "one"}


KILLED = """
import sys, time
from pathlib import Path
from zoning.outputs import publish
folder, moment = Path(sys.argv[1]), sys.argv[2]
def stop(*_):
    print("ready", flush=True)
    time.sleep(60)
if moment != "writing":
    publish._exchanged = lambda *_: False
    rename = Path.rename
    Path.rename = lambda self, to: stop() if "new" in self.name else rename(self, to)
with publish.staged(folder, {"plan.json", "zones.csv"}) as new:
    (new / "zones.csv").write_text("half")
    if moment == "writing":
        stop()
    (new / "plan.json").write_text("half")
"""


@pytest.mark.parametrize("moment", ["writing", "between two renames"])
def test_what_a_killed_run_left_is_swept_and_the_old_plan_comes_back(
    tmp_path: Path, moment: str
) -> None:
    put(tmp_path / "plan", "one")
    script = tmp_path / "killed.py"
    script.write_text(textwrap.dedent(KILLED), encoding="utf-8")
    run = subprocess.Popen(
        [sys.executable, str(script), str(tmp_path / "plan"), moment], stdout=subprocess.PIPE
    )
    try:
        assert run.stdout is not None
        assert run.stdout.readline() == b"ready\n"
    finally:
        run.send_signal(signal.SIGKILL)
        run.wait()
        if run.stdout is not None:
            run.stdout.close()
    script.unlink()
    assert len(list(tmp_path.iterdir())) == 2
    with pytest.raises(OutputFailed):
        put(tmp_path / "plan", "two", OSError(28, "No space left on device"))
    assert contents(tmp_path / "plan") == both("one")
    assert [path.name for path in tmp_path.iterdir()] == ["plan"]


READER = """
import sys
from pathlib import Path
folder, seen = Path(sys.argv[1]), 0
print("ready", flush=True)
while not (folder.parent / "stop").exists():
    text = (folder / "plan.json").read_text()
    assert text in ("one", "two"), text
    seen += 1
print(seen)
"""


@pytest.mark.skipif(
    not sys.platform.startswith("linux"), reason="names are exchanged on Linux only"
)
def test_a_reader_always_finds_a_plan(tmp_path: Path) -> None:
    folder = tmp_path / "plan"
    put(folder, "one")
    run = subprocess.Popen(
        [sys.executable, "-c", READER, str(folder)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert run.stdout is not None
    assert run.stdout.readline() == "ready\n"
    for turn in range(40):
        put(folder, ("two", "one")[turn % 2])
        time.sleep(0.002)
    (tmp_path / "stop").touch()
    seen, faults = run.communicate(timeout=30)
    assert faults == ""
    assert int(seen) > 40


def test_a_target_that_cannot_be_looked_at_is_refused(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    for target in (tmp_path / "file" / "plan", tmp_path / ("x" * 300), tmp_path / "loop" / "plan"):
        (tmp_path / "loop").is_symlink() or (tmp_path / "loop").symlink_to(tmp_path / "loop")
        with pytest.raises(OutputFailed), staged(target, {"a"}):
            raise AssertionError("nothing can be written here")
