"""The words of a PDF: of the sheet as another reader has them, and of small files made by hand."""

from __future__ import annotations

import logging
import shutil
import subprocess
import sys
import zlib
from pathlib import Path

import pytest

from zoning.contracts import constant
from zoning.model import Plan
from zoning.outputs.sheet.pages import write_sheet
from zoning.outputs.verify.pdf_text import read_pdf

MAP = b"""begincmap
1 begincodespacerange
<0000> <FFFF>
endcodespacerange
4 beginbfchar
<0041> <0061>
<0042> <00620063>
<0028> <0078>
<0029> <0079>
endbfchar
"""


PAGE = b"<</Type/Page/Resources 3 0 R/Parent 1 0 R/Contents 5 0 R>>"


def pdf_of(content: bytes, *more: bytes, packed: bool = False, page: bytes = PAGE) -> bytes:
    """Return a PDF of one page with a font F whose codes are those of `MAP`.

    `more` are its objects from 7 on; the first is the top of its structure.
    """
    held = zlib.compress(content) if packed else content
    kind = b"/Filter/FlateDecode" if packed else b""
    bodies = [
        b"<</Type/Pages/Count 1/Kids[2 0 R]>>",
        page,
        b"<</Font<</F 4 0 R>>>>",
        b"<</Type/Font/Subtype/Type0/ToUnicode 6 0 R>>",
        b"<</Length %d%s>>\nstream\n%s\nendstream" % (len(held), kind, held),
        b"<</Length %d>>\nstream\n%s\nendstream" % (len(MAP), MAP),
        *more,
        b"<</Type/Catalog/Pages 1 0 R%s>>" % (b"/StructTreeRoot<</K 7 0 R>>" if more else b""),
    ]
    made, places = b"%PDF-1.7\n", []
    for number, body in enumerate(bodies, 1):
        places.append(len(made))
        made += b"%d 0 obj\n%s\nendobj\n" % (number, body)
    table = b"".join(b"%010d 00000 n \n" % at for at in places)
    head = b"xref\n0 %d\n0000000000 65535 f \n" % (len(places) + 1)
    trailer = b"trailer\n<</Size %d/Root %d 0 R>>\n" % (len(places) + 1, len(places))
    return made + head + table + trailer + b"startxref\n%d\n%%%%EOF\n" % len(made)


def shown(content: bytes) -> list[str]:
    return [text.words for text in read_pdf(pdf_of(content)).texts]


@pytest.fixture(scope="module")
def sheet(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("sheet") / "operator_sheet.pdf"
    write_sheet(plan, path)
    return path


def test_every_row_of_every_table_is_what_poppler_reads(sheet: Path) -> None:
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext (poppler) is not installed")
    done = subprocess.run(["pdftotext", "-layout", sheet, "-"], capture_output=True, check=True)
    lines = [" ".join(line.split()) for line in done.stdout.decode("utf-8").splitlines()]
    tables = read_pdf(sheet.read_bytes()).tables
    zones = [table for table in tables if "Zone" in table[0]]
    assert [row[1] for row in zones[0][1:]] == ["1", "2", "3"]
    for row in zones[0]:
        assert " ".join(cell for cell in row if cell) in lines


def test_every_word_is_one_that_poppler_reads(sheet: Path) -> None:
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext (poppler) is not installed")
    done = subprocess.run(["pdftotext", sheet, "-"], capture_output=True, check=True)
    theirs = "".join(done.stdout.decode("utf-8").split())
    texts = [word for text in read_pdf(sheet.read_bytes()).texts for word in text.words.split()]
    assert len(texts) > 100
    assert [text for text in texts if text not in theirs] == []


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (rb"(\000A\000B)", "abc"),
        (rb"(\000A\0\102)", "abc"),
        (rb"<0041 0042>", "abc"),
        (rb"(\000\(\000\))", "xy"),
        (b"(\0(\0))", "xy"),
        (rb"(\000A\000Z)", "a\ufffd"),
    ],
)
def test_texts_are_read_however_they_are_spelt(text: bytes, words: str) -> None:
    # ISO 32000-1:2008, 7.3.4: escapes, octal codes, brackets in pairs, hexadecimal
    assert shown(b"BT /F 9 Tf " + text + b" Tj ET") == [words]


