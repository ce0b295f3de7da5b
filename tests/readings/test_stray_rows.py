"""Tables as people leave them: read right, or refused in one message with row and remedy."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path

import pytest
from readings.books import xlsx
from readings.small_field import FIELD, STATIONS, Folder, blob, lonlat, table

from zoning.readings import read_field
from zoning.readings.cone import read_cone
from zoning.readings.stray_rows import headings_again, is_summary

Refusal = Callable[[Path], list[str]]
Row = Sequence[object]
HEAD: Row = ["station", "lon", "lat", "date", "5 cm", "10 cm", "15 cm"]
ROWS: Sequence[Row] = [
    [name, *lonlat(x, y), date(2026, 9, 1), 500, 1200, 2600] for name, x, y in STATIONS
]
TOML = FIELD.replace("cone.csv", "cone.xlsx") + 'cone_unit = "kPa"\n'
CENTRE = lonlat(150.0, 100.0)


def with_cells(*cells: object, at: int = 4) -> list[Row]:
    """The rows with `cells` in each of them from column `at` on."""
    return [[*row[:at], *cells, *row[at + len(cells) :]] for row in ROWS]


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([["Survey"], HEAD, *ROWS], ":1: The headings seem to stand in line 2"),
        (
            [HEAD, ["", "deg", "deg", "", "kPa", "kPa", "kPa"], *ROWS],
            ":2: The row has words where numbers belong: 'deg', 'kPa'. Delete a second row",
        ),
        (
            [HEAD, *ROWS, ["Mean", *CENTRE, "", 500, 1200, 2600]],
            ":5: station: Found 'Mean': this seems to be a row of means or totals. Delete the row",
        ),
        (
            [HEAD, *ROWS, ["Std. dev.", *CENTRE, "", 5, 12, 26]],
            ":5: station: Found 'Std. dev.': this seems to be a row of means",
        ),
        (
            [HEAD, *ROWS, ["", None, None, "Average", 500, 1200, 2600]],
            ":5: The row has no lon and no lat. Write the place in every row; delete a row",
        ),
        (
            [HEAD, *with_cells("1 200", "2 600", at=5)],
            ":2: 10 cm: Found '1 200' and 5 more such numbers: the marks part thousands. Take out",
        ),
        (
            [HEAD, *with_cells("1\u202f200", "2'600", at=5)],
            ":2: 10 cm: Found '1\\u202f200' and 5 more such numbers: the marks part thousands",
        ),
        (
            [HEAD, *with_cells(9999, at=6)],
            (
                ": rows 2-4: 15 cm: Found 9999, by which many logs mark that there is "
                "no reading. Leave the cell blank."
            ),
        ),
        (
            [HEAD, *ROWS, [], HEAD, *ROWS],
            ":6: The headings stand here again: a second table below the first. Delete the row",
        ),
        (
            [HEAD, *ROWS, ["pit", "lon", "lat", "phase", "pan"], ["P1", *CENTRE, "before", "yes"]],
            ":5: The headings stand here again: a second table below the first.",
        ),
        (
            [[*HEAD, "", *HEAD], *([*row, "", *row] for row in ROWS)],
            (
                ":1: The headings '10 cm', '15 cm', '5 cm', 'date', 'lat', 'lon', 'station' stand "
                "more than once. Keep one table a sheet"
            ),
        ),
        (
            [["", "S1", "S2"], ["lon", 1, 1], ["lat", 52, 52], ["5 cm", 500, 600]],
            (
                ":1: The headings stand down the side: 5 cm, lat, lon. Copy the table and paste it "
                "transposed"
            ),
        ),
        (
            [["depth_cm", "S1", "S2"], [5, 500, 600], [10, 800, 900]],
            ": Depths go down the side, and the other columns seem to be stations side by side.",
        ),
        (
            [[*HEAD[:4], "0-5 cm", "5\u201310 cm", "10-15 cm"], *ROWS],
            ": '0-5 cm', '5\u201310 cm', '10-15 cm': no depth with its unit alone. Head the column",
        ),
        (
            [HEAD, *with_cells("2206-09-03", at=3)],
            ": rows 2-4: date: Found '2206-09-03', which is no certain date.",
        ),
        (
            [HEAD, *with_cells(46266, at=3)],
            (
                ": rows 2-4: date: Found '46266', which is no certain date. It is a spreadsheet's "
                "number of a day: give the cells the kind date"
            ),
        ),
        (
            [HEAD, *with_cells("stone", at=5)],
            ": rows 2-4: 10 cm: Found 'stone', which is not a plain finite number. Give a number",
        ),
        ([HEAD, *with_cells("n/a", at=5)], ": rows 2-4: 10 cm: Found 'n/a', which is not a plain"),
        (
            [HEAD, *with_cells("-", "-", at=5)],
            ": rows 2-4: 10 cm to 15 cm: Found '-', which is not a plain finite number.",
        ),
    ],
)
def test_a_table_as_a_person_leaves_it_is_refused_in_one_message(
    folder: Folder, refusal: Refusal, rows: list[Row], words: str
) -> None:
    pytest.importorskip("python_calamine")
    (fault,) = refusal(folder(TOML, cone__xlsx=xlsx(Data=rows)))
    assert fault.startswith(f"cone.xlsx, sheet Data{words}")


def test_an_empty_sheet_beside_the_readings_is_passed_over(folder: Folder) -> None:
    pytest.importorskip("python_calamine")
    inputs = read_field(folder(TOML, cone__xlsx=xlsx(Empty=[], Data=[HEAD, *ROWS])))
    assert len(inputs.cone) == 9
    assert set(inputs.cone["date"]) == {"2026-09-01"}


def test_commas_between_thousands_beside_points_are_no_decimal_commas() -> None:
    head = "station;lon;lat;5 cm;10 cm;15 cm\n"
    text = head + "".join(f"{name};0.25;52.1;500;1,200;2,600\n" for name in "ABC")
    checked = read_cone(blob(text, "c.csv"), cone_unit="kPa", crs_given=False, areas=[])
    (fault,) = checked.faults
    assert str(fault) == (
        "c.csv:2: 10 cm: Found '1,200' and 5 more such numbers: the commas may be thousands marks. "
        "Without them the numbers fit kPa. Take out the commas between thousands."
    )


@pytest.mark.parametrize(("unit", "numbers"), [("MPa", "0,5;1,2;2,6"), ("kPa", "512,5;640,125;99")])
def test_decimal_commas_stay_decimal_commas(unit: str, numbers: str) -> None:
    text = f"station;lon;lat;5 cm;10 cm;15 cm\nA;0,25;52,1;{numbers}\n"
    checked = read_cone(blob(text, "c.csv"), cone_unit=unit, crs_given=False, areas=[])
    assert checked.faults == ()


@pytest.mark.parametrize(
    "name", ["mean", "S1 mean", "AVG", "Average:", "Std. Dev.", "Total", "Max"]
)
def test_names_of_summaries(name: str) -> None:
    assert is_summary(name)


@pytest.mark.parametrize("name", ["S1", "SE", "N", "Meaner", "Total pad", "12", "Maxwell", ""])
def test_names_of_places(name: str) -> None:
    assert not is_summary(name)


def test_one_word_like_its_heading_is_a_cell_like_others() -> None:
    assert headings_again(table("station,note\nS1,Note\nstation,x\n", "station", "note")) is None
    assert headings_again(table("station,note\nS1,x\nStation,NOTE\n", "station", "note")) == 1


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"<html><table><tr><td>station</td></tr></table></html>", "a web page or an XML file"),
        (b'\xef\xbb\xbf<?xml version="1.0"?><Workbook/>', "a web page or an XML file"),
        (b"%PDF-1.4\n", "This is a PDF."),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "a spreadsheet of the old kind"),
        (b"\x09\x08\x10\x00\x00\x06\x05\x00", "a spreadsheet of the old kind"),
    ],
)
def test_what_is_no_table_is_named_with_what_to_do(
    folder: Folder, refusal: Refusal, data: bytes, words: str
) -> None:
    toml = FIELD.replace("cone.csv", "cone.xls")
    (fault,) = refusal(folder(toml, cone__xls=data))
    assert words in fault
    assert ".xlsx" in fault
    assert "CSV" in fault
