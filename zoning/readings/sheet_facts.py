"""What is to be known of a sheet before its values are taken: extent, merged cells, formulas.

The library that reads the values holds each sheet as a full rectangle, gives a formula without a
stored value and an error as blank, and a merged cell by its first one alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from zoning.errors import Fault, InputRefused
from zoning.readings.rules import listed, rule

_LETTERS = 26
_PART = "Part them and write the value into each; delete a title above the headings."
_SAVE = "Open the file in a spreadsheet and save it, or paste the values."


class SheetError(Exception):
    """A sheet breaks a limit or its own format; the message says what is wrong."""


@dataclass(slots=True)
class SheetFacts:
    """Facts of one sheet, gathered cell by cell.

    Parameters
    ----------
    name
        As the spreadsheet shows it.
    rows, columns
        Number of the last row and column that hold a value.
    text_length
        Characters of all its texts together.
    hidden
        Whether the whole sheet is hidden.
    hidden_rows
        Rows that are hidden and hold a value.
    hidden_columns
        First and last of the columns hidden together, whether they hold a value or not.
    merged, unvalued, errors
        Merged areas; formulas without a stored value; errors: by their cells, ``B7``.
    """

    name: str
    rows: int = 0
    columns: int = 0
    text_length: int = 0
    hidden: bool = False
    hidden_rows: int = 0
    hidden_columns: list[tuple[int, int]] = field(default_factory=list)
    merged: list[str] = field(default_factory=list)
    unvalued: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)

    @property
    def words(self) -> str:
        """The sheet in a message."""
        return f"sheet {self.name[:40]}"

    def hides_column(self, column: int) -> bool:
        """Whether a column, counted from 1, is hidden."""
        return any(first <= column <= last for first, last in self.hidden_columns)

    def reach(self, row: int, column: int, length: int) -> None:
        """Count a cell with a value, whose text has `length` characters.

        Raises
        ------
        SheetError
            If the sheet grows beyond its limits.
        """
        self.rows, self.columns = max(self.rows, row), max(self.columns, column)
        self.text_length += length
        cells, most = self.rows * self.columns, int(rule("sheet_cells_max"))
        if cells > most:
            raise SheetError(
                f"{self.words.capitalize()} reaches to cell {cell_name(self.rows, self.columns)}, "
                f"{cells} cells; {most} is the most."
            )
        if self.text_length > rule("sheet_text_max"):
            raise SheetError(f"{self.words.capitalize()} holds more text than readings do.")

    def check(self, file: str) -> None:
        """Refuse what would be read as blank though the spreadsheet shows something there.

        Raises
        ------
        InputRefused
            With a fault for merged cells, for formulas without a value and for errors.
        """
        found = (
            (self.merged, "{} merged.", _PART),
            (self.unvalued, "{} a formula whose value is not stored.", _SAVE),
            (self.errors, "{} an error, such as #N/A.", "Mend the formula or clear the cell."),
        )
        faults = [
            _fault(file, sorted(cells, key=_place), what, remedy)
            for cells, what, remedy in found
            if cells
        ]
        if faults:
            raise InputRefused(faults)


def _fault(file: str, cells: Sequence[str], what: str, remedy: str) -> Fault:
    return Fault(file, what.format(_cells(cells, what)), remedy, row=_place(cells[0])[0])


def _cells(cells: Sequence[str], what: str) -> str:
    alone = len(cells) == 1 and ":" not in cells[0]
    verb = ("is" if alone else "are") if "merged" in what else ("holds" if alone else "hold")
    return f"{'Cell' if alone else 'Cells'} {listed(cells)} {verb}"


def _place(cell: str) -> tuple[int, int]:
    """Return row and column of a cell, or of the first one of an area, ``B7`` or ``B7:C9``."""
    first = cell.partition(":")[0]
    letters = first.rstrip("0123456789")
    return int(first[len(letters) :]), column_number(letters)


def cell_name(row: int, column: int) -> str:
    """Return the name of a cell, both counted from 1: row 7 of column 2 is ``B7``."""
    return f"{column_name(column)}{row}"


def column_name(column: int) -> str:
    """Return the letters of a column, counted from 1: 2 is ``B``."""
    letters = ""
    while column > 0:
        column, letter = divmod(column - 1, _LETTERS)
        letters = chr(ord("A") + letter) + letters
    return letters


def column_number(letters: str) -> int:
    """Return the number of a column, counted from 1: ``B`` is 2."""
    number = 0
    for letter in letters:
        number = number * _LETTERS + ord(letter) - ord("A") + 1
    return number
