"""The operator's sheet as PDF and the picture of a plan as PNG, set by typst from one template.

The last of each is kept, so that reading a file back does not set it a second time.
"""

from __future__ import annotations

import json
import struct
import zlib
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Literal

import typst

from zoning.contracts import constant
from zoning.errors import OutputFailed
from zoning.model import Plan
from zoning.outputs.sheet_facts import Facts, picture_facts, sheet_facts
from zoning.outputs.sheet_words import MISSING_LETTERS

_TEMPLATE = files("zoning.outputs").joinpath("sheet.typ").read_bytes()
_NO_LETTER = "could not be displayed"
_AFTER_HEADER = 33


@lru_cache(maxsize=1)
def sheet_pdf(plan: Plan) -> bytes:
    """Return the operator's sheet: tagged PDF (PDF/UA-1), A4, the same bytes for the same plan.

    PDF/UA-1 refuses text that no font on this computer can show. The sheet is then made all the
    same, tagged but without that standard, and says so itself.

    Raises
    ------
    OutputFailed
        If the sheet cannot be set.
    """
    facts = sheet_facts(plan)
    try:
        return _pdf(facts, "ua-1")
    except typst.TypstError as fault:
        if _NO_LETTER not in str(fault):
            raise OutputFailed(f"The operator's sheet could not be set: {fault}") from fault
    return _pdf({**facts, "missing_letters": MISSING_LETTERS}, None)


@lru_cache(maxsize=1)
def picture_png(plan: Plan) -> bytes:
    """Return the map of a plan with its name, number and first caution as PNG, for a message.

    Raises
    ------
    OutputFailed
        If the picture cannot be set.
    """
    dots = constant("drawing_rules", "picture_dpi")
    inputs = _inputs(picture_facts(plan))
    try:
        made = typst.compile(_TEMPLATE, format="png", ppi=dots, sys_inputs=inputs)
    except typst.TypstError as fault:
        raise OutputFailed(f"The picture could not be set: {fault}") from fault
    return with_words(made, "plan_id", plan.plan_id)


def write_sheet(plan: Plan, path: Path) -> None:
    """Write the operator's sheet; see `sheet_pdf`."""
    path.write_bytes(sheet_pdf(plan))


def write_picture(plan: Plan, path: Path) -> None:
    """Write the picture of a plan; see `picture_png`."""
    path.write_bytes(picture_png(plan))


def check_sheet(plan: Plan, path: Path) -> None:
    """Refuse a sheet that is not, to the byte, the one of this plan."""
    _check(path, sheet_pdf(plan))


def check_picture(plan: Plan, path: Path) -> None:
    """Refuse a picture that is not, to the byte, the one of this plan."""
    _check(path, picture_png(plan))


def with_words(png: bytes, key: str, words: str) -> bytes:
    """Return a PNG with a text chunk after its header (PNG, 3rd edition, 11.3.3.2, tEXt)."""
    body = b"tEXt" + key.encode("latin-1") + b"\0" + words.encode("latin-1")
    chunk = struct.pack(">I", len(body) - 4) + body + struct.pack(">I", zlib.crc32(body))
    return png[:_AFTER_HEADER] + chunk + png[_AFTER_HEADER:]


def _pdf(facts: Facts, standard: Literal["ua-1"] | None) -> bytes:
    return typst.compile(_TEMPLATE, format="pdf", pdf_standards=standard, sys_inputs=_inputs(facts))


def _inputs(facts: Facts) -> dict[str, str]:
    return {"data": json.dumps(facts, sort_keys=True, allow_nan=False)}


def _check(path: Path, wanted: bytes) -> None:
    if path.read_bytes() != wanted:
        raise OutputFailed(f"{path.name} did not read back as written.")
