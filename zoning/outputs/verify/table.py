"""A table of a plan as a spreadsheet or a mail may have left it, compared cell by cell."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from zoning.contracts import constant
from zoning.errors import Fault
from zoning.outputs.columns import Column, TableSchema, table_schema
from zoning.outputs.tables import same_cell, unguarded
from zoning.outputs.verify.files import AS_PLANNED, fault

TABLES = ("depth_grid.csv", "depth_passes.csv", "depth_zones.csv", "readings_used.csv")
"""Tables of a plan; the name of each is that of its schema."""
_SEPARATORS = {",": "", ";": "semicolons between the cells", "\t": "tabs between the cells"}
_DECIMAL_COMMA = re.compile(r"-?\d+,\d+")
_UTF_16 = (b"\xff\xfe", b"\xfe\xff")
_SHOWN = 40


@dataclass(frozen=True, slots=True)
class TableRead:
    """A table as read.

    Parameters
    ----------
    header, lines
        Cells as text, decimal commas of numbers turned into points.
    manner
        How it is written other than a plan writes it, in words; empty where nothing strikes.
    """

    header: Sequence[str]
    lines: Sequence[Sequence[str]]
    manner: tuple[str, ...]


def read_table(path: Path, schema: TableSchema) -> TableRead:
    """Return a CSV file, whatever separator, decimal mark and encoding it was saved with.

    Raises
    ------
    ValueError
        If it is no CSV, with the line where that shows.
    """
    text, encoding = _decoded(path.read_bytes())
    heading = text.partition("\n")[0]
    separator = max(_SEPARATORS, key=heading.count)  # the comma where none is there
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    try:
        rows = list(reader)
    except csv.Error as error:
        raise ValueError(f"line {reader.line_num}: {error}") from error
    header, *lines = rows
    while lines and not any(lines[-1]):
        lines.pop()
    pointed = _with_points(header, lines, schema)
    commas = "decimal commas" if pointed != lines else ""
    known = [column.name for column in schema.columns if column.name in header]
    order = (
        "columns in another order" if known != [each for each in header if each in known] else ""
    )
    told = (_SEPARATORS[separator], commas, order, encoding)
    return TableRead(header, pointed, tuple(words for words in told if words))


def manner_of(name: str, path: Path) -> tuple[str, ...]:
    """Return how the table at `path`, like `name`, is written other than a plan writes it."""
    return read_table(path, _schema(name)).manner


def table_like(path: Path) -> str:
    """Return the table of a plan that has most headings of a file; blank where none has them."""
    found = set(read_table(path, _schema(TABLES[0])).header)
    held = {name: {column.name for column in _schema(name).columns} for name in TABLES}
    shared = {name: len(found & names) for name, names in held.items()}
    best = max(shared, key=lambda name: shared[name])
    least = constant("verify_rules", "headings_alike_least")
    return best if shared[best] > least * len(found) else ""


def _schema(name: str) -> TableSchema:
    return table_schema(Path(name).stem)


def _decoded(data: bytes) -> tuple[str, str]:
    """Return a text and the name of its encoding where it is not UTF-8."""
    if data.startswith(_UTF_16):
        return data.decode("utf-16"), "encoded as UTF-16"
    try:
        return data.decode("utf-8-sig"), ""
    except UnicodeDecodeError:
        return data.decode("cp1252"), "encoded as Windows-1252"


def _with_points(
    header: Sequence[str], lines: list[list[str]], schema: TableSchema
) -> list[list[str]]:
    numbers = {column.name for column in schema.columns if column.kind != "string"}
    at = {place for place, name in enumerate(header) if name in numbers}
    return [
        [
            cell.replace(",", ".") if place in at and _DECIMAL_COMMA.fullmatch(cell) else cell
            for place, cell in enumerate(line)
        ]
        for line in lines
    ]


def numbers_of(table: TableRead, names: Sequence[str]) -> pd.DataFrame:
    """Return columns of a table as numbers, NaN where a cell holds none or the table lacks it."""
    lines = [dict(zip(table.header, line, strict=False)) for line in table.lines]
    texts = pd.DataFrame(lines, columns=list(names))
    return pd.DataFrame({name: pd.to_numeric(texts[name], errors="coerce") for name in names})


def plan_in_rows(name: str, path: Path) -> str:
    """Return the number of the plan that every row of the table `name` gives; blank without one."""
    table = read_table(path, _schema(name))
    if "plan_id" not in table.header:
        return ""
    at = table.header.index("plan_id")
    numbers = {line[at] for line in table.lines if len(line) > at}
    return numbers.pop() if len(numbers) == 1 else ""


def layout_faults(
    file: str, table: TableRead, schema: TableSchema, needed: set[str], rows: int
) -> Iterator[Fault]:
    """Say which columns are missing or foreign, which rows are too short or too many.

    Parameters
    ----------
    file
        Name of the file.
    table, schema
        The table and what it should be.
    needed
        Columns that must be there.
    rows
        How many rows belong there.
    """
    known = {column.name for column in schema.columns}
    absent = sorted(needed - set(table.header))
    if absent:
        shown = ", ".join(table.header)[:_SHOWN]
        yield fault(file, f"Columns are missing: {', '.join(absent)}. The heading reads: {shown}.")
    foreign = sorted(set(table.header) - known)
    if foreign:
        yield fault(file, f"These columns do not belong there: {', '.join(foreign)[:_SHOWN]}.")
    if len(table.lines) != rows:
        yield fault(file, f"The file has {len(table.lines)} rows where {rows} belong.")
    for number, line in enumerate(table.lines, start=2):
        if len(line) != len(table.header):
            what = f"The row has {len(line)} cells where {len(table.header)} belong."
            yield fault(file, what, number)


def cell_differences(
    file: str, table: TableRead, wanted: pd.DataFrame, schema: TableSchema
) -> Iterator[Fault]:
    """Say where a CSV file differs from rows computed again, cell by cell.

    Rows in another order are compared with those of the same key, and told to be so.

    Parameters
    ----------
    file
        Name of the file.
    table
        As `read_table` returns it.
    wanted
        The rows as they should be; columns that it lacks are not compared.
    schema
        Row schema of the table.
    """
    columns = schema.among(set(wanted.columns))
    needed = {column.name for column in columns}
    told = list(layout_faults(file, table, schema, needed, len(wanted)))
    yield from told
    if told:
        return
    places = places_of(table, wanted, schema)
    told = list(_unlike_cells(file, table, wanted, columns, places))
    if places != sorted(places):
        keys = ", ".join(schema.key)
        manner = ", ".join([*table.manner, "rows in another order"])
        other = f"The rows stand in another order; each is compared with that of its {keys}."
        yield fault(file, other if told else f"{AS_PLANNED} ({manner}).")
    yield from told


def places_of(table: TableRead, wanted: pd.DataFrame, schema: TableSchema) -> list[int]:
    """Return in which line of a table each row of `wanted` stands, from 0, by its key.

    Without a key all cells count. Where the keys of the two are not the same, or tell no rows
    apart, the rows are taken in the order of the file.
    """
    columns = schema.among(set(schema.key or wanted.columns))
    at = [table.header.index(column.name) for column in columns]
    found = {_key([line[place] for place in at], columns): n for n, line in enumerate(table.lines)}
    rows = wanted[[column.name for column in columns]].itertuples(index=False)
    keys = [_key([*map(_as_text, row)], columns) for row in rows]
    alike = len(found) == len(table.lines) and found.keys() == set(keys)
    return [found[key] for key in keys] if alike else list(range(len(table.lines)))


def _key(texts: Sequence[str], columns: Sequence[Column]) -> tuple[str, ...]:
    return tuple(
        unguarded(text) if column.kind == "string" else _number_text(text, column)
        for text, column in zip(texts, columns, strict=True)
    )


def _as_text(value: object) -> str:
    return "" if value is None or value is pd.NA or value != value else str(value)  # noqa: PLR0124


def _number_text(text: str, column: Column) -> str:
    try:
        return f"{float(text):.{column.decimals}f}"
    except ValueError:
        return text


def _unlike_cells(
    file: str,
    table: TableRead,
    wanted: pd.DataFrame,
    columns: Sequence[Column],
    places: Sequence[int],
) -> Iterator[Fault]:
    """Yield what the first row reads otherwise, a column, and in how many more rows it differs."""
    for column in columns:
        at = table.header.index(column.name)
        values = zip(places, wanted[column.name].tolist(), strict=True)
        unlike = [one for one in values if not _same(table.lines[one[0]][at], one[1], column)]
        if unlike:
            place, value = min(unlike, key=lambda one: one[0])
            cell = table.lines[place][at][:_SHOWN]
            what = f"{column.name} reads {cell!r} where {_said(value, column)} belongs"
            yield fault(file, f"{what}{and_more(len(unlike), 'row')}.", place + 2)


def and_more(count: int, what: str) -> str:
    """Return that as many of `what` but the one that is told differ too; blank where none does."""
    return f", and {count - 1} more {what}{'s differ' if count > 2 else ' differs'}" * (count > 1)


def _same(text: str, value: object, column: Column) -> bool:
    try:
        return same_cell(text, value, column)
    except (TypeError, ValueError):  # text where a number belongs, a number where a blank does
        return False


def _said(value: object, column: Column) -> str:
    if value is None or value is pd.NA or value != value:  # noqa: PLR0124 - NaN differs from itself
        return "a blank"
    if column.kind == "string":
        return repr(str(value)[:_SHOWN])
    return f"{float(value):.{column.decimals}f}"  # type: ignore[arg-type]
