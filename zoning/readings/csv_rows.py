"""The rows of a CSV file: encoding and delimiter settled, cells as text."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import dataclass
from itertools import islice

from zoning.errors import Fault, InputRefused
from zoning.model import Notice
from zoning.readings.files import Blob
from zoning.readings.rules import rule

DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}
_BOMS = {
    b"\xff\xfe\x00\x00": "utf-32",
    b"\x00\x00\xfe\xff": "utf-32",
    b"\xff\xfe": "utf-16",
    b"\xfe\xff": "utf-16",
    b"\xef\xbb\xbf": "utf-8-sig",
}
_CELL_MAX = 100_000


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Rows of a table as they stand in its file, headings first.

    Parameters
    ----------
    file
        Name as the user wrote it, with that of the sheet in a spreadsheet.
    rows
        Cells as text; the rows of a CSV file may differ in length.
    lines
        Line on which each row begins, as an editor or the spreadsheet counts.
    delimiter
        Character between cells; blank in a spreadsheet.
    notices
        What was recognised and must be told.
    """

    file: str
    rows: list[list[str]]
    lines: list[int]
    delimiter: str
    notices: tuple[Notice, ...]


def csv_rows(blob: Blob, known: Callable[[str], bool]) -> Rows:
    """Part a CSV file into rows of text.

    Parameters
    ----------
    blob
        The file.
    known
        Whether a heading is one that the table may have; it settles the delimiter.

    Raises
    ------
    InputRefused
        With every fault of encoding and quoting.
    """
    text, notices = _decode(blob)
    skipped = _has_separator_line(text)
    delimiter = _delimiter(text, known, skip=skipped)
    if delimiter != ",":
        said = f"cells are parted by a {DELIMITERS[delimiter]}"
        notices.append(_told(blob, "csv-delimiter", said))
    rows, lines = _rows(blob, text, delimiter)
    start = 1 if skipped else 0
    return Rows(blob.name, rows[start:], lines[start:], delimiter, tuple(notices))


def one_line(heading: str) -> str:
    """Return a heading without the line breaks and hard spaces that spreadsheets put in."""
    return " ".join(heading.split())


def _told(blob: Blob, code: str, what: str) -> Notice:
    return Notice("note", code, f"{blob.name}: {what}.")


def _decode(blob: Blob) -> tuple[str, list[Notice]]:
    """Decode by the byte order mark, else as UTF-8, else as Windows-1252 (told)."""
    encoding = next((e for bom, e in _BOMS.items() if blob.data.startswith(bom)), "utf-8")
    notices = []
    try:
        text = blob.data.decode(encoding)
    except UnicodeDecodeError as error:
        if encoding != "utf-8":
            raise InputRefused([_undecodable(blob, encoding)]) from error
        text, encoding = _windows_text(blob), "windows-1252"
    if encoding in {"utf-16", "utf-32", "windows-1252"}:
        notices.append(_told(blob, "csv-encoding", f"read as {encoding.upper()}, not UTF-8"))
    if "\x00" in text:
        raise InputRefused([_undecodable(blob, encoding)])
    return text, notices


def _windows_text(blob: Blob) -> str:
    try:
        return blob.data.decode("cp1252")
    except UnicodeDecodeError as error:
        raise InputRefused([_undecodable(blob, "utf-8")]) from error


def _undecodable(blob: Blob, encoding: str) -> Fault:
    return Fault(blob.name, f"The file is not {encoding.upper()} text.", "Save it as CSV, UTF-8.")


def _has_separator_line(text: str) -> bool:
    """Whether the file begins with the line ``sep=;`` of some spreadsheets."""
    first = text[:20].splitlines()[:1]
    return bool(first) and first[0].strip().strip('"').lower().startswith("sep=")


def _delimiter(text: str, known: Callable[[str], bool], *, skip: bool) -> str:
    """Return the delimiter that gives most known headings, then most headings."""

    def score(delimiter: str) -> tuple[int, int]:
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
        try:
            header = next(islice((row for row in reader if row), int(skip), None), [])
        except csv.Error:
            return (0, 0)
        return (sum(known(one_line(cell)) for cell in header), len(header))

    return max(DELIMITERS, key=score)


def _rows(blob: Blob, text: str, delimiter: str) -> tuple[list[list[str]], list[int]]:
    csv.field_size_limit(_CELL_MAX)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    most = int(rule("rows_max"))
    rows: list[list[str]] = []
    lines: list[int] = []
    start = 1
    try:
        for row in reader:
            if row:
                rows.append(row)
                lines.append(start)
            start = reader.line_num + 1
            if len(rows) > most:
                fault = Fault(blob.name, f"More than {most} rows.", "Keep one field in a file.")
                raise InputRefused([fault])
    except csv.Error as error:
        fault = Fault(
            blob.name,
            f"The row cannot be parted into cells ({error}).",
            "Close every quote and double the quotes inside a cell.",
            row=start,
        )
        raise InputRefused([fault]) from error
    return rows, lines
