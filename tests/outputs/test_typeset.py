"""Pages set by typst: in the background or not, remembered or forgotten, the bytes are the same."""

from __future__ import annotations

import pytest

from zoning.errors import OutputFailed
from zoning.outputs.typeset import LetterMissing, forget_pages, in_background, pdf, png

TEMPLATE = b"""#let d = json(bytes(sys.inputs.data))
#set document(title: "A page", date: none)
#set page(width: 40mm, height: 30mm)
= A heading
#d.words"""
BROKEN = b"#nothing-of-that-name"
NO_FONT_SHOWS = "\U0010fffd"  # the last code of a plane for private use (Unicode 15, 23.5)


def test_a_page_holds_what_it_was_given_and_nothing_of_the_hour() -> None:
    one, other = (pdf("The page", TEMPLATE, {"words": words}) for words in ("one", "other"))
    assert one.startswith(b"%PDF-")
    assert one != other
    assert pdf("The page", TEMPLATE, {"words": "one"}) == one


@pytest.mark.parametrize("threads", ["1", "2"])
def test_set_in_the_background_a_page_has_the_same_bytes(
    monkeypatch: pytest.MonkeyPatch, threads: str
) -> None:
    monkeypatch.setenv("RAYON_NUM_THREADS", threads)
    begun = [in_background(lambda: png("The page", TEMPLATE, {"words": "w"})) for _ in range(3)]
    assert {page.result() for page in begun} == {png("The page", TEMPLATE, {"words": "w"})}


def test_a_forgotten_page_is_set_again_as_it_was() -> None:
    first = pdf("The page", TEMPLATE, {"words": "again"})
    forget_pages()
    assert pdf("The page", TEMPLATE, {"words": "again"}) == first


@pytest.mark.parametrize("threads", ["1", "2"])
def test_a_fault_names_the_page(monkeypatch: pytest.MonkeyPatch, threads: str) -> None:
    monkeypatch.setenv("RAYON_NUM_THREADS", threads)
    with pytest.raises(OutputFailed, match=r"The page could not be set: .*nothing-of-that-name"):
        pdf("The page", BROKEN, {})
    with pytest.raises(OutputFailed, match="The page could not be set"):
        in_background(lambda: png("The page", BROKEN, {})).result()


def test_a_letter_without_a_font_breaks_the_standard_and_not_the_page() -> None:
    with pytest.raises(LetterMissing):
        pdf("The page", TEMPLATE, {"words": NO_FONT_SHOWS})
    told = pdf("The page", TEMPLATE, {"words": NO_FONT_SHOWS}, accessible=False)
    assert told.startswith(b"%PDF-")
