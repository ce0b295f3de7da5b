"""Spreadsheet files that are broken, hostile or something else."""

from __future__ import annotations

import io
import zipfile

import pytest
from readings.books import ODS, cells, ods, packed, raw_ods, raw_parts, xlsx
from readings.small_field import CONE, blob, faults_of

from zoning.readings.workbook_file import open_book

SOUND = xlsx(cone=cells(CONE))
ENTITY = '<!DOCTYPE a [<!ENTITY b "c">]><worksheet>&b;</worksheet>'


def said(data: bytes) -> str:
    (fault,) = faults_of(lambda: open_book(blob(data, "r.xlsx")))
    return fault


BINARY: dict[str, str | bytes] = {
    "[Content_Types].xml": "<Types/>",
    "_rels/.rels": raw_parts("")["_rels/.rels"].replace("workbook.xml", "workbook.bin"),
}


@pytest.mark.parametrize("data", [SOUND, ods(cone=cells(CONE))], ids=["xlsx", "ods"])
def test_the_copy_that_is_read_holds_plain_parts_of_the_size_they_say(data: bytes) -> None:
    with zipfile.ZipFile(io.BytesIO(open_book(blob(data)).data)) as copy:
        assert copy.testzip() is None
        assert {info.compress_type for info in copy.infolist()} == {zipfile.ZIP_STORED}
        assert all(name.endswith((".xml", ".rels", "mimetype")) for name in copy.namelist())


@pytest.mark.parametrize("share", range(1, 8))
@pytest.mark.parametrize("data", [SOUND, ods(cone=cells(CONE))], ids=["xlsx", "ods"])
def test_a_file_cut_short_is_broken(data: bytes, share: int) -> None:
    assert "broken" in said(data[: len(data) * share // 8])


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ({**raw_parts(""), "a.xml": b" " * 30_000_000}, "would unpack to 30.0 MB"),
        ({**raw_parts(""), **{f"{i}.xml": "" for i in range(1001)}}, "holds 1006 files"),
        ({**raw_parts(""), "../../evil.xml": "<a/>"}, "leaves its folder"),
        ({**raw_parts(""), "XL/workbook.xml": "<a/>"}, "stands twice"),
        ({**raw_parts(""), "b.zip": "PK"}, "is an archive itself"),
        ({**raw_parts(""), "xl/worksheets/sheet1.xml": ENTITY}, "broken"),
        ({**raw_parts(""), "xl/worksheets/sheet1.xml": "<worksheet>"}, "broken"),
        ({k: v for k, v in raw_parts("").items() if "sheet1" not in k}, "broken"),
        ({k: v for k, v in raw_parts("").items() if "rels/work" not in k}, "broken"),
        ({"word/document.xml": "<a/>"}, "no spreadsheet of the kind"),
        (
            {**BINARY, "xl/workbook.bin": b"\x83\x01\x00"},
            "a binary spreadsheet (.xlsb), which is not read. Save it as .xlsx, or save the sheet",
        ),
        ({"mimetype": ODS.replace("spreadsheet", "text"), "content.xml": "<a/>"}, "no spreadsheet"),
        ({"mimetype": ODS, "content.xml": "<a/>"}, "broken"),
        (
            {"mimetype": ODS, "content.xml": "x", "META-INF/manifest.xml": "<encryption-data/>"},
            "locked with a password",
        ),
    ],
)
def test_a_hostile_or_another_file_is_refused_in_words(
    parts: dict[str, str | bytes], words: str
) -> None:
    assert words in said(packed(parts))


def test_a_sheet_beyond_its_limits_is_refused_with_a_remedy() -> None:
    cell = '<table:table-cell office:value-type="float" office:value="1"'
    line = f'<table:table-row table:number-rows-repeated="1000000">{cell}'
    told = said(raw_ods(f'{line} table:number-columns-repeated="9"/></table:table-row>'))
    assert "9000000 cells; 5000000 is the most. Clear what is no reading" in told
