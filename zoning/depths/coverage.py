"""How much of a shape lies in each box of a lattice: areas exact, whatever way the shape lies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Lattice:
    """Boxes in rows and columns, counted from the origin of the axes.

    Parameters
    ----------
    wide_m, long_m
        Sides of a box along the first and along the second axis [m].
    first
        Column and row of the first box: box ``(i, j)`` begins at ``(first[0] + i) wide_m`` and
        ``(first[1] + j) long_m``.
    shape
        Number of columns and of rows.
    """

    wide_m: float
    long_m: float
    first: tuple[int, int]
    shape: tuple[int, int]

    @classmethod
    def over(cls, shape: BaseGeometry, wide_m: float, long_m: float) -> Lattice:
        """Return the boxes that the bounds of `shape` touch."""
        bounds = np.array(shape.bounds).reshape(2, 2) / (wide_m, long_m)
        low, high = np.floor(bounds[0]).astype(int), np.ceil(bounds[1]).astype(int)
        columns, rows = np.maximum(high - low, 1)
        return cls(wide_m, long_m, (int(low[0]), int(low[1])), (int(columns), int(rows)))

    def areas_m2(self, shape: BaseGeometry) -> Floats:
        """Return the area of `shape` in each box, shape ``(columns, rows)`` [m2].

        The integral of ``x dy`` round the outline, box by box: an edge that climbs `h` within a
        box adds ``h`` times its distance from the right side of the box there, and ``h`` times the
        width of a box to every box to the right. `shape` must lie within the boxes.
        """
        column, row, rise, left = self._pieces(shape)
        size = self.shape[0] * self.shape[1]
        flat = column * self.shape[1] + row
        here = np.bincount(flat, rise * (1.0 - left), minlength=size).reshape(self.shape)
        beyond = np.bincount(flat, rise, minlength=size).reshape(self.shape)
        share = here + np.cumsum(beyond, axis=0) - beyond
        return np.asarray(share * (self.wide_m * self.long_m), dtype=np.float64)

    def _pieces(self, shape: BaseGeometry) -> tuple[Ints, Ints, Floats, Floats]:
        """Return the edges cut at the sides of the boxes, in sides of a box.

        Column and row of each piece, how far it climbs, how far right of the left side it runs.
        """
        start, end = self._edges(shape)
        edge, at = _crossings(start, end)
        begin = start[edge] + at[:, None] * (end - start)[edge]
        last = np.append(edge[1:] != edge[:-1], [True] * (len(edge) > 0))
        stop = np.where(last[:, None], end[edge], np.roll(begin, -1, axis=0))
        middle = 0.5 * (begin + stop)
        box = np.clip(np.floor(middle).astype(np.int64), 0, np.array(self.shape) - 1)
        return box[:, 0], box[:, 1], (stop - begin)[:, 1], middle[:, 0] - box[:, 0]

    def _edges(self, shape: BaseGeometry) -> tuple[Floats, Floats]:
        """Return both ends of each edge in sides of a box; holes run against the outer rings.

        The way round is taken from the area of each ring: of a ring with a spike at its highest
        place, as rounding leaves them, the library may take the wrong one.
        """
        parts = shapely.get_parts(shapely.normalize(shape))
        rings, part = shapely.get_rings(parts, return_index=True)
        xy, ring = shapely.get_coordinates(rings, return_index=True)
        places = xy / (self.wide_m, self.long_m) - self.first
        inside = ring[1:] == ring[:-1]
        start, end, ring = places[:-1][inside], places[1:][inside], ring[:-1][inside]
        doubled = start[:, 0] * end[:, 1] - end[:, 0] * start[:, 1]
        outer = np.append(True, part[1:] != part[:-1])
        turned = (np.bincount(ring, doubled, minlength=len(rings)) > 0) == outer
        back = turned[ring][:, None]
        return np.where(back, end, start), np.where(back, start, end)


def _crossings(start: Floats, end: Floats) -> tuple[Ints, Floats]:
    """Return edge and share of its length of each beginning and crossing of a whole number."""
    count = len(start)
    edges, shares = [np.arange(count)], [np.zeros(count)]
    for axis in range(2):
        a, b = start[:, axis], end[:, axis]
        first = np.floor(np.minimum(a, b)).astype(np.int64) + 1
        crossed = np.maximum(np.ceil(np.maximum(a, b)).astype(np.int64) - first, 0)
        edge = np.repeat(np.arange(count), crossed)
        step = np.arange(len(edge)) - np.repeat(np.cumsum(crossed) - crossed, crossed)
        edges.append(edge)
        shares.append((first[edge] + step - a[edge]) / (b - a)[edge])
    edge, share = np.concatenate(edges), np.clip(np.concatenate(shares), 0.0, 1.0)
    order = np.lexsort([share, edge])
    return edge[order].astype(np.int64), share[order]
