"""Saving and reading entries: each save is one transaction, an entry once kept is never changed.

A record (a pit, a photo ...) has one `record_id` and versions from 1. A save says on which version
it is based; if another was saved meanwhile it is refused with both, and nothing is lost. A save
also carries a `row_id` made by whoever fills in the form, so that the same form sent twice gives
one entry.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
import threading
import uuid
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Generic, TypeVar

from zoning.errors import Fault, InputRefused, ZoningError
from zoning.records.entries import Body, body_columns, faults_of
from zoning.records.file import NAME, connect, tidy, told_plainly
from zoning.records.layout import columns, now, shape_of

B = TypeVar("B", bound=Body)


@dataclass(frozen=True, slots=True)
class Entry(Generic[B]):
    """One version of one record as it is kept."""

    sequence: int
    row_id: str
    record_id: str
    version: int
    recorded_at: str
    by_whom: str
    origin: str
    why: str
    row_hash: str
    body: B


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft(Generic[B]):
    """What is to be saved.

    Parameters
    ----------
    body
        What the entry says.
    row_id
        Made once for each filled-in form: the same one again is the same save.
    record_id
        The record it belongs to; `row_id` for a new record.
    based_on
        Version that was looked at when it was written; 0 for a new record.
    origin
        ``page``, ``file``, ``plan`` or ``check``.
    by_whom, why
        Who saved it, and the reason, where given.
    recorded_at
        Time, UTC; the time of saving where not given.
    """

    body: B
    row_id: str
    record_id: str
    based_on: int
    origin: str
    by_whom: str = ""
    why: str = ""
    recorded_at: str = ""


class Conflict(ZoningError):
    """Somebody saved another version first; `current` is theirs, `draft` is what was not saved."""

    def __init__(self, current: Entry[Any], draft: Draft[Any]) -> None:
        self.current, self.draft = current, draft
        super().__init__(
            f"Version {current.version} was saved at {current.recorded_at} while this was written."
        )


class NameTaken(ZoningError):
    """Another record of the same season and phase has this name."""

    def __init__(self, key: Sequence[object], other: str) -> None:
        self.key, self.other = tuple(key), other
        super().__init__(f"There is another one named {self.key[-1]} already. Give another name.")


def new_id() -> str:
    """Return a new identifier, 32 hexadecimal digits."""
    return uuid.uuid4().hex


def utc_now() -> str:
    """Return the time as it stands in entries: UTC, ISO 8601, milliseconds."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def row_hash(kind: type[Body], values: Sequence[object]) -> str:
    """Return the hash of a row: SHA-256 of its table and its `layout.columns` as JSON."""
    text = json.dumps([kind.TABLE, *values], ensure_ascii=False, allow_nan=False)
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def next_head(head: str, hashed: str) -> str:
    """Return the head of a table after one more row: each depends on all rows before it."""
    return hashlib.sha256(f"{head}{hashed}".encode()).hexdigest()


