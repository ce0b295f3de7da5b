"""The passes a machine will drive, and the pieces of ground each of their steps covers.

Headland rounds follow the outline: round `k` takes the ground between `k` and `k + 1` working
widths from the outer ring, its middle line half a width further in. Straight passes at the travel
heading fill what is left. Together the pieces are an exact partition of the field: they are read
off one planar graph of all cuts, so neighbours share every vertex and nothing is counted twice or
left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from zoning.depths.lay_cells import (
    Cut,
    Ground,
    Labels,
    chained,
    gathered,
    labelled,
    strip_track,
    tracks_of,
)
from zoning.depths.lay_faces import Ints, borders, faces
from zoning.depths.lay_frame import (
    Floats,
    default_heading,
    heading_frame,
)
from zoning.depths.lay_rounds import cuts, inset, round_count, rounds_of, sampled
from zoning.depths.lay_rows import rows
from zoning.depths.lay_strips import Boxes, Strips, boxes
from zoning.grid import HeadingFrame
from zoning.model import Notice

__all__ = [
    "HeadingFrame", "Laid", "body_area", "default_heading", "heading_frame", "lay_passes",
    "piece_of",
]  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """Passes and the pieces of their steps.

    Parameters
    ----------
    lines
        One row a pass: ``pass_id`` (from 1, headland rounds first), ``kind`` (headland or body),
        ``geometry`` (middle line).
    pieces
        One row a step: ``piece`` (0 to n - 1), ``pass_id, kind, step`` (from 0 within the pass),
        ``from_m, to_m`` (along the pass), ``geometry``: a valid coverage of the field.
    notices
        What the user must be told.
    """

    lines: gpd.GeoDataFrame
    pieces: gpd.GeoDataFrame
    notices: tuple[Notice, ...]


def lay_passes(
    boundary: MultiPolygon,
    *,
    width_m: float,
    headland_width_m: float,
    heading_deg: float,
    step_m: float,
    offset_m: float = 0.0,
    round_obstacles: bool = False,
) -> Laid:
    """Lay headland rounds and straight passes over a field and cut them into steps.

    Parameters
    ----------
    boundary
        Outline of the field [m, working CRS].
    width_m
        Working width of the machine [m].
    headland_width_m
        Headland; its rounds are this over the width, rounded up [m].
    heading_deg
        Direction of the straight passes, clockwise from grid north [degrees].
    step_m
        Length of a step along a pass; rounds are divided evenly by the nearest whole number [m].
    offset_m
        How far the edge of a straight pass lies to the right of the field's centroid, looking along
        the heading [m]; a whole width changes nothing.
    round_obstacles
        Whether rounds also go about the holes of the boundary.

    Returns
    -------
    Laid
        Every place of the field lies in exactly one piece; every piece is one polygon. Ground
        smaller than `least_piece_share` of a step, or too narrow for a pass of its own, belongs to
        the piece beside it.
    """
    frame = heading_frame(boundary, heading_deg)
    strips = Strips(width_m, step_m, offset_m % width_m)
    grounds = _grounds(
        shapely.transform(boundary, frame.inward),
        strips,
        headland_width_m,
        round_obstacles=round_obstacles,
    )
    cut = _cut(grounds, strips)
    pieces = gathered(shapely.area(cut.polygons), cut.shared, cut.labels, width_m * step_m)
    passes = chained(pieces, cut.shared)
    lines, table = rows(pieces, passes, cut, tracks_of(grounds), strips, frame)
    return Laid(lines, table, _notices(grounds))


def body_area(
    boundary: MultiPolygon,
    width_m: float,
    headland_width_m: float,
    *,
    round_obstacles: bool = False,
) -> MultiPolygon:
    """Return what whole headland rounds leave for straight passes; empty where nothing is left."""
    depth = round_count(width_m, headland_width_m) * width_m
    left = [
        inset(part, depth, round_obstacles=round_obstacles).intersection(part)
        for part in boundary.geoms
    ]
    return _polygons(shapely.union_all(left))


def _polygons(area: BaseGeometry) -> MultiPolygon:
    parts = [
        part for part in shapely.get_parts(area) if isinstance(part, Polygon) and not part.is_empty
    ]
    return MultiPolygon(parts)


def _grounds(
    boundary: MultiPolygon, strips: Strips, headland_width_m: float, *, round_obstacles: bool
) -> tuple[Ground, ...]:
    """Return the polygons of the boundary with their rounds, from left to right of the heading."""
    count = round_count(strips.width_m, headland_width_m)
    parts = sorted(boundary.geoms, key=lambda part: tuple(np.round(part.bounds, 3)))
    found = []
    for part in parts:
        laid = rounds_of(
            part,
            width_m=strips.width_m,
            count=count,
            step_m=strips.step_m,
            round_obstacles=round_obstacles,
        )
        core = laid[-1].inner if laid else part
        found.append(Ground(part, laid, core.intersection(part)))
    return tuple(found)


def _cut(grounds: tuple[Ground, ...], strips: Strips) -> Cut:
    """Return the faces of the field between all outlines and cuts."""
    inside = boxes(_polygons(shapely.union_all([ground.body for ground in grounds])), strips)
    found = faces([*_lines(grounds, strips.width_m), inside.cuts])
    labels = labelled(shapely.point_on_surface(found), grounds, strips, strips.width_m)
    kept = np.flatnonzero((labels.track != -1) & ~_in_boxes(labels, inside))
    polygons = np.concatenate([found[kept], inside.polygons])
    whole = np.zeros(len(inside.strip), dtype=np.bool_)
    labels = Labels(
        np.concatenate([labels.track[kept], strip_track(inside.strip)]),
        np.concatenate([labels.step[kept], inside.step]),
        np.concatenate([labels.headland[kept], whole]),
    )
    order = np.lexsort([-np.round(shapely.area(polygons), 6), labels.step, labels.track])
    return Cut(polygons[order], labels.take(order), borders(polygons[order]))


def _lines(grounds: tuple[Ground, ...], width_m: float) -> list[BaseGeometry]:
    """Return all outlines, and the cuts between the steps of the rounds."""
    lines: list[BaseGeometry] = []
    for ground in grounds:
        lines.append(ground.part.boundary)
        for one in ground.rounds:
            lines.append(one.inner.boundary)
            if one.tracks:
                lines.append(cuts(sampled(one.tracks, width_m), one.region))
    return [line for line in lines if not line.is_empty]


def _in_boxes(labels: Labels, inside: Boxes) -> NDArray[np.bool_]:
    """Return which faces are ground of whole steps, which come as boxes."""
    if len(inside.strip) == 0:
        return np.zeros(len(labels.track), dtype=np.bool_)
    span = int(inside.step.max() - inside.step.min() + 1)
    low = int(inside.step.min())
    valid = ~labels.headland & (labels.step >= low) & (labels.step < low + span)
    code = labels.track * span + labels.step - low
    return valid & np.isin(code, strip_track(inside.strip) * span + inside.step - low)


def _notices(grounds: tuple[Ground, ...]) -> tuple[Notice, ...]:
    if any(not ground.body.is_empty for ground in grounds):
        return ()
    text = "The headland rounds fill the whole field: there are no straight passes."
    return (Notice("note", "no-straight-passes", text),)


def piece_of(pieces: gpd.GeoDataFrame, xy_m: Floats) -> Ints:
    """Return the piece that holds each place, shape ``(n,)``.

    A place on a shared edge goes to the piece with the lower number; a place outside the field goes
    to the nearest piece.

    Parameters
    ----------
    pieces
        Frame with ``piece`` and geometry.
    xy_m
        Places in the working CRS, shape ``(n, 2)`` [m].
    """
    tree = shapely.STRtree(pieces.geometry.to_numpy())
    points = np.asarray(shapely.points(xy_m))
    number = pieces["piece"].to_numpy(dtype=np.int64)
    found = np.full(len(points), np.iinfo(np.int64).max)
    which, hit = tree.query(points, predicate="intersects")
    np.minimum.at(found, which, number[hit])
    lost = np.flatnonzero(found == np.iinfo(np.int64).max)
    which, hit = tree.query_nearest(points[lost])
    np.minimum.at(found, lost[which], number[hit])
    return found
