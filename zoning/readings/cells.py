"""Cells of a text table turned into numbers, words and dates, every fault kept with its row."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Collection, Iterable, Sequence
from datetime import date

import numpy as np
from numpy.typing import NDArray

from zoning.errors import Fault
from zoning.model import Notice
from zoning.readings.rules import nearest, suggest
from zoning.readings.text_table import TextTable

Floats = NDArray[np.float64]
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)
_COMMA_NUMBER = re.compile(r"[+-]?\d*,\d+", re.ASCII)
_CONTROLS = re.compile(
    "[\\x00-\\x08\\x0b\\x0c\\x0e-\\x1f\\x7f-\\x9f\\u202a-\\u202e\\u2066-\\u2069]"
)
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)


class Cells:
    """The columns of one table, read one by one; faults gather in `faults`.

    Parameters
    ----------
    table
        The text of the file.
    numeric
        Headings of the columns that hold numbers: they settle whether the decimal mark is a comma,
        which is looked for only where the delimiter is not a comma.
    """

    def __init__(self, table: TextTable, numeric: Iterable[str]) -> None:
        self.table = table
        self.faults: list[Fault] = []
        self.decimal_comma = table.delimiter != "," and any(
            _COMMA_NUMBER.fullmatch(cell)
            for name in numeric
            for cell in set(table.columns.get(name, ()))
        )

    @property
    def notices(self) -> list[Notice]:
        """What was recognised about the file and must be told."""
        told = list(self.table.notices)
        if self.decimal_comma:
            told.append(
                Notice(
                    "note", "csv-decimal-comma", f"{self.table.file}: numbers have a decimal comma."
                )
            )
        return told

    def has(self, name: str) -> bool:
        """Whether the table has the column `name`."""
        return name in self.table.columns

    def raw(self, name: str) -> Sequence[str]:
        """Return the cells of `name` as text, blanks where the column is absent."""
        return self.table.columns.get(name, ("",) * len(self.table))

    def fault(self, index: int | None, column: str | None, what: str, remedy: str) -> None:
        """Keep one fault of row `index` (counted from 0; ``None`` for the whole file)."""
        row = None if index is None else self.table.lines[index]
        self.faults.append(Fault(self.table.file, what, remedy, row=row, column=column))

    def check_columns(
        self,
        allowed: Collection[str],
        required: Collection[str],
        families: Collection[Collection[str]] = (),
    ) -> None:
        """Keep a fault for each unknown and each missing column.

        Parameters
        ----------
        allowed, required
            Headings that may and that must be there.
        families
            Headings that differ in their unit alone: the remedy names all of them, not one.
        """
        present = set(self.table.columns)
        for name in self.table.columns:
            if name not in allowed:
                missing = [n for n in allowed if n not in present]
                family = next((f for f in families if nearest(name, missing or allowed) in f), None)
                remedy = suggest(name, missing or allowed)
                if family is not None:
                    remedy = f"Write {' or '.join(family)}: the ending is the unit."
                self.fault(None, name, "This column is unknown.", remedy)
        for name in sorted(set(required) - present):
            near = nearest(name, present - set(allowed))
            remedy = f"Rename '{near}' to '{name}'." if near else f"Add a column '{name}'."
            self.fault(None, name, "This column is missing.", remedy)

    def numbers(
        self, name: str, low: float = -math.inf, high: float = math.inf, *, required: bool = False
    ) -> Floats:
        """Return the numbers of `name`, NaN where blank or at fault; shape ``(rows,)``."""
        cells = self.raw(name)
        value_of = {cell: self._number(cell) for cell in set(cells)}
        values = np.array([value_of[cell] for cell in cells], dtype=float)
        blank = np.array([not cell for cell in cells], dtype=bool)
        wrong = np.isnan(values) & ~blank
        outside = (values < low) | (values > high)
        needed = f"Give a number{_range_words(low, high)}."
        bad = wrong | outside | (blank & (required and self.has(name)))
        for i in np.flatnonzero(bad).tolist():
            self.fault(i, name, self._number_trouble(cells[i], outside=bool(outside[i])), needed)
        values[outside] = math.nan
        return values

    def _number(self, cell: str) -> float:
        if self.decimal_comma:
            if "." in cell:
                return math.nan
            cell = cell.replace(",", ".")
        if not _NUMBER.fullmatch(cell):
            return math.nan
        value = float(cell)
        return value if math.isfinite(value) else math.nan

    def _number_trouble(self, cell: str, *, outside: bool) -> str:
        if not cell:
            return "The cell is blank."
        if outside:
            return f"Found {cell}."
        if self.decimal_comma and "." in cell:
            return f"Found '{cell}': a point in a file with decimal commas may be a thousands mark."
        if _COMMA_NUMBER.fullmatch(cell):
            return f"Found '{cell}': a decimal comma in a file whose cells are parted by commas."
        return f"Found '{cell}', which is not a plain finite number."

    def whole_numbers(self, name: str, low: int) -> NDArray[np.int64]:
        """Return whole numbers of at least `low`; blank cells are faults."""
        values = self.numbers(name, low=low, high=1e9, required=True)
        for i in np.flatnonzero(np.isfinite(values) & (values != np.round(values))).tolist():
            self.fault(i, name, f"Found {self.raw(name)[i]}.", "Give a whole number.")
        return np.nan_to_num(values, nan=low).round().astype(np.int64)

    def texts(self, name: str, *, required: bool = False) -> list[str]:
        """Return the cells of `name`; control characters are faults."""
        cells = list(self.raw(name))
        self._check(name, _no_controls, "holds control characters", lambda _: "Type it again.")
        if required and self.has(name):
            for i in (i for i, cell in enumerate(cells) if not cell):
                self.fault(i, name, "The cell is blank.", f"Give a {name}.")
        return cells

    def words(self, name: str, allowed: Collection[str], *, required: bool = False) -> list[str]:
        """Return cells that must be one of `allowed`, or blank unless `required`."""
        self._check(name, lambda c: c in allowed, "is unknown", lambda c: suggest(c, allowed))
        return self.texts(name, required=required)

    def dates(self, name: str) -> list[str]:
        """Return ISO 8601 calendar dates (``2026-09-03``) or blanks."""
        remedy = "Give the date as YEAR-MONTH-DAY, 2026-09-03."
        self._check(name, _is_date, "is no calendar date", lambda _: remedy)
        return list(self.raw(name))

    def _check(
        self, name: str, good: Callable[[str], bool], what: str, remedy: Callable[[str], str]
    ) -> None:
        cells = self.raw(name)
        bad = {cell for cell in set(cells) if cell and not good(cell)}
        if bad:
            for i in (i for i, cell in enumerate(cells) if cell in bad):
                self.fault(i, name, f"Found '{cells[i][:60]}', which {what}.", remedy(cells[i]))


def plain_number(cell: str) -> float:
    """Return the finite number that `cell` spells with a decimal point, else NaN."""
    value = float(cell) if _NUMBER.fullmatch(cell) else math.nan
    return value if math.isfinite(value) else math.nan


def _range_words(low: float, high: float) -> str:
    if math.isfinite(low) and math.isfinite(high):
        return f" from {low:g} to {high:g}"
    if math.isfinite(low):
        return f" of at least {low:g}"
    return ""


def _no_controls(cell: str) -> bool:
    return _CONTROLS.search(cell) is None


def _is_date(cell: str) -> bool:
    if not _DATE.fullmatch(cell):
        return False
    try:
        date.fromisoformat(cell)
    except ValueError:
        return False
    return True
