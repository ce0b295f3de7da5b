"""Faces between lines: cut exactly, compared by the edges they share, joined again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from shapely.geometry.base import BaseGeometry

from zoning.depths.lay_frame import Floats, Geometries, node_grid_m

Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Borders:
    """Which polygons share edges: each pair once, with the length they share [m]."""

    left: Ints
    right: Ints
    length_m: Floats

    def between(self, cell_of: Ints) -> Borders:
        """Return the borders between groups of polygons; `cell_of` has the group of each."""
        return _summed(cell_of[self.left], cell_of[self.right], self.length_m)


def faces(lines: Sequence[BaseGeometry]) -> Geometries:
    """Return the polygons between `lines`, noded on the vertex grid: neighbours share vertices.

    Nothing is lost to rounding beyond the grid's spacing, and the faces cannot overlap, because
    they are read off one planar graph (GEOS snap-rounding noder and polygonizer).
    """
    noded = shapely.unary_union(np.array(lines, dtype=object), grid_size=node_grid_m())
    return np.asarray(shapely.get_parts(shapely.polygonize(shapely.get_parts([noded]))))


def borders(polygons: Geometries) -> Borders:
    """Return the shared edges of polygons that form a coverage (edges match vertex by vertex)."""
    rings, owner = shapely.get_rings(polygons, return_index=True)
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    inside = ring[1:] == ring[:-1]
    start, end = xy[:-1][inside] + 0.0, xy[1:][inside] + 0.0
    who = owner[ring[:-1][inside]]
    swap = (start[:, 0] > end[:, 0]) | ((start[:, 0] == end[:, 0]) & (start[:, 1] > end[:, 1]))
    edge = np.where(swap[:, None], np.hstack([end, start]), np.hstack([start, end]))
    order = np.lexsort(edge.T)
    edge, who = edge[order], who[order]
    twin = np.flatnonzero((edge[1:] == edge[:-1]).all(axis=1))
    length = np.hypot(edge[twin, 2] - edge[twin, 0], edge[twin, 3] - edge[twin, 1])
    return _summed(who[twin], who[twin + 1], length)


def _summed(one: Ints, other: Ints, length_m: Floats) -> Borders:
    """Return each pair of different owners once with the sum of its lengths."""
    apart = one != other
    low = np.minimum(one, other)[apart]
    high = np.maximum(one, other)[apart]
    pairs, which = np.unique(np.column_stack([low, high]), axis=0, return_inverse=True)
    total = np.bincount(which.ravel(), length_m[apart], len(pairs)).astype(np.float64)
    return Borders(pairs[:, 0].astype(np.int64), pairs[:, 1].astype(np.int64), total)


def connected(n: int, one: Ints, other: Ints) -> Ints:
    """Return the group, from 0, of each of `n` things, given the pairs that hold together."""
    graph = coo_array((np.ones(len(one), dtype=np.int8), (one, other)), shape=(n, n))
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.int64)


def absorbed(area_m2: Floats, shared: Borders, weight: Floats, *, small: NDArray[np.bool_]) -> Ints:
    """Return for each cell the cell that takes it in; cells that are not small take in themselves.

    Parameters
    ----------
    area_m2
        Area of each cell, shape ``(n,)`` [m2].
    shared
        Borders between the cells.
    weight
        Worth of each border, shape of ``shared.left``: a small cell goes over its best border.
    small
        Which cells are to be given away, shape ``(n,)``. Where small cells have no other neighbour,
        the largest of them stays.
    """
    taker = np.where(small, -1, np.arange(len(area_m2)))
    source = np.concatenate([shared.left, shared.right])
    target = np.concatenate([shared.right, shared.left])
    worth = np.concatenate([weight, weight])
    while (taker < 0).any():
        ready = np.flatnonzero((taker[source] < 0) & (taker[target] >= 0))
        if len(ready) == 0:
            free = np.flatnonzero(taker < 0)
            largest = free[np.argmax(area_m2[free])]
            taker[largest] = largest
            continue
        order = ready[np.lexsort([target[ready], -worth[ready], source[ready]])]
        cells, first = np.unique(source[order], return_index=True)
        taker[cells] = taker[target[order[first]]]
    return taker.astype(np.int64)


def joined(polygons: Geometries, group: Ints) -> Geometries:
    """Return one polygon a group of a coverage; groups count from 0 without gaps."""
    order = np.argsort(group, kind="stable")
    starts = np.searchsorted(group[order], np.arange(group.max() + 2))
    result = np.asarray(polygons[order[starts[:-1]]])
    for index in np.flatnonzero(np.diff(starts) > 1):
        result[index] = shapely.coverage_union_all(
            polygons[order[starts[index] : starts[index + 1]]]
        )
    return result
