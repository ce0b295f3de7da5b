"""Facts of the sheets of an .xlsx file (Office Open XML, ECMA-376 part 1, SpreadsheetML)."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from xml.etree.ElementTree import Element

from zoning.readings.rules import rule
from zoning.readings.sheet_facts import SheetError, SheetFacts, cell_name, column_number
from zoning.readings.xml_file import local_name, xml_events

_LINKS, _BOOK = "_rels/.rels", "officeDocument"
_CELL = re.compile(r"([A-Z]{1,3})([1-9][0-9]{0,6})", re.ASCII)
_TRUE = ("1", "true")
_SHOWN = "visible"


@dataclass(frozen=True, slots=True)
class _Book:
    """Where the parts of a workbook stand: its own, its links, its texts and styles, its sheets.

    A sheet comes as its name, its path and whether it is hidden.
    """

    path: str
    links: str
    strings: str
    styles: str
    sheets: tuple[tuple[str, str, bool], ...]


def xlsx_sheets(parts: Mapping[str, bytes]) -> tuple[list[SheetFacts], dict[str, bytes]]:
    """Return the facts of every worksheet in the order of the workbook, and the parts they need.

    Parameters
    ----------
    parts
        The XML files by their path.

    Raises
    ------
    SheetError
        If a sheet breaks a limit.
    ValueError, LookupError, xml.etree.ElementTree.ParseError, defusedxml.DefusedXmlException
        If the file is broken.
    """
    book = _book(parts)
    lengths = _string_lengths(parts.get(book.strings, b""))
    facts = [
        _facts(SheetFacts(name, hidden=hidden), parts[path], lengths)
        for name, path, hidden in book.sheets
        if _root(parts[path]) == "worksheet"
    ]
    others = (_LINKS, book.path, book.links, book.strings, book.styles)
    kept = {*others, *(path for _, path, _ in book.sheets)}
    return facts, {path: data for path, data in parts.items() if path in kept}


def is_xlsx(parts: Mapping[str, bytes]) -> bool:
    """Whether a package of XML files is a workbook, not a text or a presentation.

    Raises
    ------
    ValueError, LookupError, xml.etree.ElementTree.ParseError, defusedxml.DefusedXmlException
        If the package is broken.
    """
    return _LINKS in parts and _root(parts[_book_path(parts)]) == "workbook"


def _root(data: bytes) -> str:
    return local_name(next(xml_events(data, "start"))[1].tag)


def _targets(data: bytes, folder: str) -> dict[str, tuple[str, str]]:
    """Return the kind and the path of each part that a list of links names, by its id."""
    found: dict[str, tuple[str, str]] = {}
    for _, link in xml_events(data, "end"):
        if local_name(link.tag) == "Relationship":
            name, target = link.attrib["Id"], link.attrib["Target"]
            if name in found:
                raise ValueError(name)
            path = target[1:] if target.startswith("/") else folder + target
            found[name] = (link.attrib["Type"].rpartition("/")[2], path)
    return found


def _book_path(parts: Mapping[str, bytes]) -> str:
    (path,) = (path for kind, path in _targets(parts[_LINKS], "").values() if kind == _BOOK)
    return path


def _book(parts: Mapping[str, bytes]) -> _Book:
    path = _book_path(parts)
    folder, _, name = path.rpartition("/")
    folder = f"{folder}/" if folder else ""
    links = f"{folder}_rels/{name}.rels"
    targets = _targets(parts[links], folder)
    of_kind = dict(targets.values())
    sheets = [
        (
            sheet.attrib["name"],
            targets[_link(sheet)][1],
            sheet.get("state", _SHOWN) != _SHOWN,
        )
        for _, sheet in xml_events(parts[path], "end")
        if local_name(sheet.tag) == "sheet"
    ]
    strings, styles = of_kind.get("sharedStrings", ""), of_kind.get("styles", "")
    return _Book(path, links, strings, styles, tuple(sheets))


def _link(sheet: Element) -> str:
    (found,) = (v for k, v in sheet.attrib.items() if local_name(k) == "id" and "}" in k)
    return found


def _string_lengths(data: bytes) -> list[int]:
    """Return the length of each text of the table that all sheets share."""
    found = []
    for _, item in xml_events(data, "end") if data else ():
        if local_name(item.tag) == "si":
            found.append(sum(len(text) for text in item.itertext()))
            item.clear()
    return found


def _facts(facts: SheetFacts, data: bytes, lengths: list[int]) -> SheetFacts:
    row, column, hidden = 0, 0, False
    for event, element in xml_events(data, "start", "end"):
        tag = local_name(element.tag)
        if tag == "row" and event == "start":
            row, column = int(element.get("r", row + 1)), 0
            hidden = element.get("hidden") in _TRUE
        elif tag == "c" and event == "end":
            row, column = _place(element, row, column + 1)
            _count(facts, element, (row, column), lengths)
        elif tag == "row":
            facts.hidden_rows += hidden and facts.rows == row
            element.clear()
        elif tag == "col" and event == "end" and element.get("hidden") in _TRUE:
            facts.hidden_columns.append((int(element.attrib["min"]), int(element.attrib["max"])))
        elif tag == "mergeCell" and event == "end":
            facts.merged.append(element.attrib["ref"])
    return facts


def _place(cell: Element, row: int, column: int) -> tuple[int, int]:
    """Return where a cell stands: as it says, else next to the one before."""
    said = cell.get("r")
    if said is not None:
        match = _CELL.fullmatch(said)
        if match is None:
            raise ValueError(said)
        row, column = int(match[2]), column_number(match[1])
    if not (0 < row <= rule("sheet_rows_max") and column <= rule("sheet_columns_max")):
        raise SheetError(f"A cell stands at {cell_name(row, column)}, where no sheet reaches.")
    return row, column


def _count(facts: SheetFacts, cell: Element, place: tuple[int, int], lengths: list[int]) -> None:
    held = {local_name(child.tag): child for child in cell}
    value = (held["v"].text or "") if "v" in held else None
    kind = cell.get("t", "n")
    if kind == "e":
        facts.errors.append(cell_name(*place))
    elif "f" in held and not value and kind != "str":
        facts.unvalued.append(cell_name(*place))
    if value is None and "is" not in held:
        return
    length = lengths[_index(value)] if kind == "s" and value else len(value or "")
    if "is" in held:
        length += sum(len(text) for text in held["is"].itertext())
    facts.reach(*place, length)


def _index(text: str) -> int:
    """Return the place of a text in the shared table; one below zero is none."""
    if not (text.isascii() and text.isdigit()):
        raise ValueError(text)
    return int(text)
