"""Open CSV: RFC 4180 with CRLF line ends, UTF-8 without a byte order mark, decimal points.

Numbers have a fixed number of decimals and no exponent. A text cell that begins with ``=``, ``+``,
``-``, ``@``, a tab or a line end is written with an apostrophe before it, because a spreadsheet
would take it for a formula (CWE-1236); number cells are only ever numbers.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from pathlib import Path

import pandas as pd

from zoning.errors import OutputFailed
from zoning.outputs.columns import Column, TableSchema
from zoning.outputs.plain import write_text

_TRIGGERS = ("=", "+", "-", "@", "\t", "\r", "\n")


def guarded(text: str) -> str:
    """Return `text` with an apostrophe before it where a spreadsheet would see a formula."""
    return f"'{text}" if text.startswith(_TRIGGERS) else text


def unguarded(text: str) -> str:
    """Return `text` without the apostrophe that `guarded` put before it."""
    return text[1:] if text.startswith("'") and text[1:].startswith(_TRIGGERS) else text


def write_table(frame: pd.DataFrame, schema: TableSchema, path: Path) -> None:
    """Write `frame`, columns in the order of `schema`, to `path`."""
    columns = schema.among(set(frame.columns))
    cells = [_cells(frame[column.name].tolist(), column) for column in columns]
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow([column.name for column in columns])
    writer.writerows(zip(*cells, strict=True))
    write_text(path, stream.getvalue())


def check_table(frame: pd.DataFrame, schema: TableSchema, path: Path) -> None:
    """Read the table at `path` back and compare it with `frame`, cell by cell.

    Raises
    ------
    OutputFailed
        If a row, a text or a number differs by more than half its last decimal.
    """
    columns = schema.among(set(frame.columns))
    with path.open(encoding="utf-8", newline="") as stream:
        header, *lines = csv.reader(stream, strict=True)
    if header != [column.name for column in columns] or len(lines) != len(frame):
        raise OutputFailed(f"{path.name} did not read back with the rows that were written.")
    for number, column in enumerate(columns):
        wanted = frame[column.name].tolist()
        for line, value in zip(lines, wanted, strict=True):
            if not same_cell(line[number], value, column):
                raise OutputFailed(
                    f"{path.name}: {column.name} reads {line[number]!r}, written was {value!r}."
                )


def _cells(values: Sequence[object], column: Column) -> list[str]:
    return [_cell(value, column) for value in values]


def _cell(value: object, column: Column) -> str:
    if value is None or value is pd.NA or value != value:  # noqa: PLR0124 - NaN differs from itself
        return _blank(column)
    if column.kind == "string":
        return guarded(str(value))
    number = float(value)  # type: ignore[arg-type]
    if not math.isfinite(number):
        raise OutputFailed(f"{column.name} is {number}, which no table can hold.")
    return f"{round(number, column.decimals) + 0.0:.{column.decimals}f}"


def _blank(column: Column) -> str:
    if not column.blank:
        raise OutputFailed(f"{column.name} is not known in every row, but must be.")
    return ""


def same_cell(text: str, value: object, column: Column) -> bool:
    """Return whether a cell says `value`, a number to half its last decimal."""
    if column.kind == "string" or text == "":
        known = "" if value is None or value is pd.NA or value != value else value  # noqa: PLR0124
        return unguarded(text) == str(known)
    half = 0.5000001 * 10.0**-column.decimals
    return abs(float(text) - float(value)) <= half  # type: ignore[arg-type]
