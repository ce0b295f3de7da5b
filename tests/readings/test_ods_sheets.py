"""Facts of .ods sheets, and files that lie about them."""

from __future__ import annotations

import io
import zipfile

import pytest
from odf.opendocument import OpenDocumentSpreadsheet
from odf.style import Style, TableProperties
from odf.table import Table, TableCell
from readings.books import ods, raw_ods

from zoning.readings.ods_sheets import ods_sheets
from zoning.readings.sheet_facts import SheetError, SheetFacts

ONE = '<table:table-cell office:value-type="float" office:value="1"/>'


def content(data: bytes) -> bytes:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return archive.read("content.xml")


def facts(rows: str) -> SheetFacts:
    (found,) = ods_sheets(content(raw_ods(rows)))
    return found


def test_extent_text_and_order_of_sheets_are_those_that_were_written() -> None:
    first, second = ods_sheets(content(ods(b=[[], [None, "four", None]], a=[[1.5]])))
    assert (first.name, first.rows, first.columns, first.text_length) == ("b", 2, 2, 4)
    assert (second.name, second.rows, second.columns) == ("a", 1, 1)


def test_blank_cells_to_the_end_of_the_sheet_count_for_nothing() -> None:
    rest = '<table:table-cell table:number-columns-repeated="16383"/>'
    many = 'table:number-rows-repeated="1048575"'
    below = f"<table:table-row {many}><table:table-cell/></table:table-row>"
    found = facts(f"<table:table-row>{ONE}{rest}</table:table-row>{below}")
    assert (found.rows, found.columns) == (1, 1)


def test_merged_cells_are_named_by_their_corners() -> None:
    (found,) = ods_sheets(
        content(ods(cone=[["a"], [None, TableCell(numberrowsspanned=2, numbercolumnsspanned=3)]]))
    )
    assert found.merged == ["B2:D3"]


def test_hidden_rows_that_hold_something_are_counted() -> None:
    hidden = f'<table:table-row table:visibility="filter" table:number-rows-repeated="3">{ONE}'
    blank = '<table:table-row table:visibility="collapse"><table:table-cell/></table:table-row>'
    assert facts(f"{hidden}</table:table-row>{blank}").hidden_rows == 3


def test_hidden_columns_are_known_by_number_and_a_hidden_sheet_by_its_style() -> None:
    columns = (
        '<table:table-column table:number-columns-repeated="2"/>'
        '<table:table-column table:visibility="collapse" table:number-columns-repeated="3"/>'
        "<table:table-column/>"
    )
    found = facts(f"{columns}<table:table-row>{ONE}</table:table-row>")
    assert [i for i in range(1, 9) if found.hides_column(i)] == [3, 4, 5]
    assert not found.hidden
    book = OpenDocumentSpreadsheet()
    for name, display in (("shown", "true"), ("unseen", "false")):
        style = Style(name=f"ta-{name}", family="table")
        style.addElement(TableProperties(display=display))
        book.automaticstyles.addElement(style)
        book.spreadsheet.addElement(Table(name=name, stylename=style))
    stream = io.BytesIO()
    book.write(stream)
    sheets = ods_sheets(content(stream.getvalue()))
    assert {sheet.name: sheet.hidden for sheet in sheets} == {"shown": False, "unseen": True}


@pytest.mark.parametrize(
    ("rows", "columns", "said"),
    [
        (1_048_576, 16_384, "17179869184 cells"),
        (4_000_000_000, 1, "where no sheet reaches"),
        (1, 4_000_000_000, "where no sheet reaches"),
    ],
)
def test_cells_that_are_repeated_without_end_are_refused(
    rows: int, columns: int, said: str
) -> None:
    cell = ONE.replace("/>", f' table:number-columns-repeated="{columns}"/>')
    line = f'<table:table-row table:number-rows-repeated="{rows}">{cell}</table:table-row>'
    with pytest.raises(SheetError, match=said):
        facts(line)


def test_a_text_that_is_repeated_is_counted_each_time() -> None:
    cell = '<table:table-cell office:value-type="string"><text:p>{}</text:p></table:table-cell>'
    line = '<table:table-row table:number-rows-repeated="9999">{}</table:table-row>'
    with pytest.raises(SheetError, match="more text"):
        facts(line.format(cell.format("x" * 10_000)))


@pytest.mark.parametrize("times", ["0", "-1", "many", ""])
def test_a_count_that_is_none_is_an_error_of_its_format(times: str) -> None:
    with pytest.raises(ValueError, match=r".*"):
        facts(f'<table:table-row table:number-rows-repeated="{times}">{ONE}</table:table-row>')
