"""The limits of this room, from ``shared/tables/check_rules.csv``."""

from __future__ import annotations

from zoning.contracts import constant


def rule(name: str) -> float:
    """Return the limit `name`."""
    return constant("check_rules", name)
