"""From cone and pit readings to working depths just below the compacted layer.

Three lines do the main job::

    import zoning
    plan = zoning.make_plan(zoning.read_field("sample_data/teasel_piece"))
    zoning.write_plan(plan, "teasel_plan")

Names are loaded when they are first used, so that importing the package costs nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from zoning.lazy import loader

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

__getattr__ = loader(__name__, dict.fromkeys(__all__, "workflow"))
