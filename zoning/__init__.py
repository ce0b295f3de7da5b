"""From cone and pit readings to working depths just below the compacted layer.

Three lines do the main job::

    import zoning
    plan = zoning.make_plan(zoning.read_field("sample_data/teasel_piece"))
    zoning.write_plan(plan, "teasel_plan")

Names are loaded when they are first used, so that importing the package costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from zoning.workflow import (
        Wish,
        check_work,
        make_plan,
        propose_stations,
        read_field,
        read_for_survey,
        write_check,
        write_plan,
        write_survey,
    )

_HOMES = {
    "Wish": "zoning.workflow",
    "check_work": "zoning.workflow",
    "make_plan": "zoning.workflow",
    "propose_stations": "zoning.workflow",
    "read_field": "zoning.workflow",
    "read_for_survey": "zoning.workflow",
    "write_check": "zoning.workflow",
    "write_plan": "zoning.workflow",
    "write_survey": "zoning.workflow",
}

__all__ = [
    "Wish",
    "check_work",
    "make_plan",
    "propose_stations",
    "read_field",
    "read_for_survey",
    "write_check",
    "write_plan",
    "write_survey",
]


def __getattr__(name: str) -> object:
    """Load a public name from its home on first use."""
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'zoning' has no attribute {name!r}")
