"""Cells of a text table turned into numbers, words and dates, every fault kept with its row."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from zoning.errors import Fault
from zoning.model import Notice
from zoning.readings.angles import degrees_of
from zoning.readings.dates import date_remedy, read_dates
from zoning.readings.number_text import plain_number
from zoning.readings.rules import listed, nearest, plain_name, rule, suggest
from zoning.readings.stray_rows import headings_again, is_summary
from zoning.readings.text_table import TextTable
from zoning.readings.thousands import parts_thousands, seems_parted

Floats = NDArray[np.float64]
_COMMA_NUMBER = re.compile(r"[+-]?\d*,\d+", re.ASCII)
_OTHER_LENGTHS = frozenset({"mm", "m", "in", "inch", "inches", "ft"})
_DEGREES = {"lat": "52.632733, or 52°37.964'N", "lon": "-1.234043, or 1°14.043'W"}
_ADD = {
    "station": "Head the column with the name of each place 'station'.",
    "phase": "Add a column 'phase' with before in each row, after for pits dug behind the machine.",
}
_CONTROLS = re.compile(
    "[\\x00-\\x08\\x0b\\x0c\\x0e-\\x1f\\x7f-\\x9f\\u202a-\\u202e\\u2066-\\u2069]"
)
_THOUSANDS = re.compile(r"[+-]?\d{1,3}(\.\d{3})+", re.ASCII)


class Cells:
    """The columns of one table, read one by one; faults gather in `faults`.

    Parameters
    ----------
    table
        The text of the file.
    numeric
        Headings of the columns that hold numbers: they settle whether the decimal mark is a comma,
        which is looked for only where the delimiter is not a comma, and not in a spreadsheet.
    """

    def __init__(self, table: TextTable, numeric: Iterable[str]) -> None:
        self.table = table
        self.faults: list[Fault] = []
        self._passed_over: set[int] = set()
        self._told: list[Notice] = []
        self.decimal_comma = table.delimiter not in ("", ",") and any(
            _COMMA_NUMBER.fullmatch(cell) or (parts_thousands(cell) and "," in cell)
            for name in numeric
            for cell in set(table.columns.get(name, ()))
        )
        if self.decimal_comma:
            self.note("csv-decimal-comma", "numbers have a decimal comma")
        self._check_headings_again()
        self._check_words_only([name for name in numeric if self.has(name)])
        self._parted = {name for name in numeric if name not in _DEGREES and self.has(name)}
        self.thousands(self._parted, self._is_parted)

    def _check_headings_again(self) -> None:
        """Keep one fault where a second table begins, and no more of what stands below."""
        again = headings_again(self.table)
        if again is not None:
            what = "The headings stand here again: a second table below the first."
            remedy = "Delete the row if it is the same table; else give it a sheet of its own."
            self.fault(again, None, what, remedy)
            self.pass_over(range(again, len(self.table)))

    def _check_words_only(self, numeric: Sequence[str]) -> None:
        """Keep one fault for each row that has words and no digit in all its numeric columns."""
        rows = enumerate(zip(*(self.raw(name) for name in numeric), strict=True))
        for i, cells in rows if numeric else ():
            words = [cell for cell in cells if cell]
            if len(words) > 1 and not any(c.isdigit() for cell in words for c in cell):
                some = ", ".join(f"'{word[:20]}'" for word in dict.fromkeys(words))
                what = f"The row has words where numbers belong: {some}."
                self.fault(i, None, what, "Delete a second row of headings or units.")
                self._passed_over.add(i)

    def _is_parted(self, cell: str) -> bool:
        """Whether a cell is refused for its points between thousands."""
        return parts_thousands(cell) or (
            self.decimal_comma and _THOUSANDS.fullmatch(cell) is not None
        )

    def thousands(
        self, names: Collection[str], parted: Callable[[str], bool] = seems_parted, more: str = ""
    ) -> None:
        """Keep one fault for all cells of some columns whose points may stand between thousands."""
        alike = {name: {cell for cell in set(self.raw(name)) if parted(cell)} for name in names}
        columns = [(name, self.raw(name)) for name in self.table.columns if alike.get(name)]
        found = sorted(
            (i, at, name, cell)
            for at, (name, cells) in enumerate(columns)
            for i, cell in enumerate(cells)
            if cell in alike[name]
        )
        if not found:
            return
        i, _, name, cell = found[0]
        more_such = f" and {len(found) - 1} more such number{'s' if len(found) > 2 else ''}"
        rest = more_such if len(found) > 1 else ""
        certain = any(parts_thousands(cell) for *_, cell in found)
        part = "part thousands" if certain else "may be thousands marks"
        marks = "points" if "." in cell else "commas" if "," in cell else "marks"
        what = f"Found '{cell}'{rest}: the {marks} {part}.{more}"
        end = "; decimals follow a comma." if self.decimal_comma and marks == "points" else "."
        self.fault(i, name, what, f"Take out the {marks} between thousands{end}")

    def pass_over(self, rows: Iterable[int]) -> None:
        """Keep no more faults of `rows`: the one kept already says what is wrong."""
        self._passed_over.update(rows)

    @property
    def notices(self) -> list[Notice]:
        """What was recognised about the file and must be told."""
        return [*self.table.notices, *self._told]

    def caution(self, code: str, what: str) -> None:
        """Keep a caution on the file: it can be read, and may not mean what it says."""
        self._told.append(Notice("caution", code, f"{self.table.file}: {what}"))

    def note(self, code: str, what: str) -> None:
        """Keep a note on how the file is read."""
        self._told.append(Notice("note", code, f"{self.table.file}: {what}."))

    def has(self, name: str) -> bool:
        """Whether the table has the column `name`."""
        return name in self.table.columns

    def raw(self, name: str) -> Sequence[str]:
        """Return the cells of `name` as text, blanks where the column is absent."""
        return self.table.columns.get(name, ("",) * len(self.table))

    def fault(self, index: int | None, column: str | None, what: str, remedy: str) -> None:
        """Keep one fault of row `index` (counted from 0; ``None`` for the whole file)."""
        if index in self._passed_over:
            return
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
        missing = [n for n in allowed if n not in present] or list(allowed)
        strange = []
        for name in (n for n in self.table.columns if n not in allowed):
            near = nearest(name, missing)
            family = next((f for f in families if near in f), None)
            if near is None:
                strange.append(name)
            elif family is not None:
                remedy = f"Write {' or '.join(family)}: the ending is the unit."
                self.fault(None, name, "This column is unknown.", remedy)
            else:
                self.fault(None, name, "This column is unknown.", _renamed(name, near))
        self._strange_columns(strange, missing)
        for name in sorted(set(required) - present):
            near = nearest(name, present - set(allowed))
            remedy = (
                f"Rename '{near}' to '{name}'."
                if near
                else _ADD.get(name, f"Add a column '{name}'.")
            )
            self.fault(None, name, "This column is missing.", remedy)

    def _strange_columns(self, names: Sequence[str], missing: Sequence[str]) -> None:
        """Keep one fault for all headings that look like none that is allowed."""
        if not names:
            return
        which = listed([f"'{name}'" for name in names])
        what = (
            f"These columns are unknown: {which}." if len(names) > 1 else "This column is unknown."
        )
        remedy = f"Rename or delete. Still free: {', '.join(sorted(missing))}."
        self.fault(None, names[0] if len(names) == 1 else None, what, remedy)

    def numbers(
        self, name: str, low: float = -math.inf, high: float = math.inf, *, required: bool = False
    ) -> Floats:
        """Return the numbers of `name`, NaN where blank or at fault; shape ``(rows,)``."""
        value_of = {cell: self._number(cell) for cell in set(self.raw(name))}
        blank = "" if required else " or leave the cell blank"
        needed = f"Give a number{_range_words(low, high)}{blank}."
        return self._checked(name, value_of, (low, high), needed, required=required)

    def degrees(self, name: str) -> Floats:
        """Return the degrees of ``lon`` or ``lat``, spelled as a number or with minutes."""
        value_of = {cell: self._number(cell) for cell in set(self.raw(name))}
        marked = {c: degrees_of(c, name) for c, value in value_of.items() if math.isnan(value)}
        value_of.update(marked)
        if any(map(math.isfinite, marked.values())):
            self.note("csv-degrees", f"{name} is written with signs or letters of degrees")
        needed = f"Give decimal degrees, {_DEGREES[name]}."
        return self._checked(name, value_of, (-math.inf, math.inf), needed, required=True)

    def _checked(
        self,
        name: str,
        value_of: Mapping[str, float],
        span: tuple[float, float],
        needed: str,
        *,
        required: bool,
    ) -> Floats:
        """Return the value of each cell of `name`; what is none, or outside `span`, is a fault."""
        cells = self.raw(name)
        low, high = span
        values = np.array([value_of[cell] for cell in cells], dtype=float)
        blank = np.array([not cell for cell in cells], dtype=bool)
        wrong = np.isnan(values) & ~blank
        outside = (values < low) | (values > high)
        if name in self._parted and wrong.any():
            wrong &= ~np.array([self._is_parted(cell) for cell in cells], dtype=bool)
        bad = wrong | outside | (blank & (required and self.has(name)))
        self._misfits(name, np.flatnonzero(bad & ~outside).tolist(), needed, outside=False)
        self._misfits(name, np.flatnonzero(outside).tolist(), needed, outside=True)
        return np.where(outside, math.nan, values)

    def _misfits(self, name: str, rows: Sequence[int], needed: str, *, outside: bool) -> None:
        """Keep a fault of each cell; many that differ in their text alone have the same words."""
        kinds: dict[tuple[str, str], list[tuple[int, str]]] = {}
        for i in (i for i in rows if i not in self._passed_over):
            cell = self.raw(name)[i]
            what, remedy = self._number_trouble(cell, needed, outside=outside)
            kinds.setdefault((what.replace(cell, "", 1), remedy), []).append((i, what))
        for (_, remedy), found in kinds.items():
            many = len({what for _, what in found}) > rule("fault_texts_listed_max")
            like = f"{found[0][1]} {len(found) - 1} more cells are like it."
            for i, what in found:
                self.fault(i, name, like if many else what, remedy)

    def _number(self, cell: str) -> float:
        if self.decimal_comma:
            if "." in cell and ("," in cell or _THOUSANDS.fullmatch(cell)):
                return math.nan
            cell = cell.replace(",", ".")
        return plain_number(cell)

    def _number_trouble(self, cell: str, needed: str, *, outside: bool) -> tuple[str, str]:
        """Return what is wrong with a cell and the remedy."""
        if not cell:
            return "The cell is blank.", needed
        if outside:
            return f"Found {cell}.", needed
        if self.decimal_comma and "." in cell:
            what = f"Found '{cell}': a point in a file with decimal commas may be a thousands mark."
            return what, "Write a comma before the decimals and no mark between thousands."
        if _COMMA_NUMBER.fullmatch(cell):
            if not self.table.delimiter:
                return f"Found the text '{cell}'.", "Turn it into a number in the spreadsheet."
            what = f"Found '{cell}': a decimal comma in a file whose cells are parted by commas."
            return what, "Write a decimal point, or part the cells by semicolons."
        return f"Found '{cell}', which is not a plain finite number.", needed

    def whole_numbers(self, name: str, low: int) -> NDArray[np.int64]:
        """Return whole numbers of at least `low`; blank cells are faults."""
        value_of = {cell: self._number(cell) for cell in set(self.raw(name))}
        needed = f"Give a whole number of at least {low}, or leave the column out."
        values = self._checked(name, value_of, (low, 1e9), needed, required=True)
        for i in np.flatnonzero(np.isfinite(values) & (values != np.round(values))).tolist():
            self.fault(i, name, f"Found {self.raw(name)[i]}.", needed)
        return np.nan_to_num(values, nan=low).round().astype(np.int64)

    def texts(self, name: str, *, required: bool = False) -> list[str]:
        """Return the cells of `name`; control characters are faults."""
        cells = list(self.raw(name))
        self._check(name, _no_controls, "holds control characters", lambda _: "Type it again.")
        for i, cell in enumerate(cells) if required and self.has(name) else ():
            if not cell:
                self.fault(i, name, "The cell is blank.", f"Name the {name} in every row.")
            elif is_summary(cell):
                what = f"Found '{cell[:60]}': this seems to be a row of means or totals."
                self.fault(i, name, what, f"Delete the row, or give the {name} another name.")
        return cells

    def words(self, name: str, allowed: Collection[str], *, required: bool = False) -> list[str]:
        """Return words of `allowed`, in capitals or not, or blanks unless `required`."""
        meant = {cell: _meant(cell, allowed) for cell in set(self.raw(name))}
        self._check(
            name, lambda c: meant[c] in allowed, "is unknown", lambda c: suggest(c, allowed)
        )
        return [meant[cell] for cell in self.texts(name, required=required)]

    def dates(self, name: str) -> list[str]:
        """Return ISO 8601 calendar dates (``2026-09-03``) or blanks."""
        read = read_dates(set(self.raw(name)))
        self._check(name, lambda c: c in read.iso, "is no certain date", date_remedy)
        if read.orders:
            self.note("csv-dates", f"dates are read as {' and '.join(read.orders)}")
        return [read.iso.get(cell, "") for cell in self.raw(name)]

    def _check(
        self, name: str, good: Callable[[str], bool], what: str, remedy: Callable[[str], str]
    ) -> None:
        cells = self.raw(name)
        bad = {cell for cell in set(cells) if cell and not good(cell)}
        if bad:
            for i in (i for i, cell in enumerate(cells) if cell in bad):
                self.fault(i, name, f"Found '{cells[i][:60]}', which {what}.", remedy(cells[i]))


def _range_words(low: float, high: float) -> str:
    if math.isfinite(low) and math.isfinite(high):
        return f" from {low:g} to {high:g}"
    if math.isfinite(low):
        return f" of at least {low:g}"
    return ""


def _no_controls(cell: str) -> bool:
    return _CONTROLS.search(cell) is None


def _renamed(name: str, near: str) -> str:
    """Word the remedy of a heading that looks like `near`; another unit must be converted."""
    if near.endswith("_cm") and plain_name(name).rpartition("_")[2] in _OTHER_LENGTHS:
        return f"Give it in cm as '{near}': convert the numbers too."
    return f"Did you mean '{near}'?"


def _meant(cell: str, allowed: Collection[str]) -> str:
    """Return the word of `allowed` that differs from `cell` in its capitals alone, else `cell`."""
    alike = [word for word in allowed if word.casefold() == cell.casefold()]
    return alike[0] if len(alike) == 1 and cell not in allowed else cell
