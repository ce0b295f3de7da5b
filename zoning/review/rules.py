"""Limits of the review page, from ``shared/tables/review_rules.csv``."""

from __future__ import annotations

from zoning.contracts import constant


def rule(name: str) -> float:
    """Return the limit `name` of ``shared/tables/review_rules.csv`` in the unit of its row."""
    return constant("review_rules", name)
