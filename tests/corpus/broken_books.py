"""Broken and hostile spreadsheets in the place of a cone log."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator

import openpyxl
from corpus.base import CONE, FIELD, PITS, Case, with_cell
from openpyxl.worksheet.worksheet import Worksheet
from readings.books import ODS, cells, ods, packed, raw_ods, raw_parts, raw_xlsx, saved, xlsx

SETTINGS = FIELD.replace('"cone.csv"', '"cone.xlsx"', 1)
NAME, SHEET = "cone.xlsx", "cone.xlsx, sheet cone"
NUMBER = 'office:value-type="float" office:value="1"'


def book(name: str, data: bytes, file: str = NAME, row: int | None = None) -> Case:
    """Return a case whose cone log is the spreadsheet `data`."""
    return Case(f"book: {name}", {NAME: data, "field.toml": SETTINGS}, file, row)


def changed(change: Callable[[Worksheet], object]) -> bytes:
    """Return the sound log as a sheet with something done to it."""
    made = openpyxl.load_workbook(io.BytesIO(xlsx(cone=cells(CONE))))
    change(made["cone"])
    return saved(made)


def cases() -> Iterator[Case]:
    """Every broken spreadsheet."""
    yield from _files()
    yield from _sheets()
    yield from _rows()
    yield from _extents()


def _files() -> Iterator[Case]:
    for kind, sound in (("xlsx", xlsx(cone=cells(CONE))), ("ods", ods(cone=cells(CONE)))):
        for number in range(1, 13):
            yield book(f"{kind} cut at {number}/13", sound[: len(sound) * number // 13])
        at = len(sound) // 3
        yield book(f"{kind} with a flipped byte", sound[:at] + b"\xff" + sound[at + 1 :])
    entity = '<!DOCTYPE w [<!ENTITY a "b">]><worksheet>&a;</worksheet>'
    for name, parts in {
        "a text document": {"word/document.xml": "<a/>"},
        "a presentation": {"mimetype": ODS.replace("spreadsheet", "presentation")},
        "without its sheet": {k: v for k, v in raw_parts("").items() if "sheet1" not in k},
        "without links": {k: v for k, v in raw_parts("").items() if "workbook.xml.rels" not in k},
        "with an entity": {**raw_parts(""), "xl/worksheets/sheet1.xml": entity},
        "with a slip": {**raw_parts(""), "../../evil.xml": "<a/>"},
        "with twins": {**raw_parts(""), "XL/workbook.xml": "<a/>"},
        "with a zip inside": {**raw_parts(""), "xl/media/a.zip": "PK"},
        "of 1,001 files": {**raw_parts(""), **{f"{i}.xml": "" for i in range(1001)}},
        "bomb": {**raw_parts(""), "xl/media/a.bin": b"\0" * 60_000_000},
        "locked": {
            "mimetype": ODS,
            "content.xml": "x",
            "META-INF/manifest.xml": "<encryption-data/>",
        },
    }.items():
        yield book(name, packed(parts))
    yield book("of the old kind", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(1024))


def _sheets() -> Iterator[Case]:
    yield book("empty", xlsx(cone=[]))
    copied = xlsx(one=cells(CONE), other=cells(CONE))
    yield book("a sheet copied", copied, "cone.xlsx, sheet other", 2)
    titled = xlsx(one=cells(CONE), other=[["Day two"], *cells(CONE)])
    yield book("a second sheet below a title", titled, "cone.xlsx, sheet other", 1)
    yield book("no sheet of readings", xlsx(pits=cells(PITS), notes=[["a note"]]))
    yield book("headings alone", xlsx(cone=cells(CONE)[:1]), SHEET)
    yield book("a title above", xlsx(cone=[["Day one"], *cells(CONE)]), SHEET, 1)
    yield book("headings merged", changed(lambda s: s.merge_cells("A1:B1")), SHEET, 1)
    yield book("stations merged", changed(lambda s: s.merge_cells("A2:A10")), SHEET, 2)
    yield book("a formula without value", changed(lambda s: _set(s, "E4", "=1+1")), SHEET, 4)
    yield book("an error", changed(lambda s: _set(s, "E4", "#N/A")), SHEET, 4)
    yield book("a column without heading", changed(lambda s: _set(s, "G4", "x")), SHEET, 4)


def _set(sheet: Worksheet, cell: str, value: object) -> None:
    sheet[cell] = value


def _rows() -> Iterator[Case]:
    for column, value in (
        ("lon", "here"),
        ("lon", ""),
        ("lat", "95"),
        ("depth_cm", "-5"),
        ("cone_index_mpa", "1.5 MPa"),
        ("cone_index_mpa", "99"),
        ("station", ""),
    ):
        data = xlsx(cone=cells(with_cell(CONE, 5, column, value)))
        yield book(f"{column} '{value}'", data, SHEET, 5)
    for value in (True, "2,5", "=", "1e999"):
        yield book(f"cone index {value!r}", changed(lambda s, v=value: _set(s, "E5", v)), SHEET, 5)


def _extents() -> Iterator[Case]:
    cell = "<table:table-cell"
    for name, data in {
        "a cell at the far corner": changed(lambda s: _set(s, "XFD1048576", 1)),
        "a row beyond the sheet": raw_xlsx('<row r="9999999"><c><v>1</v></c></row>'),
        "a row of no number": raw_xlsx('<row r="x"><c><v>1</v></c></row>'),
        "a text that is not there": raw_xlsx('<row><c t="s"><v>9</v></c></row>'),
        "one long text many times": raw_xlsx(
            '<row><c t="s"><v>0</v></c></row>' * 2000, strings=["x" * 40_000]
        ),
        "repeated rows": raw_ods(
            f'<table:table-row table:number-rows-repeated="1048576">{cell} {NUMBER} '
            'table:number-columns-repeated="16384"/></table:table-row>'
        ),
        "rows without end": raw_ods(
            f'<table:table-row table:number-rows-repeated="4000000000">{cell} {NUMBER}/>'
            "</table:table-row>"
        ),
        "rows repeated less than once": raw_ods(
            f'<table:table-row table:number-rows-repeated="-1">{cell} {NUMBER}/></table:table-row>'
        ),
    }.items():
        yield book(name, data)
