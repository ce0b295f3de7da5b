"""A CSV file as columns of text: encoding, delimiter and rows settled, nothing converted yet."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from types import MappingProxyType

from zoning.errors import Fault, InputRefused
from zoning.model import Notice
from zoning.readings.files import Blob
from zoning.readings.rules import rule

_DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}
_BOMS = {
    b"\xff\xfe\x00\x00": "utf-32",
    b"\x00\x00\xfe\xff": "utf-32",
    b"\xff\xfe": "utf-16",
    b"\xfe\xff": "utf-16",
    b"\xef\xbb\xbf": "utf-8-sig",
}
_SPREADSHEETS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")
_CELL_MAX = 100_000


@dataclass(frozen=True, slots=True, eq=False)
class TextTable:
    """Columns of one CSV file.

    Parameters
    ----------
    file
        Name as the user wrote it.
    columns
        Heading to cells, blanks at both ends cut off; all of one length.
    lines
        Line of the file on which each row begins, as an editor counts.
    delimiter
        Character between cells.
    notices
        What was recognised and must be told.
    """

    file: str
    columns: Mapping[str, Sequence[str]]
    lines: Sequence[int]
    delimiter: str
    notices: tuple[Notice, ...]

    def __len__(self) -> int:
        return len(self.lines)


def read_table(
    blob: Blob, known: Callable[[str], bool], spelled: Callable[[str], str] = str
) -> TextTable:
    """Read a CSV file into columns of text.

    Parameters
    ----------
    blob
        The file.
    known
        Whether a heading is one that the table may have; it settles the delimiter.
    spelled
        The heading that one written otherwise stands for; what it changes is told, unless it is
        capitals alone.

    Raises
    ------
    InputRefused
        With every fault of encoding, quoting, headings and row lengths.
    """
    text, notices = _decode(blob)
    skipped = _has_separator_line(text)
    delimiter = _delimiter(text, lambda name: known(spelled(name)), skip=skipped)
    if delimiter != ",":
        notices.append(
            _told(blob, "csv-delimiter", f"cells are parted by a {_DELIMITERS[delimiter]}")
        )
    rows, lines = _rows(blob, text, delimiter)
    if skipped:
        rows, lines = rows[1:], lines[1:]
    if not rows:
        raise InputRefused(
            [Fault(blob.name, "The file holds no table.", "Give a row of headings and rows.")]
        )
    if len(rows[0]) == 1:
        _check_parted(blob, rows[0][0], lambda name: known(spelled(name)))
    _check_first_row(blob, rows, lines, lambda name: known(spelled(name)))
    given = [_one_line(cell) for cell in rows[0]]
    header = [spelled(name) for name in given]
    notices.extend(_spelling_told(blob, given, header))
    rows, lines = _without_blank_rows(rows[1:], lines[1:])
    faults = [*_header_faults(blob, header, rows, lines), *_ragged(blob, len(header), rows, lines)]
    if faults:
        raise InputRefused([_with_rows(fault, rows) for fault, rows in _together(faults)])
    columns = dict(zip(header, zip(*rows, strict=True), strict=True))
    kept = {name: tuple(map(str.strip, cells)) for name, cells in columns.items() if name}
    return TextTable(blob.name, MappingProxyType(kept), tuple(lines), delimiter, tuple(notices))


def limited(faults: Sequence[Fault]) -> list[Fault]:
    """Return the first faults of a file and, in their place, the number of the others.

    Equal faults, of one column and in the same words, are one fault with all their rows.
    """
    most = int(rule("faults_listed_max"))
    groups = _together(faults)
    kept = [_with_rows(fault, rows) for fault, rows in groups[:most]]
    rest = sum(max(1, len(rows)) for _, rows in groups[most:])
    if not rest:
        return kept
    words = f"And {rest} more faults." if rest > 1 else "And 1 more fault."
    return [*kept, Fault(faults[0].file, words, "Mend the cause and run again.")]


def _together(faults: Sequence[Fault]) -> list[tuple[Fault, list[int]]]:
    """Return each fault once with the rows it stands on, in the order they first appear."""
    groups: dict[tuple[Fault, bool], list[int]] = {}
    for fault in faults:
        rows = groups.setdefault((replace(fault, row=None), fault.row is None), [])
        if fault.row is not None:
            rows.append(fault.row)
    return [(fault, sorted(set(rows))) for (fault, _), rows in groups.items()]


def _with_rows(fault: Fault, rows: Sequence[int]) -> Fault:
    if not rows:
        return fault
    return replace(fault, row=rows[0], rows=fault.rows if len(rows) == 1 else row_words(rows))


def row_words(rows: Sequence[int]) -> str:
    """Return rising row numbers in words: ``rows 5-7, 9``; a long list is cut and counted."""
    breaks = [i for i in range(1, len(rows)) if rows[i] != rows[i - 1] + 1]
    runs = [rows[i:j] for i, j in zip([0, *breaks], [*breaks, len(rows)], strict=True)]
    most = int(rule("fault_rows_listed_max"))
    words = [f"{run[0]}-{run[-1]}" if len(run) > 1 else f"{run[0]}" for run in runs[:most]]
    rest = sum(map(len, runs[most:]))
    return f"rows {', '.join(words)}" + (f" and {rest} more" if rest else "")


def _one_line(heading: str) -> str:
    """Return a heading without the line breaks and hard spaces that spreadsheets put in."""
    return " ".join(heading.split())


def _check_parted(blob: Blob, heading: str, known: Callable[[str], bool]) -> None:
    """Refuse a table whose headings stand in one cell together."""
    names = max((heading.split(delimiter) for delimiter in _DELIMITERS), key=len)
    if sum(known(_one_line(name)) for name in names) > 1:
        what = "Each row stands in one cell, as a spreadsheet saves a file that it did not part."
        remedy = "Import the file with its delimiter, or save it anew from where it came."
        raise InputRefused([Fault(blob.name, what, remedy)])


def _check_first_row(
    blob: Blob, rows: list[list[str]], lines: list[int], known: Callable[[str], bool]
) -> None:
    """Refuse a table that begins with a title: the headings seem to stand further down."""
    top = rows[: int(rule("heading_lines_sought"))]
    counts = [sum(known(_one_line(cell)) for cell in row) for row in top]
    headings = counts.index(max(counts))
    if counts[0] or counts[headings] < 2:
        return
    what = f"The headings seem to stand in line {lines[headings]}, not in the first."
    fault = Fault(blob.name, what, "Delete the lines above the headings.", row=lines[0])
    raise InputRefused([fault])


def _spelling_told(blob: Blob, given: list[str], header: list[str]) -> list[Notice]:
    pairs = zip(given, header, strict=True)
    taken = [f"'{a}' as {b}" for a, b in pairs if a.casefold() != b.casefold()]
    return [_told(blob, "csv-headings", f"headings taken: {', '.join(taken)}")] if taken else []


def _told(blob: Blob, code: str, what: str) -> Notice:
    return Notice("note", code, f"{blob.name}: {what}.")


def _decode(blob: Blob) -> tuple[str, list[Notice]]:
    """Decode by the byte order mark, else as UTF-8, else as Windows-1252 (told)."""
    if blob.data.startswith(_SPREADSHEETS):
        fault = Fault(
            blob.name, "This is a spreadsheet or zip file.", "Save the sheet as CSV, UTF-8."
        )
        raise InputRefused([fault])
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
        return (sum(known(_one_line(cell)) for cell in header), len(header))

    return max(_DELIMITERS, key=score)


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


def _without_blank_rows(
    rows: list[list[str]], lines: list[int]
) -> tuple[list[list[str]], list[int]]:
    """Leave out rows whose cells are all blank: spreadsheets write them below a table."""
    kept = [i for i, row in enumerate(rows) if any(cell and not cell.isspace() for cell in row)]
    return [rows[i] for i in kept], [lines[i] for i in kept]


def _header_faults(
    blob: Blob, header: list[str], rows: list[list[str]], lines: list[int]
) -> list[Fault]:
    faults = [
        Fault(
            blob.name,
            f"The heading '{name}' stands {header.count(name)} times.",
            "Give each column its own name.",
            row=1,
            column=name,
        )
        for name in sorted(set(header))
        if name and header.count(name) > 1
    ]
    if not rows:
        faults.append(
            Fault(
                blob.name,
                "The file has headings but no rows.",
                "Add the readings below the headings.",
            )
        )
    return [*faults, *_unnamed(blob, header, rows, lines)]


def _unnamed(blob: Blob, header: list[str], rows: list[list[str]], lines: list[int]) -> list[Fault]:
    """Return one fault for all columns that have cells and no heading."""
    filled = {
        i: line
        for line, row in zip(reversed(lines), reversed(rows), strict=True)
        for i, cell in enumerate(row[: len(header)])
        if not header[i] and cell.strip()
    }
    if not filled:
        return []
    columns = ", ".join(str(i + 1) for i in sorted(filled))
    have, them = ("Column {} has", "it") if len(filled) == 1 else ("Columns {} have", "them")
    what = f"{have.format(columns)} cells but no heading."
    return [Fault(blob.name, what, f"Name {them} or clear {them}.", row=min(filled.values()))]


def _ragged(blob: Blob, width: int, rows: list[list[str]], lines: list[int]) -> list[Fault]:
    return [
        Fault(
            blob.name,
            f"The row has {len(row)} cells and the headings are {width}.",
            "Give each row one cell for each heading; quote text that holds the delimiter.",
            row=line,
        )
        for line, row in zip(lines, rows, strict=True)
        if len(row) != width
    ]
