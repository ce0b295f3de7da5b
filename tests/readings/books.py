"""Spreadsheets by general-purpose libraries (openpyxl, odfpy) and, where odd, by hand."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Mapping, Sequence
from datetime import date

import openpyxl
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P

Sheets = Mapping[str, Sequence[Sequence[object]]]
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
LINK = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
ODS = "application/vnd.oasis.opendocument.spreadsheet"
MANIFEST = "urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"
PACK = "http://schemas.openxmlformats.org/package/2006/relationships"


def cells(text: str) -> list[list[object]]:
    """Return a CSV text as a person types it: numbers as numbers, the rest as text."""
    return [[_typed(cell) for cell in row] for row in csv.reader(io.StringIO(text))]


def _typed(cell: str) -> object:
    try:
        return float(cell)
    except ValueError:
        return cell or None


def xlsx(**sheets: Sequence[Sequence[object]]) -> bytes:
    """Return an .xlsx file with a sheet a keyword."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(list(row))
    return saved(book)


def saved(book: openpyxl.Workbook) -> bytes:
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def ods(**sheets: Sequence[Sequence[object]]) -> bytes:
    """Return an .ods file with a sheet a keyword; a cell may be an odfpy cell."""
    book = OpenDocumentSpreadsheet()
    for name, rows in sheets.items():
        table = Table(name=name)
        for row in rows:
            line = TableRow()
            for value in row:
                line.addElement(value if not isinstance(value, PLAIN) else _ods_cell(value))
            table.addElement(line)
        book.spreadsheet.addElement(table)
    stream = io.BytesIO()
    book.write(stream)
    return stream.getvalue()


PLAIN = (str, float, int, bool, date, type(None))


def _ods_cell(value: object) -> TableCell:
    if value is None:
        return TableCell()
    if isinstance(value, bool):
        return TableCell(valuetype="boolean", booleanvalue=str(value).lower())
    if isinstance(value, float | int):
        cell = TableCell(valuetype="float", value=repr(value))
    elif isinstance(value, date):
        cell = TableCell(valuetype="date", datevalue=value.isoformat())
    else:
        cell = TableCell(valuetype="string")
    cell.addElement(P(text=str(value)))
    return cell


def packed(parts: Mapping[str, str | bytes]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return stream.getvalue()


def raw_parts(rows: str, *, after: str = "", strings: Sequence[str] = ()) -> dict[str, str]:
    """Return the parts of an .xlsx file whose one sheet holds `rows`, given as XML."""
    shared = "".join(f"<si><t>{text}</t></si>" for text in strings)
    return {
        "_rels/.rels": f'<Relationships xmlns="{PACK}">'
        f'<Relationship Id="rId1" Type="{LINK}/officeDocument" Target="xl/workbook.xml"/>'
        "</Relationships>",
        "xl/workbook.xml": f'<workbook xmlns="{MAIN}" xmlns:r="{LINK}"><sheets>'
        '<sheet name="cone" sheetId="1" r:id="rId1"/></sheets></workbook>',
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{PACK}">'
        f'<Relationship Id="rId1" Type="{LINK}/worksheet" Target="worksheets/sheet1.xml"/>'
        f'<Relationship Id="rId2" Type="{LINK}/sharedStrings" Target="sharedStrings.xml"/>'
        "</Relationships>",
        "xl/sharedStrings.xml": f'<sst xmlns="{MAIN}">{shared}</sst>',
        "xl/worksheets/sheet1.xml": f'<worksheet xmlns="{MAIN}"><sheetData>{rows}</sheetData>'
        f"{after}</worksheet>",
    }


def raw_xlsx(rows: str, *, after: str = "", strings: Sequence[str] = ()) -> bytes:
    return packed(raw_parts(rows, after=after, strings=strings))


def raw_ods(rows: str) -> bytes:
    """Return an .ods file whose one sheet holds `rows`, given as XML."""
    office, table, text = (
        f"urn:oasis:names:tc:opendocument:xmlns:{name}:1.0" for name in ("office", "table", "text")
    )
    return packed(
        {
            "mimetype": ODS,
            "META-INF/manifest.xml": f'<m:manifest xmlns:m="{MANIFEST}">'
            f'<m:file-entry m:full-path="/" m:media-type="{ODS}"/></m:manifest>',
            "content.xml": f'<o:document-content xmlns:o="{office}" xmlns:table="{table}" '
            f'xmlns:office="{office}" xmlns:text="{text}" xmlns:calcext="urn:org:documentfoundation'
            ':names:experimental:calc:xmlns:calcext:1.0"><o:body><o:spreadsheet>'
            f'<table:table table:name="cone">{rows}</table:table>'
            "</o:spreadsheet></o:body></o:document-content>",
        }
    )
