"""Reference tables: every constant and threshold with its unit, its meaning and its source."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

from zoning.contracts.resources import shared


@cache
def rows(table: str) -> tuple[Mapping[str, str], ...]:
    """Return the rows of ``shared/tables/<table>.csv`` as read-only mappings of text."""
    text = shared("tables", f"{table}.csv").read_text(encoding="utf-8")
    return tuple(MappingProxyType(row) for row in csv.DictReader(text.splitlines()))


@cache
def constant(table: str, name: str) -> float:
    """Return the value of `name` in a table of single values.

    Such a table has the columns ``name, value, unit, meaning, source, status``.

    Raises
    ------
    KeyError
        If the table has no such row.
    """
    for row in rows(table):
        if row["name"] == name:
            return float(row["value"])
    raise KeyError(f"{table}.csv has no row named {name}")
