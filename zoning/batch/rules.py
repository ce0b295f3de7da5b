"""Constants of the batch, read from ``shared/tables/batch_rules.csv``."""

from __future__ import annotations

from zoning.contracts import constant


def rule(name: str) -> float:
    """Return one value of the table."""
    return constant("batch_rules", name)
