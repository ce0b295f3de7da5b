"""Facts of the sheets of an .ods file (OpenDocument 1.3 part 3, ISO/IEC 26300)."""

from __future__ import annotations

from xml.etree.ElementTree import Element

from zoning.readings.rules import rule
from zoning.readings.sheet_facts import SheetError, SheetFacts, cell_name
from zoning.readings.xml_file import local_name, xml_events

_CELLS = ("table-cell", "covered-table-cell")
_HIDDEN = ("collapse", "filter")


def ods_sheets(content: bytes) -> list[SheetFacts]:
    """Return the facts of every sheet of ``content.xml``, in their order.

    Raises
    ------
    SheetError
        If a sheet breaks a limit.
    ValueError, LookupError, xml.etree.ElementTree.ParseError, defusedxml.DefusedXmlException
        If the file is broken.
    """
    sheets: list[SheetFacts] = []
    row, column, unseen = 0, 0, set[str]()
    for event, element in xml_events(content, "start", "end"):
        tag = local_name(element.tag)
        if tag == "table" and event == "start":
            hidden = _attribute(element, "style-name") in unseen
            sheets.append(SheetFacts(_attribute(element, "name"), hidden=hidden))
            row, column = 0, 0
        elif tag == "table-column" and event == "end" and sheets:
            column = _column(sheets[-1], element, column)
        elif tag == "table-row" and event == "end" and sheets:
            row = _row(sheets[-1], element, row)
            element.clear()
        elif tag == "style" and event == "end" and _hides(element):
            unseen.add(_attribute(element, "name"))
    return sheets


def _hides(style: Element) -> bool:
    """Whether a style hides the sheets that have it."""
    return any(
        local_name(part.tag) == "table-properties" and _attribute(part, "display") == "false"
        for part in style
    )


def _column(facts: SheetFacts, column: Element, before: int) -> int:
    """Note a column, which may stand for many, if it is hidden; return the number of the last."""
    last = before + _times(column, "number-columns-repeated")
    if _attribute(column, "visibility") in _HIDDEN:
        facts.hidden_columns.append((before + 1, last))
    return last


def _attribute(element: Element, name: str, default: str = "") -> str:
    """Return an attribute whatever prefix its namespace has in the file."""
    return next((v for k, v in element.attrib.items() if local_name(k) == name), default)


def _times(element: Element, name: str) -> int:
    times = int(_attribute(element, name, "1"))
    if times < 1:
        raise ValueError(name)
    return times


def _row(facts: SheetFacts, row: Element, above: int) -> int:
    """Count the cells of a row, which may stand for many alike; return the number of the last."""
    times = _times(row, "number-rows-repeated")
    last, column = above + times, 0
    filled = False
    for cell in row:
        if local_name(cell.tag) not in _CELLS:
            continue
        first, column = column + 1, column + _times(cell, "number-columns-repeated")
        if last > rule("sheet_rows_max") or column > rule("sheet_columns_max"):
            raise SheetError(f"A cell stands at {cell_name(last, column)}, where no sheet reaches.")
        filled |= _count(facts, cell, (above + 1, first), (last, column))
    facts.hidden_rows += times * (filled and _attribute(row, "visibility") in _HIDDEN)
    return last


def _count(facts: SheetFacts, cell: Element, first: tuple[int, int], last: tuple[int, int]) -> bool:
    """Count a cell, or a block of cells alike; return whether it holds anything."""
    spans = [_times(cell, f"number-{way}-spanned") for way in ("rows", "columns")]
    if max(spans) > 1:
        corner = cell_name(first[0] + spans[0] - 1, first[1] + spans[1] - 1)
        facts.merged.append(f"{cell_name(*first)}:{corner}")
    kinds = [v for k, v in cell.attrib.items() if local_name(k) == "value-type"]
    if "error" in kinds:
        facts.errors.append(cell_name(*first))
    elif _attribute(cell, "formula") and not kinds:
        facts.unvalued.append(cell_name(*first))
    texts = [child for child in cell if local_name(child.tag) == "p"]
    if not kinds and not texts:
        return False
    length = sum(len(text) for child in texts for text in child.itertext())
    length = max(length, len(_attribute(cell, "string-value")))
    blocks = (last[0] - first[0] + 1) * (last[1] - first[1] + 1)
    facts.reach(*last, length * blocks)
    return True
