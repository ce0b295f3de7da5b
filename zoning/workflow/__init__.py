"""The one corridor that joins the rooms: read, plan, write."""

from zoning.workflow.files import check_target, read_field, write_plan
from zoning.workflow.make import make_plan

__all__ = ["check_target", "make_plan", "read_field", "write_plan"]
