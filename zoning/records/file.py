"""The file itself: connections that keep what is acknowledged, and faults told with a remedy."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from zoning.errors import Fault, InputRefused, OutputFailed, ZoningError
from zoning.records.rules import rule

NAME = "records.gpkg"


def connect(path: Path) -> sqlite3.Connection:
    """Return a connection to an existing file, set so that a save is on the disk when it returns.

    The rollback journal is cut to nothing and flushed rather than deleted: a deletion that is not
    flushed can let a power cut undo the last save. `tidy` then deletes what is empty, so that at
    rest the record is one file, on a network drive too.
    """
    store = sqlite3.connect(
        f"{path.absolute().as_uri()}?mode=rw",
        uri=True,
        timeout=rule("wait_s"),
        isolation_level=None,
        check_same_thread=False,
    )
    try:
        for pragma in ("foreign_keys=ON", "synchronous=EXTRA", "trusted_schema=OFF",
                       "cell_size_check=ON"):  # fmt: skip
            store.execute(f"PRAGMA {pragma}")
        # A GIS that has the file open may have set it to write ahead, which is as durable.
        if store.execute("PRAGMA journal_mode").fetchone() != ("wal",):
            store.execute("PRAGMA journal_mode=TRUNCATE")
    except sqlite3.Error:
        store.close()
        raise
    return store


def tidy(store: sqlite3.Connection) -> None:
    """Delete the empty journal that a finished save leaves beside the record.

    SQLite does it under the lock of a writer and lets it be while another one is at work. Should
    a power cut bring the file back, it is empty still and undoes nothing.
    """
    with suppress(sqlite3.Error):
        if store.execute("PRAGMA journal_mode").fetchone() != ("wal",):
            store.execute("PRAGMA journal_mode=DELETE")


@contextmanager
def told_plainly() -> Iterator[None]:
    """Turn what SQLite says into a message with a remedy."""
    try:
        yield
    except sqlite3.Error as fault:
        raise _plainly(fault) from fault


def _plainly(fault: sqlite3.Error) -> ZoningError:
    text = " ".join(str(fault).split())
    if isinstance(fault, sqlite3.IntegrityError):
        return InputRefused([Fault(NAME, f"{text}.", "Nothing was saved.")])
    if isinstance(fault, sqlite3.OperationalError) and "decode" not in text:
        return OutputFailed(f"{NAME}: {_operational(text)}")
    return damaged(text[:80])


def damaged(what: str) -> InputRefused:
    """Return the refusal of a damaged file, with the way out."""
    return InputRefused(
        [
            Fault(
                NAME,
                f"The season record is damaged: {what}.",
                "Put back a sound copy; or run 'zoning records export FOLDER --rescue' to write "
                "every row that still reads as CSV, move the file aside and bring the rows back "
                "with 'zoning records import FOLDER ROWS'.",
            )
        ]
    )


def _operational(text: str) -> str:
    told = {
        "full": "the disk is full. Make room and save again; nothing was saved.",
        "readonly": "the file or its folder is read-only. Change its rights and save again; "
        "nothing was saved.",
        "unable to open": "the file cannot be opened. Check that it is there and its rights.",
        "locked": "another program is writing the record. Close it or wait, and save again; "
        "nothing was saved.",
        "disk I/O": "the disk reported an error. Check the disk; nothing was saved.",
        "no such table": "the file is no season record.",
    }
    for part, words in told.items():
        if part in text:
            return words
    return f"{text}; nothing was saved."
