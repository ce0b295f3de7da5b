"""The words of a PDF as it was set for the sheet: text by text, and the cells of its tables.

Reads what the typesetter writes and nothing else: one table of references, streams deflated or
plain, fonts with a map to Unicode (ISO 32000-1:2008, 7.3.4, 7.5.4, 9.10.3, 14.7 and 14.8, from
memory). Anything else is a `ValueError`, which for a sheet means that it is not ours.
"""

from __future__ import annotations

import math
import re
import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from zoning.contracts import constant

_START = re.compile(rb"startxref\s+(\d+)\s+%%EOF\s*\Z")
_TABLE = re.compile(rb"xref\s+0 (\d+)\s+")
_ENTRY = re.compile(rb"(\d{10}) \d{5} ([nf])")
_REFERENCE = re.compile(rb"(\d+) 0 R")
_SPACED = re.compile(rb"\s*(<<|>>|[/\[\]])\s*")
_TOKEN = re.compile(rb"\(|<<|>>|<[0-9A-Fa-f\s]*>|[\[\]]|/?[^\s<>\[\]()/]+")
_PIECE = re.compile(rb"\\([0-7]{1,3}|.)|([()])|[^()\\]+", re.DOTALL)
_ESCAPED = {b"n": b"\n", b"r": b"\r", b"t": b"\t", b"b": b"\b", b"f": b"\f"}
_NUMBER = re.compile(rb"[+-]?\d*\.?\d+")
_PAIR = re.compile(rb"<([0-9A-Fa-f]{4})>\s*<([0-9A-Fa-f]+)>")
_LETTERS_APART = 3.0
_LONGEST = 1000
_DEEPEST = 8


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
    """The objects of a PDF by number, and its texts in the order they are set."""

    objects: Mapping[int, bytes]
    texts: tuple[Text, ...]

    @property
    def letters(self) -> str:
        """All content in the order it is set, without spaces: some are lost where lines end."""
        return unspaced("".join(each.words for each in self.texts if each.mark >= 0))

    def tables(self) -> Iterator[list[list[str]]]:
        """Yield the rows of each table: the words of their cells, headings first."""
        marked: dict[tuple[int, int], list[str]] = {}
        for text in self.texts:
            marked.setdefault((text.page, text.mark), []).append(text.words)
        for number, body in self.objects.items():
            if b"/S/Table/" in body:
                groups = [_kids(self.objects[kid])[0] for kid in _kids(body)[0]]
                rows = [row for group in groups for row in group]
                cells = [_kids(self.objects[row])[0] for row in rows]
                yield [[self._cell(cell, marked, number) for cell in row] for row in cells]

    def _cell(
        self, number: int, marked: Mapping[tuple[int, int], list[str]], table: int, depth: int = 0
    ) -> str:
        if depth > _DEEPEST:
            raise ValueError(f"table {table} nests too deep")
        body = self.objects[number]
        inner, marks = _kids(body)
        page = re.search(rb"/Pg (\d+) 0 R", body)
        held = [marked.get((int(page[1]), mark), []) for mark in marks] if page else []
        own = "".join(words for each in held for words in each)
        return own + "".join(self._cell(kid, marked, table, depth + 1) for kid in inner)


def unspaced(words: str) -> str:
    """Return words without spaces."""
    return "".join(words.split())


def read_pdf(data: bytes) -> Pdf:
    """Return the words of a PDF.

    Raises
    ------
    ValueError, KeyError
        If it is damaged, or was not written by the typesetter of the sheet.
    """
    objects = _objects(data)
    pages = [number for number, body in objects.items() if b"/Type/Page/" in body]
    return Pdf(objects, tuple(text for page in pages for text in _texts(objects, page)))


def _objects(data: bytes) -> dict[int, bytes]:
    start = _START.search(data)
    table = _TABLE.match(data, int(start[1])) if start else None
    if not start or not table:
        raise ValueError("its table of objects is missing")
    entries = _ENTRY.findall(data, table.end())[: int(table[1])]
    places = {int(at): number for number, (at, kind) in enumerate(entries) if kind == b"n"}
    ends = [*sorted(places), int(start[1])]
    found = {}
    for at, end in pairwise(ends):
        head = b"%d 0 obj\n" % places[at]
        if not data.startswith(head, at):
            raise ValueError(f"object {places[at]} is not where it should be")
        found[places[at]] = _close_set(data[at + len(head) : end])
    return found


def _close_set(body: bytes) -> bytes:
    """Return an object with no space round the marks of its dictionary; a stream as it is."""
    told, stream, held = body.partition(b"stream\n")
    return _SPACED.sub(rb"\1", told) + stream + held


def _stream(body: bytes) -> bytes:
    head, _, rest = body.partition(b"stream\n")
    length = re.search(rb"/Length (\d+)", head)
    if not length:
        raise ValueError("a stream has no length")
    held = rest[: int(length[1])]
    if b"/Filter/FlateDecode" not in head:
        return held
    most = int(constant("verify_rules", "page_most_bytes"))
    unpacked = zlib.decompressobj().decompress(held, most)
    if len(unpacked) == most:
        raise ValueError("a page unpacks to more than a sheet holds")
    return unpacked