class Record:
    """A season record that was opened and found sound; safe to use from several threads.

    Use `zoning.records.open_record`.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._saving = threading.Lock()

    def save(self, draft: Draft[B]) -> Entry[B]:
        """Keep one draft; see `save_all`."""
        return self.save_all([draft])[0]

    def save_all(self, drafts: Sequence[Draft[B]]) -> list[Entry[B]]:
        """Keep all drafts or none, on the disk when this returns.

        A draft whose `row_id` is kept already with the same content is not kept again.

        Raises
        ------
        InputRefused
            If a value is outside its limits.
        Conflict
            If a record has another version than the draft was based on, or the `row_id` stands
            for something else.
        NameTaken
            If another record has the same key.
        OutputFailed
            If the file cannot be written; nothing is saved.
        """
        for draft in drafts:
            _refuse_faults(draft.body)
        with self.adding() as store:
            return [_kept(store, draft) for draft in drafts]

    def latest(self, kind: type[B], **where: object) -> list[Entry[B]]:
        """Return the latest version of each record whose columns equal `where`, oldest first."""
        return self._read(kind, now(kind), where)

    def trail(self, kind: type[B], record_id: str) -> list[Entry[B]]:
        """Return every version of one record, oldest first."""
        return self._read(kind, kind.TABLE, {"record_id": record_id})

    def everything(self, kind: type[B]) -> list[Entry[B]]:
        """Return every entry of a table in the order it was kept."""
        return self._read(kind, kind.TABLE, {})

    def _read(self, kind: type[B], table: str, where: dict[str, object]) -> list[Entry[B]]:
        allowed = {*columns(kind), "fid"}
        if not set(where) <= allowed:
            raise ValueError(f"{table} has no column {min(set(where) - allowed)}")
        told = " AND ".join(f"{name} = ?" for name in where) or "1"
        query = f"SELECT {_selected(kind)} FROM {table} WHERE {told} ORDER BY fid"  # noqa: S608
        with told_plainly(), closing(connect(self.path)) as store:
            return [
                entry_of(kind, row) for row in store.execute(query, list(where.values())).fetchall()
            ]

    @contextmanager
    def adding(self) -> Iterator[sqlite3.Connection]:
        """Yield a connection inside a transaction that is kept unless the block fails."""
        with self._saving, told_plainly(), closing(connect(self.path)) as store:
            store.execute("BEGIN IMMEDIATE")
            try:
                yield store
                store.execute("COMMIT")
            finally:
                if store.in_transaction:
                    store.execute("ROLLBACK")
                tidy(store)


def _refuse_faults(body: Body) -> None:
    faults = [
        Fault(NAME, what, "Mend it and save again.", column=name) for name, what in faults_of(body)
    ]
    if faults:
        raise InputRefused(faults)


def _no_such_entry() -> InputRefused:
    what = "The entry that was corrected is not in this record."
    return InputRefused([Fault(NAME, what, "Open the list of pits and look for it again.")])


def _selected(kind: type[Body]) -> str:
    return ", ".join(("fid", *columns(kind), "row_hash"))


def entry_of(kind: type[B], row: Sequence[Any]) -> Entry[B]:
    """Return the entry of a row of ``fid``, `layout.columns` and ``row_hash``."""
    fid, row_id, record_id, version, recorded_at, by_whom, origin, why, *said, hashed = row
    names = [column.name for column in body_columns(kind)]
    body = kind(**dict(zip(names, said, strict=True)))
    return Entry(fid, row_id, record_id, version, recorded_at, by_whom, origin, why, hashed, body)


def _kept(store: sqlite3.Connection, draft: Draft[B]) -> Entry[B]:
    kind = type(draft.body)
    query = f"SELECT {_selected(kind)} FROM {kind.TABLE} WHERE "  # noqa: S608
    same = store.execute(query + "row_id = ?", (draft.row_id,)).fetchone()
    if same is not None:
        entry = entry_of(kind, same)
        if entry.body != draft.body or entry.record_id != draft.record_id:
            raise Conflict(entry, draft)
        return entry
    last = store.execute(
        query + "record_id = ? ORDER BY version DESC LIMIT 1", (draft.record_id,)
    ).fetchone()
    version = 0 if last is None else entry_of(kind, last).version
    if version != draft.based_on:
        if last is None:
            raise _no_such_entry()
        raise Conflict(entry_of(kind, last), draft)
    _refuse_taken(store, draft)
    return insert(store, draft, version + 1)


def _refuse_taken(store: sqlite3.Connection, draft: Draft[B]) -> None:
    kind = type(draft.body)
    withdrawn: str = getattr(draft.body, "withdrawn", "")
    if not kind.KEY or withdrawn:
        return
    key: list[object] = [getattr(draft.body, name) for name in kind.KEY]
    told = " AND ".join(f"{name} = ?" for name in kind.KEY)
    standing = " AND withdrawn = ''" if hasattr(draft.body, "withdrawn") else ""
    query = f"SELECT record_id FROM {now(kind)} WHERE {told} AND record_id <> ?{standing}"  # noqa: S608
    other = store.execute(query, [*key, draft.record_id]).fetchone()
    if other is not None:
        raise NameTaken(key, other[0])


def insert(store: sqlite3.Connection, draft: Draft[B], version: int) -> Entry[B]:
    """Add one row and move the head of its table; the caller holds the transaction."""
    kind = type(draft.body)
    names = columns(kind)
    stamp = (
        draft.row_id, draft.record_id, version, draft.recorded_at or utc_now(), draft.by_whom,
        draft.origin, draft.why,
    )  # fmt: skip
    said = [_plain(getattr(draft.body, column.name), column.kind) for column in body_columns(kind)]
    hashed = row_hash(kind, [*stamp, *said])
    places = {"geom": shape_of(draft.body)} if kind.SHAPE else {}
    every = (*names, "row_hash", *places)
    marks = ", ".join("?" * len(every))
    done = store.execute(
        f"INSERT INTO {kind.TABLE} ({', '.join(every)}) VALUES ({marks})",  # noqa: S608
        [*stamp, *said, hashed, *places.values()],
    )
    (head,) = store.execute(
        "SELECT head FROM zoning_heads WHERE table_name = ?", (kind.TABLE,)
    ).fetchone()
    store.execute(
        "UPDATE zoning_heads SET entries = entries + 1, head = ? WHERE table_name = ?",
        (next_head(head, hashed), kind.TABLE),
    )
    return entry_of(kind, [done.lastrowid, *stamp, *said, hashed])


def _plain(value: object, kind: type) -> object:
    return float(value) if kind is float and isinstance(value, (int, float)) else value
