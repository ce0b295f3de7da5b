"""The whole record as open CSV, and back: nothing is lost either way.

One file a table, every version, every column. A text that begins with ``= + - @ '``, a tab or a
line end gets an apostrophe before it, so that a spreadsheet takes it for no formula; reading takes
exactly that apostrophe off again. Numbers are written so that they read back as the same number.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from zoning.errors import Fault, InputRefused, OutputFailed
from zoning.records.entries import BODIES, Body, body_columns, faults_of
from zoning.records.layout import ORIGINS, STAMP, columns
from zoning.records.store import Draft, Entry, Record, entry_of, insert, row_hash

_TRIGGERS = ("=", "+", "-", "@", "'", "\t", "\r", "\n")
_CELL_MOST = 6_000_000


def table_text(kind: type[Body], entries: Sequence[Entry[Any]]) -> str:
    """Return entries of one table as CSV: RFC 4180, CRLF, in the order they were kept."""
    names = columns(kind)
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow([*names, "row_hash"])
    for entry in entries:
        values = [getattr(entry, name) for name in STAMP]
        values += [getattr(entry.body, name) for name in names[len(STAMP) :]]
        writer.writerow([*map(_cell, values), entry.row_hash])
    return stream.getvalue()


def export_folder(tables: Mapping[type[Body], Sequence[Entry[Any]]], folder: Path) -> list[Path]:
    """Write ``<table>.csv`` for each table into a new or empty folder and return the paths.

    Raises
    ------
    OutputFailed
        If the folder holds something or cannot be written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if any(folder.iterdir()):
            raise OutputFailed(f"{folder} holds other files. Name an empty or a new folder.")
        written = []
        for kind, entries in tables.items():
            path = folder / f"{kind.TABLE}.csv"
            data = table_text(kind, entries).encode("utf-8")
            path.write_bytes(data)
            if path.read_bytes() != data:
                raise OutputFailed(f"{path} did not read back as written.")
            written.append(path)
    except OSError as fault:
        raise OutputFailed(f"{folder} could not be written: {fault.strerror or fault}.") from fault
    return written


def import_folder(record: Record, folder: Path) -> int:
    """Add every row of the CSV files in `folder` that the record does not hold; return how many.

    All rows are added or none. A row that the record holds already is passed over.

    Raises
    ------
    InputRefused
        If a file does not fit, a row was changed since it was exported, or the record holds
        another entry of the same version.
    """
    drafts: list[tuple[Draft[Any], int]] = []
    for kind in BODIES:
        path = folder / f"{kind.TABLE}.csv"
        if path.is_file():
            drafts.extend(_drafts(kind, path))
    if not drafts:
        raise InputRefused(
            [Fault(str(folder), "No rows of a season record are here.", "Name the export folder.")]
        )
    with record.adding() as store:
        return sum(_added(store, draft, version) for draft, version in drafts)


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return repr(value)
    text = str(value)
    return f"'{text}" if isinstance(value, str) and text.startswith(_TRIGGERS) else text


def _drafts(kind: type[Body], path: Path) -> Iterator[tuple[Draft[Any], int]]:
    wanted = [*columns(kind), "row_hash"]
    csv.field_size_limit(_CELL_MOST)
    try:
        text = path.read_bytes().decode("utf-8-sig")
        reader = csv.reader(io.StringIO(text, newline=""), strict=True)
        header = next(reader, [])
        if header != wanted:
            raise _refused(path, 1, "The columns are not those of the record.")
        for cells in reader:
            yield _draft(kind, path, reader.line_num, cells)
    except (UnicodeDecodeError, csv.Error) as fault:
        raise _refused(path, None, f"The file does not read as CSV ({fault}).") from fault
    except OSError as fault:
        raise _refused(path, None, f"The file cannot be read ({fault.strerror}).") from fault


def _draft(kind: type[Body], path: Path, line: int, cells: Sequence[str]) -> tuple[Draft[Any], int]:
    names = columns(kind)
    if len(cells) != len(names) + 1:
        raise _refused(path, line, f"The row has {len(cells)} cells; {len(names) + 1} are needed.")
    kinds = {"version": int} | {column.name: column.kind for column in body_columns(kind)}
    try:
        values = [
            _value(cell, kinds.get(name, str)) for name, cell in zip(names, cells, strict=False)
        ]
    except ValueError as fault:
        raise _refused(path, line, f"A number does not read ({fault}).") from fault
    entry = entry_of(kind, [0, *values, cells[-1]])
    if row_hash(kind, values) != entry.row_hash:
        raise _refused(path, line, "The row was changed since it was exported.")
    if faults_of(entry.body) or entry.version < 1 or entry.origin not in ORIGINS:
        raise _refused(path, line, "A value is outside its limits.")
    draft = Draft(
        body=entry.body,
        row_id=entry.row_id,
        record_id=entry.record_id,
        based_on=entry.version - 1,
        origin=entry.origin,
        by_whom=entry.by_whom,
        why=entry.why,
        recorded_at=entry.recorded_at,
    )
    return draft, entry.version


def _value(cell: str, kind: type) -> object:
    if kind is str:
        return cell.removeprefix("'")
    if kind is int:
        return int(cell)
    return float(cell) if cell else None


def _refused(path: Path, line: int | None, what: str) -> InputRefused:
    remedy = "Export again; correct an entry on the review page, not in the CSV."
    return InputRefused([Fault(path.name, what, remedy, row=line)])


def _added(store: Any, draft: Draft[Any], version: int) -> int:
    kind = type(draft.body)
    names = ", ".join(("fid", *columns(kind), "row_hash"))
    found = store.execute(
        f"SELECT {names} FROM {kind.TABLE} WHERE row_id = ? OR (record_id = ? AND version = ?)",  # noqa: S608
        (draft.row_id, draft.record_id, version),
    ).fetchall()
    if not found:
        insert(store, draft, version)
        return 1
    entry = entry_of(kind, found[0])
    same = entry.body == draft.body and entry.row_id == draft.row_id and len(found) == 1
    if not same:
        raise InputRefused(
            [
                Fault(
                    f"{kind.TABLE}.csv",
                    f"The record holds another version {version} of {draft.record_id}.",
                    "Import into a field folder without a record, or leave this row out.",
                )
            ]
        )
    return 0
