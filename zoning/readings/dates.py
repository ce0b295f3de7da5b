"""Calendar dates in the orders that leave no doubt."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date

from zoning.readings.rules import rule

# Days from 1899-12-30, the null date of OpenDocument where a file names none: 1954 to 2091.
_DAY_NUMBER = re.compile(r"[2-6]\d{4}", re.ASCII)
_YEAR = re.compile(r"(?<!\d)\d{4}(?!\d)", re.ASCII)
_TIME = re.compile(r"[T ]\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?(Z|[+-]\d{2}:?\d{2})?", re.ASCII)
_ISO = re.compile(r"(\d{4})-(\d{2})-(\d{2})", re.ASCII)
_YEAR_FIRST = re.compile(r"(\d{4})/(\d{1,2})/(\d{1,2})", re.ASCII)
_DOTS = re.compile(r"(\d{1,2})\.(\d{1,2})\.(\d{4})", re.ASCII)
_YEAR_LAST = re.compile(r"(\d{1,2})[/-](\d{1,2})[/-](\d{4})", re.ASCII)


@dataclass(frozen=True, slots=True)
class DatesRead:
    """Dates of one column.

    Parameters
    ----------
    iso
        Cell to ISO 8601 date; a cell that is none, or whose order is in doubt, is missing.
    orders
        The orders other than year-month-day that were met, in words.
    """

    iso: Mapping[str, str]
    orders: tuple[str, ...]


def read_dates(cells: Collection[str]) -> DatesRead:
    """Read the different cells of one column.

    ``2026-09-03`` and ``2026/9/3`` have the year first; ``3.9.2026``, with points, has the day
    first. ``3/9/2026`` and ``3-9-2026`` are read only where the column settles the order: a first
    number above 12 somewhere and no second one (day first), or the other way round. A time behind
    the date is passed over.
    """
    order = _settled(cells)
    iso: dict[str, str] = {}
    orders: set[str] = set()
    for cell in cells:
        bare = _bare(cell)
        found = _year_first(bare) or _dotted(bare) or _year_last(bare, order)
        if found:
            iso[cell] = found
            if _DOTS.fullmatch(bare):
                orders.add("day.month.year")
            elif _YEAR_LAST.fullmatch(bare):
                orders.add(order)
    return DatesRead(iso, tuple(sorted(orders)))


def date_remedy(cell: str) -> str:
    """Return how to mend a cell that `read_dates` does not read."""
    if _DAY_NUMBER.fullmatch(cell):
        return "It is a spreadsheet's number of a day: give the cells the kind date, 2026-09-03."
    years = [int(found) for found in _YEAR.findall(_bare(cell))]
    least, most = (int(rule(f"date_year_{end}")) for end in ("min", "max"))
    if years and not least <= years[0] <= most:
        return f"The year must lie from {least} to {most}."
    return "Give the date as YEAR-MONTH-DAY, 2026-09-03."


def _bare(cell: str) -> str:
    """Return a date without the time behind it."""
    head, sign, _ = cell.partition("T" if "T" in cell else " ")
    return head if sign and _TIME.fullmatch(cell[len(head) :]) else cell


def _settled(cells: Collection[str]) -> str:
    """Return the order of dates that end in the year, blank where the column leaves it open."""
    found = [m for cell in cells if (m := _YEAR_LAST.fullmatch(_bare(cell)))]
    first = any(int(m[1]) > 12 for m in found)
    second = any(int(m[2]) > 12 for m in found)
    if first == second:
        return ""
    return "day/month/year" if first else "month/day/year"


def _year_first(cell: str) -> str:
    match = _ISO.fullmatch(cell) or _YEAR_FIRST.fullmatch(cell)
    return _date(match[1], match[2], match[3]) if match else ""


def _dotted(cell: str) -> str:
    match = _DOTS.fullmatch(cell)
    return _date(match[3], match[2], match[1]) if match else ""


def _year_last(cell: str, order: str) -> str:
    match = _YEAR_LAST.fullmatch(cell)
    if match is None or not order:
        return ""
    day, month = (match[1], match[2]) if order.startswith("day") else (match[2], match[1])
    return _date(match[3], month, day)


def _date(year: str, month: str, day: str) -> str:
    """Return an ISO 8601 date, blank where there is no such day, or in no year of readings."""
    if not rule("date_year_min") <= int(year) <= rule("date_year_max"):
        return ""
    try:
        return date(int(year), int(month), int(day)).isoformat()
    except ValueError:
        return ""