def _number(name: bytes, body: bytes) -> int:
    found = re.search(rb"/" + name + rb" (\d+) 0 R", body)
    if not found:
        raise ValueError(f"{name.decode()} is missing")
    return int(found[1])


def _kids(body: bytes) -> tuple[list[int], list[int]]:
    """Return the elements and the marks that an element of the structure holds."""
    held = re.search(rb"/K\[([^\]<]*)\]", body)
    if not held:
        return [], []
    marks = re.findall(rb"\d+", _REFERENCE.sub(b"", held[1]))
    return [int(kid) for kid in _REFERENCE.findall(held[1])], [int(mark) for mark in marks]


def _letters(objects: Mapping[int, bytes], page: int) -> dict[bytes, dict[bytes, str]]:
    """Return what each code of each font of a page stands for."""
    told = re.search(rb"/Resources (\d+) 0 R", objects[page])
    held = re.search(rb"/Font<<([^>]*)>>", objects[int(told[1]) if told else page])
    found = {}
    for name, number in re.findall(rb"(/\w+) (\d+) 0 R", held[1] if held else b""):
        told = re.search(rb"/ToUnicode (\d+) 0 R", objects[int(number)])
        table = _stream(objects[int(told[1])]) if told else b""
        if b"beginbfrange" in table:
            raise ValueError("a font maps its letters by ranges")
        found[name] = {
            bytes.fromhex(code.decode()): bytes.fromhex(text.decode()).decode("utf-16-be")
            for code, text in _PAIR.findall(table.partition(b"endcodespacerange")[2])
        }
    return found


def _texts(objects: Mapping[int, bytes], page: int) -> Iterator[Text]:
    """Yield the texts of a page; letters set one by one are joined where they follow each other."""
    letters = _letters(objects, page)
    joined: Text | None = None
    before: _Place | None = None
    for mark, place, codes in _shown(_stream(objects[_number(b"Contents", objects[page])])):
        table = letters.get(place.font, {})
        words = "".join(table.get(codes[i : i + 2], "\ufffd") for i in range(0, len(codes), 2))
        goes_on = joined and joined.mark == mark and len(joined.words) < _LONGEST
        if joined and before and goes_on and place.follows(before):
            joined = Text(joined.words + words, page, mark)
        else:
            if joined:
                yield joined
            joined = Text(words, page, mark)
        before = place
    if joined:
        yield joined


@dataclass(frozen=True, slots=True)
class _Place:
    """Where and how a text is set: font, size, and the six numbers of the last transformation."""

    font: bytes
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


def _shown(content: bytes) -> Iterator[tuple[int, _Place, bytes]]:
    """Yield the mark, the place and the codes of every text that a page shows."""
    operands: list[bytes] = []
    marks, font, size, turn = [-1], b"", 0.0, (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
    for token in _tokens(content):
        if token[:1] in b"(/[]" or token in (b"<<", b">>") or _NUMBER.fullmatch(token):
            operands.append(token)
            continue
        if token == b"cm":
            turn = _six(operands)
        elif token == b"Tf":
            font, size = operands[-2], float(operands[-1])
        elif token in (b"BDC", b"BMC"):
            at = operands.index(b"/MCID") if b"/MCID" in operands else -1
            marks.append(int(operands[at + 1]) if at >= 0 else -1)
        elif token == b"EMC":
            marks.pop()
        elif token in (b"Tj", b"TJ"):
            codes = b"".join(each[1:] for each in operands if each[:1] == b"(")
            yield marks[-1], _Place(font, size, turn), codes
        operands = []


def _six(operands: Sequence[bytes]) -> tuple[float, float, float, float, float, float]:
    a, b, c, d, x, y = (float(each) for each in operands[-6:])
    return a, b, c, d, x, y


def _tokens(content: bytes) -> Iterator[bytes]:
    """Yield numbers, names, operators and brackets; a string as ``(`` and its bytes."""
    at = 0
    while found := _TOKEN.search(content, at):
        token, at = found[0], found.end()
        if token == b"(":
            text, at = _string(content, at)
            yield b"(" + text
        elif token[:1] == b"<" and token != b"<<":
            yield b"(" + bytes.fromhex(token[1:-1].decode())
        else:
            yield token


def _string(content: bytes, at: int) -> tuple[bytes, int]:
    """Return the bytes of the string that begins at `at`, and where it ends."""
    parts: list[bytes] = []
    depth = 1
    while piece := _PIECE.match(content, at):
        at = piece.end()
        depth += {b"(": 1, b")": -1}.get(piece[2], 0)
        if depth == 0:
            return b"".join(parts), at
        parts.append(_plain(piece[1]) if piece[1] else piece[0])
    raise ValueError("a text has no end")


def _plain(escaped: bytes) -> bytes:
    if escaped.isdigit():
        return bytes([int(escaped, 8) & 0xFF])
    return _ESCAPED.get(escaped, escaped)
