"""Sheets of a spreadsheet against the same table as CSV; files by openpyxl and odfpy."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable, Sequence
from datetime import date, datetime, time

import openpyxl
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.utils.datetime import CALENDAR_MAC_1904
from readings.books import cells, ods, raw_ods, raw_xlsx, saved, xlsx
from readings.small_field import CONE, FIELD, STATIONS, Folder, codes, faults_of, long_log, lonlat

from zoning.readings import read_field
from zoning.readings.csv_rows import Rows
from zoning.readings.files import Blob
from zoning.readings.workbook import workbook_rows

BOOK = FIELD.replace("cone.csv", "readings.xlsx")
PITS = "pit,phase,lon,lat,pan,pan_base_cm\nP1,before,{},{},yes,34\n".format(*lonlat(60, 60))
LOCAL = {"lon": "B", "lat": "C", "depth_cm": "D", "cone_index_mpa": "E"}


def sheets(data: bytes) -> list[Rows]:
    return workbook_rows(Blob("cone", "r.xlsx", data), "station")


def rows(data: bytes) -> Rows:
    (one,) = sheets(data)
    return one


def values(frame: pd.DataFrame) -> pd.DataFrame:
    return frame.drop(columns=["file"])


@pytest.mark.parametrize("write", [xlsx, ods], ids=["xlsx", "ods"])
def test_a_log_is_read_as_the_same_log_in_csv(write: Callable[..., bytes], folder: Folder) -> None:
    plain = read_field(folder())
    book = read_field(folder(BOOK, readings__xlsx=write(cone=cells(CONE))))
    pd.testing.assert_frame_equal(values(plain.cone), values(book.cone), check_exact=True)
    assert set(book.cone["file"]) == {"readings.xlsx, sheet cone"}
    assert book.files[-1].name == "readings.xlsx"


@pytest.mark.parametrize("write", [xlsx, ods], ids=["xlsx", "ods"])
def test_each_table_finds_its_own_sheet_and_says_so(
    write: Callable[..., bytes], folder: Folder
) -> None:
    toml = BOOK + 'pits = "readings.xlsx"\n'
    notes = [["about"], ["walked by nobody"]]
    data = write(notes=notes, cone=cells(CONE), pits=cells(PITS))
    read = read_field(folder(toml, readings__xlsx=data))
    assert (len(read.cone), list(read.pits["pit"])) == (len(CONE.splitlines()) - 1, ["P1"])
    told = sorted(n.text for n in read.notices if n.code == "sheet-read")
    assert told == [
        "readings.xlsx: for readings.cone sheet cone is read, not notes, pits.",
        "readings.xlsx: for readings.pits sheet pits is read, not notes, cone.",
    ]


@pytest.mark.parametrize("write", [xlsx, ods], ids=["xlsx", "ods"])
def test_a_sheet_a_day_is_read_as_a_file_a_day(write: Callable[..., bytes], folder: Folder) -> None:
    first, second = long_log(STATIONS[:2]), long_log(STATIONS[1:], index=2.0)
    data = write(zulu=cells(first), alpha=cells(second))
    book = read_field(folder(BOOK, readings__xlsx=data))
    toml = FIELD.replace('"cone.csv"', '["cone.csv", "second.csv"]')
    plain = read_field(folder(toml, cone__csv=first, second__csv=second))
    pd.testing.assert_frame_equal(values(plain.cone), values(book.cone), check_exact=True)
    assert set(book.cone["file"]) == {"readings.xlsx, sheet zulu", "readings.xlsx, sheet alpha"}
    (told,) = [n.text for n in book.notices if n.code == "sheet-read"]
    assert told == (
        "readings.xlsx: for readings.cone sheets zulu (18 rows), alpha (18 rows) are read, each "
        "like a file of its own."
    )


def test_sheets_come_in_the_order_of_the_workbook_and_the_others_are_named() -> None:
    data = xlsx(b=cells(CONE), pits=cells(PITS), a=cells(CONE))
    one, other = sheets(data)
    assert [one.file, other.file] == ["r.xlsx, sheet b", "r.xlsx, sheet a"]
    (told,) = one.notices
    assert told.text.endswith("each like a file of its own, not pits.")
    assert other.notices == ()


@pytest.mark.parametrize("numbered", [True, False])
def test_a_sheet_that_is_a_copy_is_refused_with_both_names_and_the_remedy(
    folder: Folder, refusal: Callable[..., list[str]], *, numbered: bool
) -> None:
    log = cells(CONE)
    if numbered:
        log = [[*row, 1 if i else "insertion"] for i, row in enumerate(log)]
    data = xlsx(**{"Kegel": log, "Kegel (2)": log[:19]})
    (said,) = refusal(folder(BOOK, readings__xlsx=data))
    assert said.startswith("readings.xlsx, sheet Kegel (2): rows 2, 11: ")
    assert "readings.xlsx, sheet Kegel." in said
    assert "delete the sheet or rename its heading 'station'" in said


def test_sheets_without_the_heading_are_named_with_it_and_with_the_key() -> None:
    (said,) = faults_of(lambda: rows(xlsx(one=[["a"]], other=[["b"]])))
    assert "readings.cone looks for the heading 'station' in the first row" in said
    assert "none of one, other has it." in said


def test_a_title_above_the_headings_is_named_with_its_sheet_and_the_heading() -> None:
    titled = [["Day one"], [], *cells(CONE)]
    other = {"Gruben": cells(PITS), "Legende": [["word", "meaning"]]}
    for more in (other, {"Day two": cells(CONE), **other}):
        (said,) = faults_of(lambda more=more: sheets(xlsx(Kegel=titled, **more)))
        assert said == (
            "r.xlsx, sheet Kegel:1: readings.cone looks for the heading 'station' in the first row "
            "of a sheet; here it stands in row 3. Delete the lines above the headings."
        )


def test_a_legend_that_explains_the_heading_is_no_titled_sheet() -> None:
    legend = [["word", "meaning"], ["station", "name of the place"]]
    (read,) = sheets(xlsx(cone=cells(CONE), legend=legend))
    assert read.file == "r.xlsx, sheet cone"


def test_a_sheet_alone_is_taken_whatever_its_headings_and_the_usual_checks_speak(
    folder: Folder, refusal: Callable[..., list[str]]
) -> None:
    titled = [["Day one"], [], *cells(CONE)]
    (said,) = refusal(folder(BOOK, readings__xlsx=xlsx(cone=titled)))
    assert said.startswith("readings.xlsx, sheet cone:1: The headings seem to stand in line 3")


def test_a_fault_names_the_sheet_and_the_row_that_the_spreadsheet_shows(
    folder: Folder, refusal: Callable[..., list[str]]
) -> None:
    table = cells(CONE)
    table[4][1] = "here"
    (said,) = refusal(folder(BOOK, readings__xlsx=xlsx(cone=[[], *table])))
    assert said.startswith("readings.xlsx, sheet cone:6: lon: Found 'here'")


def test_a_number_typed_as_text_with_a_comma_is_not_guessed(
    folder: Folder, refusal: Callable[..., list[str]]
) -> None:
    table = cells(CONE)
    table[3][4] = "2,5"
    (said,) = refusal(folder(BOOK, readings__xlsx=xlsx(cone=table)))
    assert "Found the text '2,5'. Turn it into a number in the spreadsheet." in said


@given(
    st.lists(
        st.floats(allow_nan=False, allow_infinity=False)
        | st.integers(-(2**53) + 1, 2**53 - 1).map(float),
        min_size=1,
        max_size=5,
    )
)
def test_no_digit_of_a_number_is_lost(numbers: Sequence[float]) -> None:
    stored = "".join(
        f'<row r="{i}"><c r="A{i}"><v>{number!r}</v></c></row>'
        for i, number in enumerate(numbers, start=2)
    )
    head = '<row r="1"><c r="A1" t="inlineStr"><is><t>station</t></is></c></row>'
    read = rows(raw_xlsx(head + stored)).rows[1:]
    assert [float(cell) for (cell,) in read] == list(numbers)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (3, "3"),
        (3.5, "3.5"),
        (True, "yes"),
        (False, "no"),
        ("007", "007"),
        (date(2026, 9, 3), "2026-09-03"),
        ("  a  ", "  a  "),
    ],
)
@pytest.mark.parametrize("write", [xlsx, ods], ids=["xlsx", "ods"])
def test_each_kind_of_value_becomes_the_text_of_a_csv_file(
    write: Callable[..., bytes], value: object, text: str
) -> None:
    assert rows(write(cone=[["station", "x"], ["S1", value]])).rows[1][1].strip() == text.strip()


@pytest.mark.parametrize(
    ("value", "text"),
    [(datetime(2026, 9, 3, 14, 5), "2026-09-03T14:05:00"), (time(3, 4), "03:04:00")],  # noqa: DTZ001
)
def test_times_are_iso_too(value: object, text: str) -> None:
    assert rows(xlsx(cone=[["station", "x"], ["S1", value]])).rows[1][1] == text


def test_dates_count_from_the_epoch_of_the_file() -> None:
    book = openpyxl.Workbook()
    book.epoch = CALENDAR_MAC_1904
    for row in (["station", "date"], ["S1", date(2026, 9, 3)]):
        book.active.append(row)
    assert rows(saved(book)).rows[1][1] == "2026-09-03"


def test_a_formula_gives_the_value_that_was_stored_with_it() -> None:
    head = '<row r="1"><c r="A1" t="inlineStr"><is><t>station</t></is></c></row>'
    cell = '<row r="2"><c r="A2"><f>0.1+0.2</f><v>0.30000000000000004</v></c></row>'
    assert rows(raw_xlsx(head + cell)).rows[1] == ["0.30000000000000004"]


def with_change(change: Callable[[openpyxl.worksheet.worksheet.Worksheet], None]) -> bytes:
    book = openpyxl.Workbook()
    for row in cells(CONE):
        book.active.append(row)
    change(book.active)
    return saved(book)


def test_merged_cells_of_the_headings_or_below_are_refused() -> None:
    data = with_change(lambda sheet: [sheet.merge_cells("A1:B1"), sheet.merge_cells("A4:A9")])
    (said,) = faults_of(lambda: rows(data))
    assert said.startswith("r.xlsx, sheet Sheet:1: Cells A1:B1, A4:A9 are merged. Part them")


def test_a_formula_without_a_value_is_refused_not_read_as_blank() -> None:
    data = with_change(lambda sheet: sheet.__setitem__("E7", "=1+1"))
    (said,) = faults_of(lambda: rows(data))
    assert "Sheet:7: Cell E7 holds a formula whose value is not stored." in said


def test_an_error_is_refused_not_read_as_blank() -> None:
    data = with_change(lambda sheet: sheet.__setitem__("E7", "#DIV/0!"))
    (said,) = faults_of(lambda: rows(data))
    assert "Sheet:7: Cell E7 holds an error, such as #N/A." in said


def test_hidden_rows_are_read_and_told(folder: Folder) -> None:
    def hide(sheet: openpyxl.worksheet.worksheet.Worksheet) -> None:
        sheet.row_dimensions[5].hidden = sheet.row_dimensions[99].hidden = True

    read = read_field(folder(BOOK, readings__xlsx=with_change(hide)))
    assert len(read.cone) == len(CONE.splitlines()) - 1
    assert "sheet-hidden-rows" in codes(read)
    (told,) = [n.text for n in read.notices if n.code == "sheet-hidden-rows"]
    assert told.startswith("readings.xlsx, sheet Sheet: 1 hidden row is read like the others.")


@pytest.mark.parametrize("visible", ["hidden", "veryHidden"])
def test_hidden_columns_and_a_hidden_sheet_are_read_and_told(folder: Folder, visible: str) -> None:
    def hide(sheet: openpyxl.worksheet.worksheet.Worksheet) -> None:
        for letter in ("B", "AZ"):
            sheet.column_dimensions[letter].hidden = True
        sheet.sheet_state = visible
        sheet.parent.create_sheet("notes")

    plain = read_field(folder(BOOK, readings__xlsx=xlsx(Sheet=cells(CONE))))
    read = read_field(folder(BOOK, readings__xlsx=with_change(hide)))
    pd.testing.assert_frame_equal(read.cone, plain.cone)
    told = {n.code: n.text for n in read.notices if n.code.startswith("sheet-hidden")}
    assert set(told) == {"sheet-hidden-columns", "sheet-hidden"}
    said = "readings.xlsx, sheet Sheet: 1 hidden column is read like the others (B). Delete"
    assert told["sheet-hidden-columns"].startswith(said)
    assert "the sheet is hidden, and is read" in told["sheet-hidden"]
    assert not any(n.code.startswith("sheet-hidden") for n in plain.notices)


def test_an_ods_error_and_an_ods_formula_without_value_are_refused() -> None:
    head = (
        '<table:table-cell office:value-type="string"><text:p>station</text:p></table:table-cell>'
    )
    error = (
        '<table:table-cell table:formula="of:=NA()" office:value-type="string" '
        'office:string-value="" calcext:value-type="error"><text:p>#N/A</text:p></table:table-cell>'
    )
    bare = '<table:table-cell table:formula="of:=1+1"/>'
    lines = "".join(f"<table:table-row>{cell}</table:table-row>" for cell in (head, error, bare))
    said = faults_of(lambda: rows(raw_ods(lines)))
    assert any("cone:2: Cell A2 holds an error" in fault for fault in said)
    assert any("cone:3: Cell A3 holds a formula" in fault for fault in said)


def test_without_the_extra_the_remedy_names_it_and_csv(monkeypatch: pytest.MonkeyPatch) -> None:
    found = importlib.util.find_spec
    monkeypatch.setattr(
        "zoning.readings.workbook.find_spec",
        lambda name: None if name == "python_calamine" else found(name),
    )
    (said,) = faults_of(lambda: rows(xlsx(cone=cells(CONE))))
    assert "compaction-zoning[spreadsheets]" in said
    assert "CSV" in said


def test_a_spreadsheet_of_the_old_kind_is_refused_with_a_remedy() -> None:
    (said,) = faults_of(lambda: rows(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600)))
    assert "old kind, or one with a password" in said
    assert ".xlsx" in said