def test_letters_set_one_by_one_are_one_text_while_they_follow_each_other() -> None:
    letter = b"q 1 0 0 1 %d %d cm BT /F 10 Tf (\0A) Tj ET Q "
    assert shown(letter % (0, 0) + letter % (6, 0)) == ["aa"]
    assert shown(letter % (0, 0) + letter % (90, 0)) == ["a", "a"]
    assert shown(letter % (0, 0) + letter % (6, 7)) == ["a", "a"]
    assert shown(letter % (6, 0) + letter % (0, 0)) == ["a", "a"]


def test_cells_are_found_by_their_marks() -> None:
    content = b"/P<</MCID 0>>BDC BT /F 9 Tf (\0A) Tj ET EMC /Artifact BMC (\0A) Tj EMC "
    content += b"/P<</MCID 1/Alt(\0A)>>BDC BT [(\0B) 20 (\0A)] TJ ET EMC"
    tree = (
        b"<</S/Table/K[8 0 R]>>", b"<</S/TBody/K[9 0 R]>>", b"<</S/TR/K[10 0 R 11 0 R]>>",
        b"<</S/TD/K[12 0 R]>>", b"<</S/TD/K[<</Type/MCR/Pg 2 0 R/MCID 1>>]>>",
        b"<</S/Strong/K[0]/Pg 2 0 R>>",
    )  # fmt: skip
    pdf = read_pdf(pdf_of(content, *tree))
    assert pdf.tables == ([["a", "bca"]],)
    assert pdf.letters == "abca"


def test_spaced_dictionaries_and_resources_of_the_page_itself_are_read() -> None:
    page = b"<<\n  /Type /Page\n  /Resources << /Font <<\n /F 4 0 R >> >>\n  /Contents 5 0 R\n>>"
    data = pdf_of(b"BT /F 9 Tf (\0A) Tj ET", page=page)
    assert [text.words for text in read_pdf(data).texts] == ["a"]


def test_a_cell_that_holds_itself_is_refused() -> None:
    tree = (
        b"<</S/Table/K[8 0 R]>>", b"<</S/TBody/K[9 0 R]>>", b"<</S/TR/K[10 0 R]>>",
        b"<</S/TD/K[10 0 R]>>",
    )  # fmt: skip
    with pytest.raises(ValueError, match="stands in two places"):
        read_pdf(pdf_of(b"", *tree))


def test_a_page_that_unpacks_to_too_much_is_refused() -> None:
    most = int(constant("verify_rules", "page_most_bytes"))
    with pytest.raises(ValueError, match="Limit reached"):
        read_pdf(pdf_of(b" " * 2 * most, packed=True))


def test_what_is_cut_or_moved_is_refused(sheet: Path) -> None:
    whole = sheet.read_bytes()
    for data in (b"", whole[:-20], whole.replace(b"1 0 obj\n", b"1 0 obj \n", 1)):
        with pytest.raises(ValueError, match="it is damaged, or no sheet"):
            read_pdf(data)


def test_what_must_be_mended_is_refused_and_nothing_is_printed(
    capfd: pytest.CaptureFixture[str],
) -> None:
    data = pdf_of(b"BT /F 9 Tf (\0A) Tj ET" * 9, packed=True)
    assert len(read_pdf(data).texts) == 1
    before = list(logging.getLogger("pypdf").handlers)
    with pytest.raises(ValueError, match="incorrect header"):
        read_pdf(data.replace(b"\x78\x9c", b"\x78\x9d"))
    assert logging.getLogger("pypdf").handlers == before
    assert capfd.readouterr() == ("", "")


def test_a_plan_being_made_loads_no_reader_of_pdfs() -> None:
    code = (
        "import sys, zoning.workflow.make, zoning.workflow.files; assert 'pypdf' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_a_text_without_end_is_refused() -> None:
    with pytest.raises(ValueError, match="ended unexpectedly"):
        read_pdf(pdf_of(b"BT /F 9 Tf (\0A Tj ET"))


def test_a_file_without_texts_has_none() -> None:
    assert read_pdf(pdf_of(b"q 1 0 0 1 0 0 cm Q")).texts == ()
