"""A table of readings as columns of text: headings and rows settled, nothing converted yet."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from zoning.errors import Fault, InputRefused
from zoning.model import Notice
from zoning.readings.csv_rows import DELIMITERS, Rows, csv_rows, one_line
from zoning.readings.files import Blob
from zoning.readings.rules import listed, rule
from zoning.readings.workbook import is_workbook, workbook_rows

Source = Blob | Rows
"""A CSV file, or a sheet of a spreadsheet."""


@dataclass(frozen=True, slots=True, eq=False)
class TextTable:
    """Columns of one CSV file or of one sheet of a spreadsheet.

    Parameters
    ----------
    file
        Name as the user wrote it, with that of the sheet.
    columns
        Heading to cells, blanks at both ends cut off; all of one length.
    lines
        Line of the file on which each row begins, as an editor counts.
    delimiter
        Character between cells; blank in a spreadsheet.
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


def sources(blob: Blob, mark: str) -> Sequence[Source]:
    """Return a CSV file as it is, or each sheet of a spreadsheet that is headed `mark`.

    Raises
    ------
    InputRefused
        As `zoning.readings.workbook.workbook_rows`.
    """
    return workbook_rows(blob, mark) if is_workbook(blob) else [blob]


def read_table(
    source: Source, known: Callable[[str], bool], spelled: Callable[[str], str] = str
) -> TextTable:
    """Read a CSV file, or a sheet of a spreadsheet, into columns of text.

    Parameters
    ----------
    source
        The file or the sheet.
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

    def knows(name: str) -> bool:
        return known(spelled(name))

    found = csv_rows(source, knows) if isinstance(source, Blob) else source
    if not found.rows:
        raise InputRefused(
            [Fault(found.file, "The file holds no table.", "Give a row of headings and rows.")]
        )
    if len(found.rows[0]) == 1:
        _check_parted(found, knows)
    _check_turned(found, knows)
    _check_first_row(found, knows)
    given = [one_line(cell) for cell in found.rows[0]]
    header = [spelled(name) for name in given]
    rows, lines = _without_blank_rows(found.rows[1:], found.lines[1:])
    _check_rows(found, header, rows, lines)
    columns = dict(zip(header, zip(*rows, strict=True), strict=True))
    kept = {name: tuple(map(str.strip, cells)) for name, cells in columns.items() if name}
    notices = (*found.notices, *_spelling_told(found, given, header))
    return TextTable(found.file, MappingProxyType(kept), tuple(lines), found.delimiter, notices)


def _check_rows(found: Rows, header: list[str], rows: list[list[str]], lines: list[int]) -> None:
    faults = [
        *_header_faults(found, header, rows, lines),
        *_ragged(found, len(header), rows, lines),
    ]
    if faults:
        raise InputRefused([_with_rows(fault, rows) for fault, rows in _together(faults)])


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
    if len(rows) == 1:
        return f"row {rows[0]}"
    breaks = [i for i in range(1, len(rows)) if rows[i] != rows[i - 1] + 1]
    runs = [rows[i:j] for i, j in zip([0, *breaks], [*breaks, len(rows)], strict=True)]
    most = int(rule("fault_rows_listed_max"))
    words = [f"{run[0]}-{run[-1]}" if len(run) > 1 else f"{run[0]}" for run in runs[:most]]
    rest = sum(map(len, runs[most:]))
    return f"rows {', '.join(words)}" + (f" and {rest} more" if rest else "")


def _check_parted(found: Rows, known: Callable[[str], bool]) -> None:
    """Refuse a table whose headings stand in one cell together."""
    heading = found.rows[0][0]
    names = max((heading.split(delimiter) for delimiter in DELIMITERS), key=len)
    if sum(known(one_line(name)) for name in names) > 1:
        what = "Each row stands in one cell, as a spreadsheet saves a file that it did not part."
        remedy = "Import the file with its delimiter, or save it anew from where it came."
        raise InputRefused([Fault(found.file, what, remedy)])


def _check_turned(found: Rows, known: Callable[[str], bool]) -> None:
    """Refuse a table whose headings stand in the first column, one below the other."""
    top = found.rows[: int(rule("heading_lines_sought"))]
    side = {name for row in top if row and known(name := one_line(row[0]))}
    if len(side) > 1 and sum(known(one_line(cell)) for cell in found.rows[0]) < 2:
        what = f"The headings stand down the side: {listed(sorted(side))}."
        remedy = "Copy the table and paste it transposed, with a row for each place or insertion."
        raise InputRefused([Fault(found.file, what, remedy, row=found.lines[0])])


def _check_first_row(found: Rows, known: Callable[[str], bool]) -> None:
    """Refuse a table that begins with a title: the headings seem to stand further down."""
    top = found.rows[: int(rule("heading_lines_sought"))]
    counts = [sum(known(one_line(cell)) for cell in row) for row in top]
    headings = counts.index(max(counts))
    if counts[0] or counts[headings] < 2:
        return
    what = f"The headings seem to stand in line {found.lines[headings]}, not in the first."
    fault = Fault(found.file, what, "Delete the lines above the headings.", row=found.lines[0])
    raise InputRefused([fault])


def _spelling_told(found: Rows, given: list[str], header: list[str]) -> list[Notice]:
    pairs = zip(given, header, strict=True)
    taken = [f"'{a}' as {b}" for a, b in pairs if a.casefold() != b.casefold()]
    text = f"{found.file}: headings taken: {', '.join(taken)}."
    return [Notice("note", "csv-headings", text)] if taken else []


def _without_blank_rows(
    rows: list[list[str]], lines: list[int]
) -> tuple[list[list[str]], list[int]]:
    """Leave out rows whose cells are all blank: spreadsheets write them below a table."""
    kept = [i for i, row in enumerate(rows) if any(cell and not cell.isspace() for cell in row)]
    return [rows[i] for i in kept], [lines[i] for i in kept]


def _header_faults(
    found: Rows, header: list[str], rows: list[list[str]], lines: list[int]
) -> list[Fault]:
    twice = sorted({name for name in header if name and header.count(name) > 1})
    faults = []
    if twice:
        which = listed([f"'{name}'" for name in twice])
        what = f"The heading {which} stands {header.count(twice[0])} times."
        remedy = "Give each column its own name."
        if len(twice) > 1:
            what = f"The headings {which} stand more than once."
            remedy = "Keep one table a sheet and one column a heading."
        column = twice[0] if len(twice) == 1 else None
        faults.append(Fault(found.file, what, remedy, row=found.lines[0], column=column))
    if not rows:
        faults.append(
            Fault(
                found.file,
                "The file has headings but no rows.",
                "Add the readings below the headings.",
            )
        )
    return [*faults, *_unnamed(found, header, rows, lines)]


def _unnamed(
    found: Rows, header: list[str], rows: list[list[str]], lines: list[int]
) -> list[Fault]:
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
    return [Fault(found.file, what, f"Name {them} or clear {them}.", row=min(filled.values()))]


def _ragged(found: Rows, width: int, rows: list[list[str]], lines: list[int]) -> list[Fault]:
    return [
        Fault(
            found.file,
            f"The row has {len(row)} cells and the headings are {width}.",
            "Give each row one cell for each heading; quote text that holds the delimiter.",
            row=line,
        )
        for line, row in zip(lines, rows, strict=True)
        if len(row) != width
    ]
