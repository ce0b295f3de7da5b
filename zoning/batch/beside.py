"""Numbers beside fields that are too small on the overview to hold them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from zoning.outputs.drawing.svg import text

LETTER = 0.7
"""Width of a letter as a share of its height."""
_GAP_MM = 0.8
_INK = "#14171a"


class Beside:
    """The free paper of a map; each number that is put there takes its place from the next.

    Parameters
    ----------
    paper
        The sheet [mm].
    shapes
        The fields on it [mm].
    """

    def __init__(self, paper: Polygon, shapes: Sequence[BaseGeometry]) -> None:
        self._paper = paper
        self._fields = shapely.STRtree(list(shapes))
        self._taken: list[Polygon] = []

    def number(self, words: str, part: Polygon, sizes_mm: tuple[float, float], kind: str) -> str:
        """Return `words` next to `part`, as large as it can be; nothing where no place is free.

        Parameters
        ----------
        words, part
            The number, and the field that it is of.
        sizes_mm
            Largest and least letters [mm].
        kind
            Class of the text: ``desk`` or ``phone``.
        """
        for size in sizes_mm:
            for box in _boxes(part, LETTER * size * len(words), size):
                if self._free(box):
                    self._taken.append(box)
                    return _written(words, box, size, kind)
        return ""

    def _free(self, box: Polygon) -> bool:
        met = self._fields.query(box, predicate="intersects").size
        return not met and self._paper.covers(box) and not any(map(box.intersects, self._taken))


def _written(words: str, box: Polygon, size: float, kind: str) -> str:
    west, north, east, south = box.bounds
    x, y = (west + east) / 2, (north + south) / 2 + 0.35 * size
    style: dict[str, str | float] = {"class": kind, "text_anchor": "middle", "fill": _INK}
    return text(words, x, y, size, font_weight="bold", **style)


def _boxes(part: Polygon, wide: float, high: float) -> Iterator[Polygon]:
    """Yield the boxes about `part` where its number may stand: right, left, above, below it."""
    west, north, east, south = part.bounds
    x, y = (west + east) / 2, (north + south) / 2
    right, left = east + _GAP_MM + wide / 2, west - _GAP_MM - wide / 2
    above, below = north - _GAP_MM - high / 2, south + _GAP_MM + high / 2
    spots = [(right, y), (left, y), (x, above), (x, below)]
    for across, down in (*spots, (right, above), (left, above), (right, below), (left, below)):
        yield shapely.box(across - wide / 2, down - high / 2, across + wide / 2, down + high / 2)
