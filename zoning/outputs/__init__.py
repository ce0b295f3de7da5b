"""A plan as files: one writer a format, published whole or not at all."""

from zoning.outputs.fingerprint import digests, plan_id
from zoning.outputs.write import KNOWN, WRITERS, Output, refuse_foreign, write_plan

__all__ = [
    "KNOWN",
    "WRITERS",
    "Output",
    "digests",
    "plan_id",
    "refuse_foreign",
    "write_plan",
]
