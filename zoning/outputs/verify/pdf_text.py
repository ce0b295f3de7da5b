"""The words of a PDF as it was set for the sheet: text by text, and the cells of its tables.

pypdf reads the file; what belongs together is told by the places of the texts and by the tree of
the structure (ISO 32000-1:2008, 9.10.3, 14.7 and 14.8, from memory). Whatever is damaged, or set in
another way than the typesetter's, is a `ValueError`, which for a sheet means that it is not ours.
"""

from __future__ import annotations

import logging
import math
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from typing import Any

from pypdf import PageObject, PdfReader, apply_configuration
from pypdf.generic import ArrayObject, ContentStream, DictionaryObject

from zoning.contracts import constant

_PAIR = re.compile(rb"<([0-9A-Fa-f]{4})>\s*<([0-9A-Fa-f]+)>")
_LETTERS_APART = 3.0
_LONGEST = 1000
_Marked = dict[tuple[int, int], str]


@dataclass(frozen=True, slots=True)
class Text:
    """Letters set in one line, in one font and size, one after another.

    Parameters
    ----------
    words
        The letters.
    page
        Number of the object of its page.
    mark
        Number of its marked content on the page; -1 for what is no content.
    """

    words: str
    page: int
    mark: int


@dataclass(frozen=True, slots=True, eq=False)
class Pdf:
    """What a PDF shows.

    Parameters
    ----------
    texts
        Its texts in the order they are set.
    tables
        The rows of each table: the words of their cells, headings first.
    """

    texts: tuple[Text, ...]
    tables: tuple[list[list[str]], ...]

    @property
    def letters(self) -> str:
        """All content in the order it is set, without spaces: some are lost where lines end."""
        return unspaced("".join(each.words for each in self.texts if each.mark >= 0))


def unspaced(words: str) -> str:
    """Return words without spaces."""
    return "".join(words.split())


def read_pdf(data: bytes) -> Pdf:
    """Return the words of a PDF.

    Raises
    ------
    ValueError
        If it is damaged, or was not written by the typesetter of the sheet.
    """
    try:
        with _refusing():
            reader = PdfReader(BytesIO(data), strict=True)
            texts = tuple(text for page in reader.pages for text in _texts(page))
            marked: _Marked = {}
            for text in texts:
                at = (text.page, text.mark)
                marked[at] = marked.get(at, "") + text.words
            tree: Any = reader.root_object.get("/StructTreeRoot", DictionaryObject())
            return Pdf(texts, tuple(_tables(tree.get_object(), marked, set())))
    except Exception as error:
        # A damaged file fails in as many ways as it can be damaged.
        raise ValueError(f"it is damaged, or no sheet: {error}") from error


class _Refusal(logging.Handler):
    """Refuses what the reader of PDFs would mend and go on with."""

    def emit(self, record: logging.LogRecord) -> None:
        raise ValueError(record.getMessage())


@contextmanager
def _refusing() -> Iterator[None]:
    """Take nothing that had to be mended or unpacks to more than a sheet holds."""
    log, refusal = logging.getLogger("pypdf"), _Refusal(logging.WARNING)
    log.addHandler(refusal)
    most = int(constant("verify_rules", "page_most_bytes"))
    try:
        with apply_configuration(zlib_maximum_output_length=most):
            yield
    finally:
        log.removeHandler(refusal)


def _tables(element: Any, marked: _Marked, seen: set[int]) -> Iterator[list[list[str]]]:
    """Yield the tables at and below an element of the structure."""
    if element.get("/S") != "/Table":
        for kid in _kids(element, seen):
            if isinstance(kid, DictionaryObject):
                yield from _tables(kid, marked, seen)
        return
    rows = [row for group in _kids(element, seen) for row in _kids(group, seen)]
    yield [[_words(cell, marked, seen) for cell in _kids(row, seen)] for row in rows]


