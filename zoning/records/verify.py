"""Is the file what was kept, and whole? Structure, hash of every row, no row or pit missing."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import closing
from pathlib import Path
from typing import Any

from zoning.errors import Fault, InputRefused
from zoning.records.entries import BODIES, Body, Check, CheckRow, Pit
from zoning.records.file import NAME, connect, damaged, told_plainly
from zoning.records.layout import APPLICATION_ID, columns, lay_out, shape_of
from zoning.records.rules import rule
from zoning.records.store import Entry, Record, entry_of, next_head, row_hash


def check_record(path: Path) -> None:
    """Refuse a file that is damaged, was changed by another program or is of a newer version.

    Raises
    ------
    InputRefused
        With what is wrong and the way out.
    """
    with told_plainly(), closing(connect(path)) as store:
        store.execute("BEGIN")  # one moment of the file, whoever else is writing
        _check_kind(store)
        _check_structure(store)
        for kind in BODIES:
            _check_rows(store, kind)


def pits_not_held(record: Record) -> list[tuple[Entry[Check], tuple[str, ...]]]:
    """Return the checks that name pits which the record holds under no name they ever had.

    A pit that a check judged is one of its season, or was dug on its day in another.
    """
    held: set[tuple[str, object]] = set()
    for pit in (entry.body for entry in record.everything(Pit) if entry.body.phase == "after"):
        held |= {(pit.pit, pit.season), (pit.pit, pit.date)}
    lacking: dict[str, list[str]] = {}
    for row in (entry.body for entry in record.latest(CheckRow, about="pit")):
        date = json.loads(row.facts).get("date") or row.season
        if not {(row.name, row.season), (row.name, date)} & held:
            lacking.setdefault(row.check_id, []).append(row.name)
    checks = record.latest(Check)
    return [(c, tuple(lacking[c.record_id])) for c in checks if c.record_id in lacking]


def rescued(folder: Path) -> Mapping[type[Body], list[Entry[Any]]]:
    """Return every row of a record that still reads and whose hash fits, whatever else is wrong."""
    found: dict[type[Body], list[Entry[Any]]] = {}
    with told_plainly(), closing(_connect_to_rescue(folder / NAME)) as store:
        for kind in BODIES:
            found[kind] = []
            try:
                found[kind].extend(entry for entry in _rows(store, kind) if _sound(kind, entry))
            except sqlite3.Error:
                found[kind].extend(_one_by_one(store, kind, found[kind]))
    return found


def _connect_to_rescue(path: Path) -> sqlite3.Connection:
    """Return a read-only connection that goes on past damaged parts of the layout."""
    store = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True, isolation_level=None)
    store.execute("PRAGMA writable_schema=ON")
    return store


def _check_kind(store: sqlite3.Connection) -> None:
    (application,) = store.execute("PRAGMA application_id").fetchone()
    tables = {name for (name,) in store.execute("SELECT name FROM sqlite_master")}
    if application != APPLICATION_ID or "zoning_record" not in tables:
        raise InputRefused(
            [
                Fault(
                    NAME,
                    "This file is no season record.",
                    "Move it out of the field folder; a new record is then begun.",
                )
            ]
        )
    (version,) = store.execute("SELECT format_version FROM zoning_record").fetchone()
    if version > rule("format_version"):
        raise InputRefused(
            [
                Fault(
                    NAME,
                    f"The season record has layout {version}; this program knows "
                    f"{rule('format_version'):g}.",
                    "Update the program; the record is left as it is. With the newer program "
                    "'zoning records export' writes it as CSV.",
                )
            ]
        )


def _check_structure(store: sqlite3.Connection) -> None:
    answer = store.execute("PRAGMA quick_check(1)").fetchone()
    if answer != ("ok",):
        raise damaged(" ".join(str(answer[0]).split()).rstrip("."))
    wanted, found = _expected(), _definitions(store)
    for name, text in wanted.items():
        if found.get(name) != text:
            raise damaged(f"its {name} was changed or is gone")
    own = {kind.TABLE for kind in BODIES}
    query = "SELECT name, tbl_name FROM sqlite_master WHERE type = 'trigger'"
    strange = [name for name, table in store.execute(query) if table in own and name not in wanted]
    if strange:
        raise damaged(f"another program added the trigger {strange[0]}")


def _definitions(store: sqlite3.Connection) -> dict[str, str]:
    return dict(store.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL"))


def _expected() -> dict[str, str]:
    """Return our own tables, views and triggers as SQLite spells them."""
    with closing(sqlite3.connect(":memory:")) as empty:
        lay_out(empty, "", "")
        every = _definitions(empty)
    return {name: sql for name, sql in every.items() if not name.startswith(("gpkg", "sqlite"))}


def _rows(store: sqlite3.Connection, kind: type[Body]) -> Iterator[Entry[Any]]:
    names = ", ".join(("fid", *columns(kind), "row_hash"))
    for row in store.execute(f"SELECT {names} FROM {kind.TABLE} ORDER BY fid"):  # noqa: S608
        yield entry_of(kind, row)


def _one_by_one(
    store: sqlite3.Connection, kind: type[Body], known: list[Entry[Any]]
) -> Iterator[Entry[Any]]:
    """Yield sound rows past a damaged page, each looked up by its number."""
    names = ", ".join(("fid", *columns(kind), "row_hash"))
    first = known[-1].sequence + 1 if known else 1
    missed = 0
    for fid in range(first, first + 1_000_000):
        try:
            row = store.execute(
                f"SELECT {names} FROM {kind.TABLE} WHERE fid = ?",  # noqa: S608
                (fid,),
            ).fetchone()
        except sqlite3.Error:
            row = None
        missed = 0 if row is not None else missed + 1
        if row is not None and _sound(kind, entry_of(kind, row)):
            yield entry_of(kind, row)
        if missed > 1_000:
            return


def _sound(kind: type[Body], entry: Entry[Any]) -> bool:
    values = [getattr(entry, name) for name in columns(kind)[:7]]
    said = [getattr(entry.body, name) for name in columns(kind)[7:]]
    try:
        return row_hash(kind, [*values, *said]) == entry.row_hash
    except (TypeError, ValueError):
        return False


def _check_rows(store: sqlite3.Connection, kind: type[Body]) -> None:
    head, entries = "", 0
    for entry in _rows(store, kind):
        if not _sound(kind, entry):
            raise damaged(f"row {entry.sequence} of {kind.TABLE} is not as it was kept")
        head, entries = next_head(head, entry.row_hash), entries + 1
    wanted = store.execute(
        "SELECT entries, head FROM zoning_heads WHERE table_name = ?", (kind.TABLE,)
    ).fetchone()
    if wanted != (entries, head):
        kept = wanted[0] if wanted else 0
        raise damaged(f"{kind.TABLE} holds {entries} rows where {kept} were kept, or other rows")
    if kind.SHAPE:
        _check_places(store, kind)


def _check_places(store: sqlite3.Connection, kind: type[Body]) -> None:
    query = f"SELECT fid, geom FROM {kind.TABLE} ORDER BY fid"  # noqa: S608
    for entry, (fid, shape) in zip(_rows(store, kind), store.execute(query), strict=True):
        if shape_of(entry.body) != shape:
            raise damaged(f"row {fid} of {kind.TABLE} is drawn elsewhere than it was kept")
