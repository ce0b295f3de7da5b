"""The limits of this room, from ``shared/tables/check_rules.csv``."""

from __future__ import annotations

from zoning.contracts import constant

SLACK = 1e-6  # depths that differ by less, in centimetres or shares of a step, are the same


def rule(name: str) -> float:
    """Return the limit `name`."""
    return constant("check_rules", name)
