"""The rows of the sheets of a spreadsheet, .xlsx or .ods, in the words of a CSV file.

python-calamine, an optional extra, reads the values. What it would pass over in silence, or what
could fill the memory, is looked for first: see `zoning.readings.sheet_facts`.
"""

from __future__ import annotations

import io
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, time, timedelta
from importlib.util import find_spec
from typing import TYPE_CHECKING

from zoning.errors import Fault, InputRefused
from zoning.model import Notice
from zoning.readings.csv_rows import Rows, one_line
from zoning.readings.files import Blob
from zoning.readings.rules import listed, plain_name, rule
from zoning.readings.sheet_facts import SheetFacts, column_name
from zoning.readings.workbook_file import BookFile, open_book

if TYPE_CHECKING:
    from python_calamine import CalamineWorkbook

Value = str | int | float | bool | date | time | timedelta
_ZIP = b"PK\x03\x04"  # local file header (APPNOTE of the ZIP format, 4.3.7)
# A compound file ([MS-CFB] 2.2), and the first record of BIFF5 and 8 ([MS-XLS] 2.4.21), 4, 3 and 2.
_OLD = (
    b"\xd0\xcf\x11\xe0",
    b"\x09\x08",
    b"\x09\x04\x06\x00",
    b"\x09\x02\x06\x00",
    b"\x09\x00\x04\x00",
)
_OTHER = {
    b"<": "This is a web page or an XML file, though it may be named like a spreadsheet.",
    b"%PDF": "This is a PDF.",
}
_OR_CSV = "or save the sheet as CSV, UTF-8"


def is_workbook(blob: Blob) -> bool:
    """Whether a file is a spreadsheet, or no table at all, by its first bytes."""
    return blob.data.startswith((_ZIP, *_OLD)) or _other(blob) is not None


def _other(blob: Blob) -> str | None:
    """Return what a file is that is neither a spreadsheet nor text in rows and columns."""
    start = blob.data[:64].removeprefix(b"\xef\xbb\xbf").lstrip()
    return next((what for mark, what in _OTHER.items() if start.startswith(mark)), None)


def workbook_rows(blob: Blob, mark: str) -> list[Rows]:
    """Return the rows of each sheet that has the heading of its table, in the order of the sheets.

    A workbook may hold cone readings, pits and trials on sheets of their own, and a sheet a day.
    Numbers come as they are stored, whole numbers without a point; dates as ISO 8601; true and
    false as yes and no.

    Parameters
    ----------
    blob
        The file.
    mark
        The heading by which a table of the kind is known, however it is written.

    Raises
    ------
    InputRefused
        If the file is no sound spreadsheet, no sheet is meant, cells are merged, or a formula has
        no value.
    """
    _check_kind(blob)
    book = open_book(blob)
    with _sound(blob), _loaded(book) as loaded:
        sheets = {facts.name: Sheet(facts, *_rows(loaded, facts)) for facts in book.sheets}
    held = [sheet for sheet in sheets.values() if sheet.rows]
    chosen = _chosen(blob, held, mark)
    for sheet in chosen:
        sheet.facts.check(f"{blob.name}, {sheet.facts.words}")
    told = _read_told(blob, chosen, [sheet for sheet in held if sheet not in chosen])
    return [
        Rows(
            f"{blob.name}, {sheet.facts.words}",
            sheet.rows,
            sheet.lines,
            "",
            (*(told if sheet is chosen[0] else ()), *_hidden_told(blob, sheet)),
        )
        for sheet in chosen
    ]


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """One sheet: its facts, the rows that hold anything and their numbers."""

    facts: SheetFacts
    rows: list[list[str]]
    lines: list[int]

    def has(self, mark: str, row: int = 0) -> bool:
        """Whether a cell of a row is the heading `mark`."""
        return any(plain_name(one_line(cell)) == mark for cell in self.rows[row])

    def lower_row(self, mark: str) -> int | None:
        """Return the row in which `mark` stands below a title, ``None`` where it does not."""
        top = range(1, min(len(self.rows), int(rule("heading_lines_sought"))))
        return next((row for row in top if self.has(mark, row)), None)


def _refused(blob: Blob, what: str, remedy: str) -> InputRefused:
    return InputRefused([Fault(blob.name, what, remedy)])


def _check_kind(blob: Blob) -> None:
    if blob.data.startswith(_OLD):
        what = "This is a spreadsheet of the old kind, or one with a password."
        raise _refused(blob, what, f"Save it as .xlsx without a password, {_OR_CSV}.")
    other = _other(blob)
    if other is not None:
        remedy = f"Open the readings in a spreadsheet and save them as .xlsx, {_OR_CSV}."
        raise _refused(blob, other, remedy)
    if find_spec("python_calamine") is None:
        what = "This is a spreadsheet, and the part that reads spreadsheets is not installed."
        install = f'Install it: {sys.executable} -m pip install "compaction-zoning[spreadsheets]"'
        raise _refused(blob, what, f"{install}; {_OR_CSV}.")


