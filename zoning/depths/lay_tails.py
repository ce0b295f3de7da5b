"""Passes for ground too narrow for a round: necks, tails, the strip between facing rounds."""

from __future__ import annotations

import numpy as np
import shapely
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import dijkstra
from scipy.spatial import Voronoi
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant
from zoning.depths.lay_faces import Ints, connected
from zoning.depths.lay_frame import Floats, line_between


def tails(
    region: BaseGeometry, lines: list[LineString], width_m: float, step_m: float
) -> list[LineString]:
    """Return a line up the middle of each part of `region` that `lines` leave too far away.

    Parameters
    ----------
    region
        Ground of one round, in the field.
    lines
        Middle lines of the round.
    width_m, step_m
        Working width and length of a step [m]; ground of less than `least_piece_share` of a step is
        left to its neighbours.
    """
    reach = constant("lay_rules", "left_over_widths") * width_m
    least = constant("lay_rules", "least_piece_share") * width_m * step_m
    found: list[LineString] = []
    left = region.difference(_about(lines, reach))
    for _ in range(int(constant("lay_rules", "tail_rounds"))):
        ground = [
            area
            for area in shapely.get_parts(left)
            if isinstance(area, Polygon) and area.area >= least
        ]
        new = [_directed(spine(area, width_m)) for area in ground]
        if not new:
            break
        found += sorted(new, key=lambda line: tuple(np.round(line.coords[0], 3)))
        left = left.difference(_about(new, reach))
    return found


def _about(lines: list[LineString], reach_m: float) -> BaseGeometry:
    return shapely.union_all(shapely.buffer(np.array(lines, dtype=object), reach_m))


def _directed(line: LineString) -> LineString:
    """Return the line from its lower left end."""
    ends = np.round(shapely.get_coordinates(line)[[0, -1]], 3)
    return line.reverse() if tuple(ends[0]) > tuple(ends[1]) else line


def spine(area: Polygon, width_m: float) -> LineString:
    """Return a line up the middle of a long and narrow polygon.

    That is the long axis of its smallest rectangle where the polygon fills most of it, and else the
    longest way through its skeleton, read off the Voronoi diagram of points along its outline.
    """
    axis = long_axis(area)
    frame = area.minimum_rotated_rectangle
    if area.area >= constant("lay_rules", "straight_share") * frame.area:
        return axis
    points = shapely.get_coordinates(
        shapely.segmentize(area, width_m / constant("lay_rules", "samples_per_width"))
    )
    middle = points.mean(axis=0)
    diagram = Voronoi(np.unique(points - middle, axis=0))
    nodes = diagram.vertices + middle
    ends = np.array(diagram.ridge_vertices)
    shapely.prepare(area)
    inside = shapely.contains_xy(area, nodes[:, 0], nodes[:, 1])
    ends = ends[(ends >= 0).all(axis=1)]
    way = _longest_way(nodes, ends[inside[ends].all(axis=1)])
    if len(way) < 2:
        return axis
    tolerance = constant("lay_rules", "spine_tolerance_share") * width_m
    return LineString(shapely.get_coordinates(LineString(way).simplify(tolerance)))


def long_axis(area: Polygon) -> LineString:
    """Return the long axis of the smallest rectangle about `area`, ending half its width short."""
    corner = shapely.get_coordinates(area.minimum_rotated_rectangle)[:4]
    sides = np.hypot(*(np.roll(corner, -1, axis=0) - corner).T)
    corner = np.roll(corner, -int(np.argmin(sides)), axis=0)
    line = LineString([(corner[0] + corner[1]) / 2.0, (corner[2] + corner[3]) / 2.0])
    inset = min(float(sides.min()), line.length / 2.0) / 2.0
    return line_between(line, inset, line.length - inset)


def _longest_way(nodes: Floats, links: Ints) -> Floats:
    """Return the places along the longest shortest way between two nodes, found by two sweeps."""
    if len(links) == 0:
        return np.empty((0, 2))
    length = np.hypot(*(nodes[links[:, 0]] - nodes[links[:, 1]]).T)
    shape = (len(nodes), len(nodes))
    graph = csr_array(coo_array((length, (links[:, 0], links[:, 1])), shape=shape))
    group = connected(len(nodes), links[:, 0], links[:, 1])
    main = int(np.argmax(np.bincount(group[links[:, 0]], length)))
    anywhere = np.flatnonzero(group == main)[:1]
    end = _farthest(dijkstra(graph, directed=False, indices=anywhere)[0])
    distance, before = dijkstra(
        graph, directed=False, indices=np.array([end]), return_predecessors=True
    )
    node, way = _farthest(distance[0]), []
    while node >= 0:
        way.append(node)
        node = int(before[0, node])
    return nodes[way]


def _farthest(distance: Floats) -> int:
    return int(np.argmax(np.where(np.isfinite(distance), distance, -1.0)))