def _kids(element: Any, seen: set[int]) -> list[Any]:
    """Return the elements and marks that an element of the structure holds, once only."""
    if id(element) in seen:
        raise ValueError("an element of its structure stands in two places")
    seen.add(id(element))
    held = element.get("/K", ArrayObject()).get_object()
    return [each.get_object() for each in (held if isinstance(held, ArrayObject) else [held])]


def _words(element: Any, marked: _Marked, seen: set[int]) -> str:
    """Return what an element and those below it show."""
    words = ""
    for kid in _kids(element, seen):
        if isinstance(kid, DictionaryObject) and "/MCID" not in kid:
            words += _words(kid, marked, seen)
        else:
            mark, page = (kid, element) if isinstance(kid, int) else (kid["/MCID"], kid)
            words += marked.get((page["/Pg"].indirect_reference.idnum, mark), "")
    return words


def _letters(page: Any) -> dict[str, dict[bytes, str]]:
    """Return what each code of each font of a page stands for."""
    found = {}
    for name, font in page["/Resources"].get("/Font", DictionaryObject()).get_object().items():
        told = font.get_object().get("/ToUnicode")
        table = told.get_object().get_data() if told else b""
        if b"beginbfrange" in table:
            raise ValueError("a font maps its letters by ranges")
        found[name] = {
            bytes.fromhex(code.decode()): bytes.fromhex(text.decode()).decode("utf-16-be")
            for code, text in _PAIR.findall(table.partition(b"endcodespacerange")[2])
        }
    return found


def _texts(page: PageObject) -> list[Text]:
    """Return the texts of a page, letters set one by one joined where they follow each other."""
    letters = _letters(page)
    number = page.indirect_reference.idnum if page.indirect_reference else 0
    found = [Text("", number, -1)]
    before: _Place | None = None
    for mark, place, codes in _shown(page):
        table: Mapping[bytes, str] = letters.get(place.font, {})
        words = "".join(table.get(codes[i : i + 2], "\ufffd") for i in range(0, len(codes), 2))
        last = found[-1]
        goes_on = last.mark == mark and len(last.words) < _LONGEST
        if before and goes_on and place.follows(before):
            found[-1] = Text(last.words + words, number, mark)
        else:
            found.append(Text(words, number, mark))
        before = place
    return found[1:]


@dataclass(frozen=True, slots=True)
class _Place:
    """Where and how a text is set: font, size, and the six numbers of the last transformation."""

    font: str
    size: float
    turn: tuple[float, ...]

    def follows(self, other: _Place) -> bool:
        """Whether it goes on in the line of `other`, a few letters further at most."""
        a, b, *_, x, y = self.turn
        if (self.font, self.size, self.turn[:4]) != (other.font, other.size, other.turn[:4]):
            return False
        scale = math.hypot(a, b) or 1.0
        right, up = x - other.turn[4], y - other.turn[5]
        along, off = (a * right + b * up) / scale, (a * up - b * right) / scale
        letter = scale * self.size
        return abs(off) < 0.05 * letter and 0 <= along < _LETTERS_APART * letter


def _shown(page: PageObject) -> Iterator[tuple[int, _Place, bytes]]:
    """Yield the mark, the place and the codes of every text that a page shows."""
    marks, font, size = [-1], "", 0.0
    turn: tuple[float, ...] = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
    for operands, operator in ContentStream(page["/Contents"], page.pdf, "bytes").operations:
        if operator == b"cm":
            turn = tuple(float(each) for each in operands)
        elif operator == b"Tf":
            font, size = operands[0], float(operands[1])
        elif operator in (b"BDC", b"BMC"):
            told = operands[1] if operator == b"BDC" else {}
            marks.append(told.get("/MCID", -1))
        elif operator == b"EMC":
            marks.pop()
        elif operator in (b"Tj", b"TJ"):
            held = operands if operator == b"Tj" else operands[0]
            codes = b"".join(each for each in held if isinstance(each, bytes))
            yield marks[-1], _Place(font, size, turn), codes
