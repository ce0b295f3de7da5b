"""Degrees, minutes and seconds, as receivers show them."""

from __future__ import annotations

import math
import re

_NUMBER = r"\d{1,3}(?:[.,]\d{1,20})?"
_GAP = r"\s{0,2}"
_ANGLE = re.compile(
    rf"(?P<before>[NSEW])?{_GAP}(?P<sign>[+-]?)(?P<degrees>{_NUMBER}){_GAP}°?{_GAP}"
    rf"(?:(?<=[°\s])(?P<minutes>{_NUMBER}){_GAP}['′’]?{_GAP}"
    rf"(?:(?<=['′’\s])(?P<seconds>{_NUMBER}){_GAP}(?:[\"″”]|''|′′){_GAP})?)?"
    r"(?P<behind>[NSEW])?",
    re.ASCII | re.IGNORECASE,
)
_MARKS = frozenset("°.,")
_LETTERS = {"lat": "NS", "lon": "EW"}


def degrees_of(cell: str, name: str) -> float:
    """Return the degrees that a cell spells with a degree sign or a letter, else NaN.

    Parameters
    ----------
    cell
        ``52°37.964'N``, ``W 1° 14' 02.8"``, ``52.6327 N`` and the like; a plain number is NaN here.
    name
        ``lat`` (N, S) or ``lon`` (E, W). South and west are below zero.
    """
    match = _ANGLE.fullmatch(cell)
    if match is None or not _MARKS.intersection(cell):
        return math.nan
    letter = (match["before"] or match["behind"] or "").upper()
    both = bool(match["before"] and match["behind"]) or bool(letter and match["sign"])
    if both or letter not in ("", *_LETTERS[name]) or not (letter or "°" in cell):
        return math.nan
    value = _sexagesimal(match["degrees"], match["minutes"], match["seconds"])
    return -value if letter in ("S", "W") or match["sign"] == "-" else value


def _sexagesimal(*parts: str | None) -> float:
    """Return degrees, minutes and seconds as degrees; only the last one given has decimals."""
    given = [float(part.replace(",", ".")) for part in parts if part is not None]
    sound = all(part == int(part) for part in given[:-1]) and all(part < 60 for part in given[1:])
    return sum(part / 60**power for power, part in enumerate(given)) if sound else math.nan
