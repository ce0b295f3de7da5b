"""Open CSV: RFC 4180 with CRLF line ends, UTF-8 without a byte order mark, decimal points.

Numbers have a fixed number of decimals, halves away from zero, and no exponent. A text cell that
begins with ``=``, ``+``, ``-``, ``@``, a tab or a line end is written with an apostrophe before it,
because a spreadsheet would take it for a formula (CWE-1236); number cells are only ever numbers.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pandas as pd

from zoning.errors import OutputFailed
from zoning.outputs.columns import Column, TableSchema
from zoning.outputs.plain import write_text
from zoning.units import off_half

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
    cells = [_cells(frame[column.name], column) for column in columns]
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
    read = zip(*lines, strict=True) if lines else [()] * len(columns)
    for column, texts in zip(columns, read, strict=True):
        _check_cells(texts, frame[column.name], column, path.name)


def _check_cells(texts: Sequence[str], wanted: pd.Series, column: Column, name: str) -> None:
    if _all_numbers(wanted, column) and "" not in texts:
        found = np.fromiter(map(float, texts), dtype=np.float64, count=len(texts))
        apart = np.abs(found - wanted.to_numpy(np.float64))
        differing = np.flatnonzero(~(apart <= _half(column))).tolist()
    else:
        values = wanted.tolist()
        differing = [i for i, text in enumerate(texts) if not same_cell(text, values[i], column)]
    for row in differing[:1]:
        raise OutputFailed(
            f"{name}: {column.name} reads {texts[row]!r}, written was {wanted.iloc[row]!r}."
        )


def _all_numbers(values: pd.Series, column: Column) -> bool:
    """Return whether `values` are floating-point numbers, every one of them known."""
    numbers = column.kind != "string" and values.dtype == np.float64
    return numbers and bool(np.isfinite(values).all())


def _cells(values: pd.Series, column: Column) -> list[str]:
    if _all_numbers(values, column):
        return _numbers(values.tolist(), column)
    return [_cell(value, column) for value in values.tolist()]


def _cell(value: object, column: Column) -> str:
    if value is None or value is pd.NA or value != value:  # noqa: PLR0124 - NaN differs from itself
        return _blank(column)
    if column.kind == "string":
        return guarded(str(value))
    number = float(value)  # type: ignore[arg-type]
    if not math.isfinite(number):
        raise OutputFailed(f"{column.name} is {number}, which no table can hold.")
    return _numbers([number], column)[0]


def _numbers(values: Sequence[float], column: Column) -> list[str]:
    form = f"%.{column.decimals}f"
    nought = form % 0.0
    minus = f"-{nought}"
    moved = off_half(np.array(values, dtype=np.float64), column.decimals)
    texts = [form % value for value in moved.tolist()]
    return [nought if text == minus else text for text in texts]


def _blank(column: Column) -> str:
    if not column.blank:
        raise OutputFailed(f"{column.name} is not known in every row, but must be.")
    return ""


def same_cell(text: str, value: object, column: Column) -> bool:
    """Return whether a cell says `value`, a number to half its last decimal."""
    if column.kind == "string" or text == "":
        known = "" if value is None or value is pd.NA or value != value else value  # noqa: PLR0124
        return unguarded(text) == str(known)
    return abs(float(text) - float(value)) <= _half(column)  # type: ignore[arg-type]


def _half(column: Column) -> float:
    return 0.5000001 * 10.0**-column.decimals
