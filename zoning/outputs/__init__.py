"""A plan as files: one writer a format, published whole or not at all.

What reads a plan back is loaded when it is first used: a plan being made needs none of it.
"""

from typing import TYPE_CHECKING

from zoning.lazy import loader
from zoning.outputs.check.read import read_planned
from zoning.outputs.check.write import CHECK_WRITERS, refuse_foreign_check, write_check
from zoning.outputs.fingerprint import changed_settings, digests, plan_id
from zoning.outputs.survey.write import SURVEY_FILES, refuse_filled_in, write_survey
from zoning.outputs.write import KNOWN, WRITERS, Output, refuse_foreign, write_plan

if TYPE_CHECKING:
    from zoning.outputs.verify.files import ReadBack, attempted, foreign_notes, open_document
    from zoning.outputs.verify.folder import input_digests, read_back
    from zoning.outputs.verify.sent import carries, judged, plan_of

__all__ = [
    "CHECK_WRITERS",
    "KNOWN",
    "SURVEY_FILES",
    "WRITERS",
    "Output",
    "ReadBack",
    "attempted",
    "carries",
    "changed_settings",
    "digests",
    "foreign_notes",
    "input_digests",
    "judged",
    "open_document",
    "plan_id",
    "plan_of",
    "read_back",
    "read_planned",
    "refuse_filled_in",
    "refuse_foreign",
    "refuse_foreign_check",
    "write_check",
    "write_plan",
    "write_survey",
]

__getattr__ = loader(
    __name__,
    {
        "ReadBack": "verify.files",
        "attempted": "verify.files",
        "carries": "verify.sent",
        "foreign_notes": "verify.files",
        "input_digests": "verify.folder",
        "judged": "verify.sent",
        "open_document": "verify.files",
        "plan_of": "verify.sent",
        "read_back": "verify.folder",
    },
)
