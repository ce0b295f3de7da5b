"""Beginning, opening and copying the season record of a field folder."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Mapping
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

from zoning.contracts import program_version
from zoning.errors import OutputFailed
from zoning.records.entries import BODIES, Body
from zoning.records.file import NAME, connect, told_plainly
from zoning.records.layout import APPLICATION_ID, GEOPACKAGE_VERSION, lay_out
from zoning.records.store import Entry, Record, new_id, utc_now
from zoning.records.verify import check_record


def open_record(folder: Path, *, begin: bool = True) -> Record:
    """Open the season record of a field folder, checked row by row; begin one where there is none.

    Parameters
    ----------
    folder
        The field folder.
    begin
        False: a folder without a record is refused.

    Raises
    ------
    InputRefused
        If the file is damaged, foreign or of a newer version; the file is left as it is.
    OutputFailed
        If it cannot be begun or opened.
    """
    path = folder / NAME
    if not path.exists():
        if not begin:
            raise OutputFailed(
                f"{folder} has no season record yet. 'zoning plan' and 'zoning review' begin one."
            )
        _begin(path)
    check_record(path)
    return Record(path)


def held_record(folder: Path) -> Record | None:
    """Open the season record of a field folder; ``None`` where it has none.

    Raises
    ------
    InputRefused
        If the file is damaged, foreign or of a newer version.
    """
    return open_record(folder) if (folder / NAME).exists() else None


def everything(folder: Path) -> Mapping[type[Body], list[Entry[Any]]]:
    """Return every entry of every table of a field folder's record, checked row by row."""
    record = open_record(folder, begin=False)
    return {kind: record.everything(kind) for kind in BODIES}


def copy_record(record: Record, target: Path) -> None:
    """Write a whole, quiet copy of the record to a path that does not exist yet."""
    with told_plainly(), closing(connect(record.path)) as store:
        store.execute("VACUUM INTO ?", (str(target),))


def _begin(path: Path) -> None:
    """Lay out an empty record beside `path` and link it in; who comes second uses the first's."""
    new = path.with_name(f".{path.name}.{new_id()}.new")
    try:
        with told_plainly(), closing(sqlite3.connect(new, isolation_level=None)) as store:
            store.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            store.execute(f"PRAGMA user_version = {GEOPACKAGE_VERSION}")
            store.execute("PRAGMA synchronous = EXTRA")
            store.execute("BEGIN IMMEDIATE")
            lay_out(store, f"zoning {program_version()}", utc_now())
            store.execute("COMMIT")
        _link(new, path)
    except OSError as fault:
        raise OutputFailed(f"{path} could not be begun: {fault.strerror or fault}.") from fault
    except OutputFailed as fault:
        raise OutputFailed(
            f"{path} could not be begun. Check that the folder may be written and the disk is not "
            f"full. ({fault})"
        ) from fault
    finally:
        with suppress(OSError):
            new.unlink(missing_ok=True)


def _link(new: Path, path: Path) -> None:
    try:
        os.link(new, path)
    except FileExistsError:
        return
    except OSError:  # a file system without links
        if not path.exists():
            new.rename(path)
