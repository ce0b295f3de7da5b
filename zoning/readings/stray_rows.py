"""Rows that a person writes into a table and that are no readings: headings again, a mean."""

from __future__ import annotations

from zoning.readings.rules import plain_name
from zoning.readings.text_table import TextTable

_ALONE = frozenset(
    {"total", "totals", "sum", "sd", "std", "std_dev", "min", "max", "minimum", "maximum", "count"}
)
_ANYWHERE = frozenset({"mean", "average", "avg", "median", "stdev", "deviation", "subtotal"})


def headings_again(table: TextTable) -> int | None:
    """Return the first row, counted from 0, that holds the headings of its own columns again."""
    counts: dict[int, int] = {}
    for name, cells in table.columns.items():
        again = {cell for cell in set(cells) if not cell[-1:].isdigit() and _same(cell, name)}
        for i in (i for i, cell in enumerate(cells) if cell in again) if again else ():
            counts[i] = counts.get(i, 0) + 1
    return min((i for i, count in counts.items() if count > 1), default=None)


def _same(cell: str, heading: str) -> bool:
    return plain_name(cell) == plain_name(heading)


def is_summary(name: str) -> bool:
    """Whether a name is that of a row of means or totals: ``Average``, ``S1 mean``, ``Std. dev.``.

    Letters that may be the name of a place, such as ``SE`` or ``N``, are none.
    """
    plain = plain_name(name)
    return plain in _ALONE or not _ANYWHERE.isdisjoint(plain.split("_"))
