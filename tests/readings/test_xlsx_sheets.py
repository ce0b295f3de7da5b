"""Facts of .xlsx sheets, and files that lie about them."""

from __future__ import annotations

import io
import zipfile

import openpyxl
import pytest
from readings.books import LINK, MAIN, raw_parts, saved

from zoning.readings.sheet_facts import SheetError, SheetFacts
from zoning.readings.xlsx_sheets import is_xlsx, xlsx_sheets


def parts_of(data: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def raw(cells: str, **more: object) -> dict[str, bytes]:
    return {name: text.encode() for name, text in raw_parts(cells, **more).items()}  # type: ignore[arg-type]


def facts(cells: str, **more: object) -> SheetFacts:
    (found,) = xlsx_sheets(raw(cells, **more))[0]
    return found


def test_extent_text_and_order_of_sheets_are_those_of_the_library_that_wrote_them() -> None:
    book = openpyxl.Workbook()
    book.active.title = "b"
    other = book.create_sheet("a")
    book.active["C5"] = "four"
    other["B2"] = 1.5
    other["D1"].number_format = "0.0"
    first, second = xlsx_sheets(parts_of(saved(book)))[0]
    assert (first.name, first.rows, first.columns, first.text_length) == ("b", 5, 3, 4)
    assert (second.name, second.rows, second.columns) == ("a", 2, 2)


def test_cells_without_a_name_stand_next_to_one_another() -> None:
    found = facts("<row><c><v>1</v></c><c><v>2</v></c></row><row><c><v>3</v></c></row>")
    assert (found.rows, found.columns) == (2, 2)


def test_only_the_parts_that_hold_values_are_kept() -> None:
    given = {**raw("<row/>"), "xl/worksheets/sheet9.xml": b"<worksheet/>", "a.xml": b"<a/>"}
    _, kept = xlsx_sheets(given)
    assert set(kept) == set(raw("<row/>"))


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ('<row r="1048577"><c><v>1</v></c></row>', "where no sheet reaches"),
        ('<row r="-3"><c><v>1</v></c></row>', "where no sheet reaches"),
        ('<row><c r="XFE1"><v>1</v></c></row>', "where no sheet reaches"),
        ('<row><c r="A1"><v>1</v></c><c r="XFD1048576"><v>1</v></c></row>', "17179869184 cells"),
    ],
)
def test_a_cell_far_out_is_refused_before_any_memory_is_taken(cells: str, said: str) -> None:
    with pytest.raises(SheetError, match=said):
        facts(cells)


def test_one_long_text_shown_by_many_cells_is_counted_each_time() -> None:
    cells = "".join('<row><c t="s"><v>0</v></c></row>' for _ in range(1000))
    with pytest.raises(SheetError, match="more text"):
        facts(cells, strings=["x" * 100_000])


@pytest.mark.parametrize(
    "cells",
    [
        '<row><c r="7B"><v>1</v></c></row>',
        '<row r="one"><c><v>1</v></c></row>',
        '<row><c t="s"><v>4</v></c></row>',
        '<row><c t="s"><v>-1</v></c></row>',
        "<row><c>",
    ],
)
def test_a_broken_sheet_is_an_error_of_its_format(cells: str) -> None:
    with pytest.raises((ValueError, LookupError, SyntaxError)):
        facts(cells, strings=["a"])


@pytest.mark.parametrize("links", ["", 'r:id="rId1" s:id="rId2"', 'r:id="rId7"'])
def test_a_sheet_that_is_not_linked_once_is_an_error(links: str) -> None:
    book = (
        f'<workbook xmlns="{MAIN}" xmlns:r="{LINK}" xmlns:s="x"><sheets>'
        f'<sheet name="a" {links}/></sheets></workbook>'
    )
    with pytest.raises((ValueError, LookupError)):
        xlsx_sheets({**raw("<row/>"), "xl/workbook.xml": book.encode()})


def test_a_text_document_is_no_workbook() -> None:
    given = {**raw("<row/>"), "xl/workbook.xml": b"<document/>"}
    assert is_xlsx(raw("<row/>"))
    assert not is_xlsx(given)
    assert not is_xlsx({"a.xml": b"<a/>"})
