"""The rows of one sheet of a spreadsheet, .xlsx or .ods, in the words of a CSV file.

python-calamine, an optional extra, reads the values. What it would pass over in silence, or what
could fill the memory, is looked for first: see `zoning.readings.sheet_facts`.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date, time, timedelta
from importlib.util import find_spec
from typing import TYPE_CHECKING

from zoning.errors import Fault, InputRefused
from zoning.model import Notice
from zoning.readings.csv_rows import Rows, one_line
from zoning.readings.files import Blob
from zoning.readings.rules import listed
from zoning.readings.sheet_facts import SheetFacts
from zoning.readings.workbook_file import BookFile, open_book

if TYPE_CHECKING:
    from python_calamine import CalamineWorkbook

Value = str | int | float | bool | date | time | timedelta
_ZIP, _OLD = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"
_OR_CSV = "or save the sheet as CSV, UTF-8"


def is_workbook(blob: Blob) -> bool:
    """Whether a file is a spreadsheet by its first bytes."""
    return blob.data.startswith((_ZIP, _OLD))


def workbook_rows(blob: Blob, is_mark: Callable[[str], bool]) -> Rows:
    """Return the rows of the sheet that has the heading of its table.

    A workbook may hold cone readings, pits and trials on sheets of their own. Numbers come as they
    are stored, whole numbers without a point; dates as ISO 8601; true and false as yes and no.

    Parameters
    ----------
    blob
        The file.
    is_mark
        Whether a heading is the one by which a table of the kind is known.

    Raises
    ------
    InputRefused
        If the file is no sound spreadsheet, no or more than one sheet is meant, cells are merged,
        or a formula has no value.
    """
    _check_kind(blob)
    book = open_book(blob)
    with _sound(blob), _loaded(book) as loaded:
        sheets = {facts.name: _rows(loaded, facts) for facts in book.sheets}
    facts = _chosen(blob, book, sheets, is_mark)
    rows, lines = sheets[facts.name]
    facts.check(f"{blob.name}, {facts.words}")
    told = _told(blob, facts, [name for name, (held, _) in sheets.items() if held])
    return Rows(f"{blob.name}, {facts.words}", rows, lines, "", told)


def _refused(blob: Blob, what: str, remedy: str) -> InputRefused:
    return InputRefused([Fault(blob.name, what, remedy)])


def _check_kind(blob: Blob) -> None:
    if blob.data.startswith(_OLD):
        what = "This is a spreadsheet of the old kind, or one with a password."
        raise _refused(blob, what, f"Save it as .xlsx without a password, {_OR_CSV}.")
    if find_spec("python_calamine") is None:
        what = "This is a spreadsheet, and the part that reads spreadsheets is not installed."
        install = "Install it: pip install 'compaction-zoning[spreadsheets]'"
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


def _chosen(
    blob: Blob,
    book: BookFile,
    sheets: dict[str, tuple[list[list[str]], list[int]]],
    is_mark: Callable[[str], bool],
) -> SheetFacts:
    """Return the one sheet that is meant: by its heading, else the only one that holds anything."""
    held = [facts for facts in book.sheets if sheets[facts.name][0]]
    marked = [
        facts for facts in held if any(is_mark(one_line(cell)) for cell in sheets[facts.name][0][0])
    ]
    if len(marked) == 1:
        return marked[0]
    if len(held) == 1:
        return held[0]
    names = listed([facts.name for facts in marked or held])
    if marked:
        what = f"Several sheets hold such readings: {names}."
        remedy = "Keep one of them, or save each as a file of its own and name the files in a list."
    elif held:
        what = f"No sheet has the headings in its first row: {names}."
        remedy = f"Put them there, {_OR_CSV}."
    else:
        what, remedy = "The spreadsheet holds no table.", "Give a row of headings and rows."
    raise _refused(blob, what, remedy)


def _told(blob: Blob, facts: SheetFacts, held: Sequence[str]) -> tuple[Notice, ...]:
    notices = []
    others = [name for name in held if name != facts.name]
    if others:
        text = f"{blob.name}: {facts.words} is read here, not {listed(others)}."
        notices.append(Notice("note", "sheet-read", text))
    if facts.hidden_rows:
        count = facts.hidden_rows
        said = "1 hidden row is" if count == 1 else f"{count} hidden rows are"
        text = f"{blob.name}, {facts.words}: {said} read like the others. Delete what is not meant."
        notices.append(Notice("caution", "sheet-hidden-rows", text))
    return tuple(notices)
