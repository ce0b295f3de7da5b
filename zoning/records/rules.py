"""Limits of the season record, from ``shared/tables/record_rules.csv``."""

from __future__ import annotations

from zoning.contracts import constant


def rule(name: str) -> float:
    """Return the limit `name` of ``shared/tables/record_rules.csv`` in the unit of its row."""
    return constant("record_rules", name)
