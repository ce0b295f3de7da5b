"""Columns of the tables that a plan writes, read from their row schemas in ``shared/schemas``."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from typing import Any

from zoning.contracts import shared


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its name, its type, its unit and what it means.

    Parameters
    ----------
    name
        As it stands in the header.
    kind
        ``string``, ``integer`` or ``number``.
    unit
        Unit symbol; ``1`` for a number without one, ``none`` for text.
    meaning
        One or two sentences.
    decimals
        Decimals that a number is written with.
    blank
        Whether a cell may be blank.
    required
        Whether the table always has the column.
    least, most
        Limits of a number.
    words
        The only texts allowed beside a blank; empty for any.
    """

    name: str
    kind: str
    unit: str
    meaning: str
    decimals: int
    blank: bool
    required: bool
    least: float | None
    most: float | None
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TableSchema:
    """One table: title, meaning, columns in order, names of the columns that tell rows apart."""

    name: str
    title: str
    meaning: str
    columns: tuple[Column, ...]
    key: tuple[str, ...]

    def among(self, names: set[str]) -> tuple[Column, ...]:
        """Return the columns whose name is in `names`, in the order of the table."""
        return tuple(column for column in self.columns if column.name in names)


@cache
def table_schema(name: str) -> TableSchema:
    """Return the row schema ``shared/schemas/<name>.schema.json``."""
    text = shared("schemas", f"{name}.schema.json").read_text(encoding="utf-8")
    document: dict[str, Any] = json.loads(text)
    required = set(document["required"])
    columns = tuple(
        _column(key, facts, required=key in required)
        for key, facts in document["properties"].items()
    )
    key = tuple(document.get("primaryKey", ()))
    return TableSchema(name, document["title"], document["description"], columns, key)


def _column(name: str, facts: dict[str, Any], *, required: bool) -> Column:
    kinds = facts["type"] if isinstance(facts["type"], list) else [facts["type"]]
    kind = next(kind for kind in kinds if kind != "null")
    return Column(
        name=name,
        kind=kind,
        unit=facts["unit"],
        meaning=facts["description"],
        decimals=facts["decimals"] if kind == "number" else 0,
        blank="null" in kinds or (kind == "string" and "" in facts.get("enum", ("",))),
        required=required,
        least=facts.get("minimum"),
        most=facts.get("maximum"),
        words=tuple(word for word in facts.get("enum", ()) if word),
    )
