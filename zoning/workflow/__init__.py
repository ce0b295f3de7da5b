"""The one corridor that joins the rooms: read, plan, write.

Names are loaded when they are first used, so that a plan does not wait for what only a survey or a
check needs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from zoning.lazy import loader

if TYPE_CHECKING:
    from zoning.workflow.check import check_check_target, check_work, write_check
    from zoning.workflow.files import check_target, read_field, write_plan
    from zoning.workflow.make import make_plan
    from zoning.workflow.shared import evidence_of
    from zoning.workflow.survey import (
        Wish,
        check_survey_target,
        propose_stations,
        read_for_survey,
        write_survey,
    )
    from zoning.workflow.verify import verify_plan, verify_plans

_HOMES = {
    "Wish": "survey",
    "check_check_target": "check",
    "check_survey_target": "survey",
    "check_target": "files",
    "check_work": "check",
    "evidence_of": "shared",
    "make_plan": "make",
    "propose_stations": "survey",
    "read_field": "files",
    "read_for_survey": "survey",
    "verify_plan": "verify",
    "verify_plans": "verify",
    "write_check": "check",
    "write_plan": "files",
    "write_survey": "survey",
}

__all__ = [
    "Wish",
    "check_check_target",
    "check_survey_target",
    "check_target",
    "check_work",
    "evidence_of",
    "make_plan",
    "propose_stations",
    "read_field",
    "read_for_survey",
    "verify_plan",
    "verify_plans",
    "write_check",
    "write_plan",
    "write_survey",
]

__getattr__ = loader(__name__, _HOMES)
