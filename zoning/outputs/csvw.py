"""Descriptions of the CSV files as W3C CSV on the Web metadata: units, meaning, types, limits."""

from __future__ import annotations

import json
from typing import Any

from zoning.outputs.columns import Column, TableSchema

SUFFIX = "-metadata.json"
"""What the name of a description adds to that of its table."""


def description(schema: TableSchema, names: set[str], csv_name: str, plan_id: str) -> str:
    """Return the table description of the file `csv_name` as JSON text.

    Parameters
    ----------
    schema
        Row schema of the table.
    names
        Names of the columns that the file has.
    csv_name
        Name of the CSV file; the description stands beside it as ``<csv_name>-metadata.json``.
    plan_id
        Fingerprint of the plan: the file's ``dc:identifier``, since the CSV has no place for it.

    Notes
    -----
    W3C, Metadata Vocabulary for Tabular Data, 17 December 2015. The type ``decimal`` of that
    standard allows no exponent.
    """
    table: dict[str, Any] = {
        "@context": ["http://www.w3.org/ns/csvw", {"@language": "en"}],
        "url": csv_name,
        "dc:title": schema.title,
        "dc:description": schema.meaning,
        "dc:identifier": plan_id,
        "dialect": {
            "encoding": "utf-8",
            "header": True,
            "delimiter": ",",
            "quoteChar": '"',
            "doubleQuote": True,
            "lineTerminators": ["\r\n"],
        },
        "tableSchema": {"columns": [_column(column) for column in schema.among(names)]},
    }
    if schema.key:
        table["tableSchema"]["primaryKey"] = list(schema.key)
    return json.dumps(table, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _column(column: Column) -> dict[str, Any]:
    unit = {"none": "", "1": " Unit: 1 (a plain number)."}.get(
        column.unit, f" Unit: {column.unit}."
    )
    return {
        "name": column.name,
        "titles": column.name,
        "dc:description": column.meaning + unit,
        "datatype": _datatype(column),
        "required": not column.blank,
    }


def _datatype(column: Column) -> dict[str, Any]:
    if column.kind == "string":
        words = {"format": "|".join(column.words)} if column.words else {}
        return {"base": "string"} | words
    limits = {"minimum": column.least, "maximum": column.most}
    base = {"base": "integer" if column.kind == "integer" else "decimal"}
    return base | {key: value for key, value in limits.items() if value is not None}