@contextmanager
def _sound(blob: Blob) -> Iterator[None]:
    """Turn whatever the library says of a broken file, a panic of its own included, into words."""
    try:
        yield
    except (KeyboardInterrupt, SystemExit, MemoryError, InputRefused):
        raise
    except BaseException as error:  # a panic in Rust is no `Exception`
        what = "The spreadsheet file is broken."
        raise _refused(blob, what, f"Open it and save it again, {_OR_CSV}.") from error


@contextmanager
def _loaded(book: BookFile) -> Iterator[CalamineWorkbook]:
    from python_calamine import CalamineWorkbook  # noqa: PLC0415 - an optional extra

    with CalamineWorkbook.from_filelike(io.BytesIO(book.data)) as loaded:
        yield loaded


def _rows(loaded: CalamineWorkbook, facts: SheetFacts) -> tuple[list[list[str]], list[int]]:
    """Return the rows of a sheet that hold anything, and their numbers, cut to its last column."""
    held: Sequence[Sequence[Value]] = loaded.get_sheet_by_name(facts.name).to_python(
        skip_empty_area=False
    )
    texts = [[_text(value) for value in row] for row in held]
    filled = [i for i, row in enumerate(texts) if any(map(str.strip, row))]
    width = max((i + 1 for row in texts for i, cell in enumerate(row) if cell.strip()), default=0)
    return [texts[i][:width] for i in filled], [i + 1 for i in filled]


def _text(value: Value) -> str:
    """Return a value as a CSV file would hold it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return repr(int(value)) if value.is_integer() and abs(value) < 2**53 else repr(value)
    return value.isoformat() if isinstance(value, date | time) else str(value)


def _chosen(blob: Blob, held: Sequence[Sheet], mark: str) -> Sequence[Sheet]:
    """Return the sheets that are meant: by their heading, else the only one that holds anything."""
    marked = [sheet for sheet in held if sheet.has(mark)]
    lower = {sheet: row for sheet in held if (row := sheet.lower_row(mark)) is not None}
    if marked:
        for sheet, row in lower.items():
            if sheet not in marked and _alike(sheet.rows[row], marked[0].rows[0]):
                raise _titled(blob, sheet, row, mark)
        return marked
    if len(held) == 1:
        return held
    for sheet, row in lower.items():
        raise _titled(blob, sheet, row, mark)
    if not held:
        what, remedy = "The spreadsheet holds no table.", "Give a row of headings and rows."
        raise _refused(blob, what, remedy)
    names = listed([sheet.facts.name for sheet in held])
    what = (
        f"readings.{blob.role} looks for the heading '{mark}' in the first row of a sheet; none of "
        f"{names} has it."
    )
    raise _refused(blob, what, f"Head the column '{mark}' in the sheet that is meant, {_OR_CSV}.")


def _alike(row: Sequence[str], headings: Sequence[str]) -> bool:
    """Whether a row holds most of the headings of another sheet."""
    wanted = {plain_name(cell) for cell in headings if cell.strip()}
    return len(wanted & {plain_name(cell) for cell in row}) * 2 > len(wanted)


def _titled(blob: Blob, sheet: Sheet, row: int, mark: str) -> InputRefused:
    line = sheet.lines[row]
    what = (
        f"readings.{blob.role} looks for the heading '{mark}' in the first row of a sheet; here it "
        f"stands in row {line}."
    )
    file = f"{blob.name}, {sheet.facts.words}"
    remedy = "Delete the lines above the headings."
    return InputRefused([Fault(file, what, remedy, row=sheet.lines[0])])


def _read_told(blob: Blob, chosen: Sequence[Sheet], others: Sequence[Sheet]) -> tuple[Notice, ...]:
    """Tell which sheets are read where the workbook holds more than one."""
    if len(chosen) == 1 and not others:
        return ()
    read = f"{chosen[0].facts.words} is read"
    if len(chosen) > 1:
        names = [f"{sheet.facts.name[:40]} ({len(sheet.rows) - 1} rows)" for sheet in chosen]
        read = f"sheets {listed(names)} are read, each like a file of its own"
    rest = f", not {listed([sheet.facts.name for sheet in others])}" if others else ""
    return (Notice("note", "sheet-read", f"{blob.name}: for readings.{blob.role} {read}{rest}."),)


def _hidden_told(blob: Blob, sheet: Sheet) -> Iterator[Notice]:
    """Tell what a person who looks at the sheet does not see, and is read all the same."""
    facts = sheet.facts
    columns = [
        column_name(i + 1)
        for i in range(len(sheet.rows[0]))
        if facts.hides_column(i + 1) and any(row[i].strip() for row in sheet.rows)
    ]
    for code, count, word in (
        ("sheet-hidden-rows", facts.hidden_rows, "row"),
        ("sheet-hidden-columns", len(columns), "column"),
    ):
        if count:
            said = f"1 hidden {word} is" if count == 1 else f"{count} hidden {word}s are"
            which = f" ({listed(columns)})" if word == "column" else ""
            text = f"{said} read like the others{which}. Delete what is not meant."
            yield Notice("caution", code, f"{blob.name}, {facts.words}: {text}")
    if facts.hidden:
        text = "the sheet is hidden, and is read like one that shows. Delete it if it is not meant."
        yield Notice("caution", "sheet-hidden", f"{blob.name}, {facts.words}: {text}")
