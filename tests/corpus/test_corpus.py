"""The corpus of broken and of odd input, read in this process.

The suite reads every second broken case; ``ZONING_CORPUS=all`` reads all of them, and
``make_corpus.py`` writes them out and runs the command on each.
"""

from __future__ import annotations

import os
import socket
from pathlib import Path

import pytest
from corpus import broken_archives, broken_books, broken_settings, broken_shapes, broken_tables, odd
from corpus.base import Case, Odd, write

import zoning
from zoning.errors import InputRefused
from zoning.readings import read_field
from zoning.workflow import verify_plan

BROKEN = [
    case
    for family in (broken_tables, broken_settings, broken_shapes, broken_archives, broken_books)
    for case in family.cases()
]
ODD = list(odd.cases())
STEP = 1 if os.environ.get("ZONING_CORPUS") == "all" else 2
PLANNED = (
    "station '=HYPERLINK(1)'",
    "settings: a name with script",
    "boundary: an island in a hole",
    "hazards: nothing known of the drain",
)


def test_the_corpus_is_as_large_as_promised() -> None:
    assert len({case.name for case in BROKEN}) == len(BROKEN) >= 400
    assert len({case.name for case in ODD}) == len(ODD) >= 60


@pytest.fixture(autouse=True)
def _no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    """Fail a case that opens a connection from Python."""

    def refuse(*_: object) -> None:
        raise AssertionError("a connection was opened")

    monkeypatch.setattr(socket.socket, "connect", refuse)


def names(folder: Path) -> list[tuple[str, int]]:
    return sorted((path.name, path.lstat().st_mtime_ns) for path in folder.iterdir())


@pytest.mark.parametrize("case", BROKEN[::STEP], ids=lambda case: case.name)
def test_broken_input_is_refused_with_file_reason_and_remedy(tmp_path: Path, case: Case) -> None:
    folder = write(tmp_path / "field", case.files)
    before = names(folder)
    with pytest.raises(InputRefused) as caught:
        read_field(folder)
    faults = caught.value.faults
    assert not case.file or case.file in {fault.file for fault in faults}
    assert case.row is None or case.row in {fault.row for fault in faults}
    assert all(fault.what and fault.remedy for fault in faults)
    assert all(len(str(fault)) <= 600 for fault in faults)
    assert all(c.isprintable() or c == "\n" for c in str(caught.value))
    assert names(folder) == before


@pytest.mark.parametrize("case", ODD, ids=lambda case: case.name)
def test_odd_input_is_read_and_told(tmp_path: Path, case: Odd) -> None:
    inputs = read_field(write(tmp_path / "field", case.files))
    assert inputs.boundary.area > 500
    if case.code:
        assert case.code in {notice.code for notice in inputs.notices}


@pytest.mark.parametrize("name", PLANNED)
def test_odd_input_gives_a_plan_that_verifies(tmp_path: Path, name: str) -> None:
    case = next(each for each in ODD if each.name == name)
    folder = write(tmp_path / "field", case.files)
    zoning.write_plan(zoning.make_plan(read_field(folder)), tmp_path / "plan")
    assert verify_plan(tmp_path / "plan", folder).faults == ()
