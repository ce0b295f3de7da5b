"""The operator's sheet as PDF and the picture of a plan as PNG, set by typst from one template.

The last of each is kept, so that reading a file back does not set it a second time, and both may be
begun before the other files are written.
"""

from __future__ import annotations

import struct
import zlib
from concurrent.futures import Future
from functools import lru_cache
from importlib.resources import files
from pathlib import Path

from zoning.errors import OutputFailed
from zoning.model import Plan
from zoning.outputs.sheet.facts import Facts, picture_facts, sheet_facts
from zoning.outputs.sheet.words import MISSING_LETTERS
from zoning.outputs.typeset import LetterMissing, in_background, pdf, png

_TEMPLATE = files("zoning.outputs.sheet").joinpath("sheet.typ").read_bytes()
_SHEET = "The operator's sheet"
_AFTER_HEADER = 33


def begin_pages(plan: Plan) -> None:
    """Begin to set both pages of `plan`; `sheet_pdf` and `picture_png` wait for what is begun."""
    _sheet_begun(plan)
    _picture_begun(plan)


def sheet_pdf(plan: Plan) -> bytes:
    """Return the operator's sheet: tagged PDF (PDF/UA-1), A4, the same bytes for the same plan.

    PDF/UA-1 refuses text that no font on this computer can show. The sheet is then made all the
    same, tagged but without that standard, and says so itself.

    Raises
    ------
    OutputFailed
        If the sheet cannot be set.
    """
    return _sheet_begun(plan).result()


def picture_png(plan: Plan) -> bytes:
    """Return the map of a plan with its name, number and first caution as PNG, for a message.

    Raises
    ------
    OutputFailed
        If the picture cannot be set.
    """
    return _picture_begun(plan).result()


@lru_cache(maxsize=1)
def _sheet_begun(plan: Plan) -> Future[bytes]:
    facts = sheet_facts(plan)
    return in_background(lambda: _sheet_set(facts))


@lru_cache(maxsize=1)
def _picture_begun(plan: Plan) -> Future[bytes]:
    facts, number = picture_facts(plan), plan.plan_id
    return in_background(
        lambda: with_words(png("The picture", _TEMPLATE, facts), "plan_id", number)
    )


def _sheet_set(facts: Facts) -> bytes:
    try:
        return pdf(_SHEET, _TEMPLATE, facts)
    except LetterMissing:
        told = {**facts, "missing_letters": MISSING_LETTERS}
        return pdf(_SHEET, _TEMPLATE, told, accessible=False)


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


def _check(path: Path, wanted: bytes) -> None:
    if path.read_bytes() != wanted:
        raise OutputFailed(f"{path.name} did not read back as written.")
