"""A spreadsheet file opened within limits: its kind, its sheets, and a copy without surprises."""

from __future__ import annotations

import io
import zipfile
from dataclasses import dataclass
from xml.etree.ElementTree import ParseError

from defusedxml import DefusedXmlException

from zoning.errors import Fault, InputRefused
from zoning.readings.archive import Archive, Limits, opened
from zoning.readings.files import Blob
from zoning.readings.ods_sheets import ods_sheets
from zoning.readings.rules import rule
from zoning.readings.sheet_facts import SheetError, SheetFacts
from zoning.readings.xlsx_sheets import is_xlsx, xlsx_sheets

_ODS = b"application/vnd.oasis.opendocument.spreadsheet"
_AGAIN = "Open it in a spreadsheet and save it again."
_MANIFEST = "META-INF/manifest.xml"
_BINARY = "xl/workbook.bin"


@dataclass(frozen=True, slots=True, eq=False)
class BookFile:
    """A spreadsheet whose sheets are known to be bounded.

    Parameters
    ----------
    data
        A zip of its XML files as they were unpacked here, so that no entry is larger than it says.
    sheets
        Its worksheets in their order.
    """

    data: bytes
    sheets: tuple[SheetFacts, ...]


def open_book(blob: Blob) -> BookFile:
    """Open an .xlsx or .ods file, known by what it holds and never by its name.

    Raises
    ------
    InputRefused
        If the file is another kind of zip, broken, or too large once unpacked.
    """
    with opened(blob, _limits()) as archive:
        if _BINARY in archive.members:
            what = "This is a binary spreadsheet (.xlsb), which is not read."
            raise _refused(blob, what, "Save it as .xlsx, or save the sheet as CSV, UTF-8.")
        parts = _parts(archive)
    try:
        sheets, kept = _sheets(blob, parts)
    except SheetError as error:
        remedy = "Clear what is no reading, or save the sheet as CSV."
        raise _refused(blob, str(error), remedy) from error
    except (ParseError, DefusedXmlException, ValueError, LookupError, RecursionError) as error:
        raise _refused(blob, "The spreadsheet file is broken.", _AGAIN) from error
    return BookFile(_packed(kept), tuple(sheets))


def _limits() -> Limits:
    return Limits(
        entries=rule("workbook_entries_max"),
        unpacked_mb=rule("workbook_unpacked_max_mb"),
        ratio=rule("workbook_ratio_max"),
        what="The spreadsheet",
        again=_AGAIN,
        alone="Copy the readings alone into a new file.",
    )


def _sheets(blob: Blob, parts: dict[str, bytes]) -> tuple[list[SheetFacts], dict[str, bytes]]:
    """Return the sheets and the parts that are needed to read their values, no others."""
    if parts.get("mimetype", b"").startswith(_ODS):
        if b"encryption-data" in parts[_MANIFEST]:
            what = "The spreadsheet is locked with a password."
            raise _refused(blob, what, "Save it without a password.")
        kept = {name: parts[name] for name in ("mimetype", _MANIFEST, "content.xml")}
        return ods_sheets(parts["content.xml"]), kept
    if is_xlsx(parts):
        return xlsx_sheets(parts)
    what = "This is a zip file, but no spreadsheet of the kind .xlsx or .ods."
    raise _refused(blob, what, "Save the sheet as .xlsx, .ods or CSV, UTF-8.")


def _refused(blob: Blob, what: str, remedy: str) -> InputRefused:
    return InputRefused([Fault(blob.name, what, remedy)])


def _parts(archive: Archive) -> dict[str, bytes]:
    """Return the XML files of a spreadsheet by the path it gives them; pictures are left behind."""
    return {
        info.filename: archive.read(name)
        for name, info in archive.members.items()
        if name.endswith((".xml", ".rels")) or name == "mimetype"
    }


def _packed(parts: dict[str, bytes]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_STORED) as archive:
        for name, data in parts.items():
            archive.writestr(zipfile.ZipInfo(name), data)
    return stream.getvalue()
