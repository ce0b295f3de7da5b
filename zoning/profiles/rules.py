"""The stated rules of this room, by name."""

from __future__ import annotations

from zoning.contracts import constant


def rule(name: str) -> float:
    """Return the value of `name` in ``shared/tables/profile_rules.csv``, in its unit there."""
    return constant("profile_rules", name)
