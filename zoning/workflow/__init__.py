"""The one corridor that joins the rooms: read, plan, write."""

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
from zoning.workflow.verify import verify_plan

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
    "write_check",
    "write_plan",
    "write_survey",
]
