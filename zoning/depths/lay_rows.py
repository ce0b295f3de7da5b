"""Rows of passes and pieces: middle lines, and where along them each piece begins and ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString

from zoning.depths.lay_cells import Cut, Pieces
from zoning.depths.lay_faces import Ints, joined
from zoning.depths.lay_frame import Floats
from zoning.depths.lay_rounds import Track
from zoning.depths.lay_strips import Strips
from zoning.grid import HeadingFrame


@dataclass(frozen=True, slots=True, eq=False)
class Order:
    """Pieces in the order they are driven.

    Parameters
    ----------
    piece
        Pieces as `Pieces` numbers them, pass by pass and step by step.
    number
        Pass of each, from 0.
    opens, closes
        Whether it is the first, the last of its pass.
    """

    piece: Ints
    number: Ints
    opens: NDArray[np.bool_]
    closes: NDArray[np.bool_]


def driven(pieces: Pieces, passes: Ints) -> Order:
    """Return the pieces in the order they are driven."""
    order = np.lexsort([pieces.first, passes])
    number = passes[order]
    change = number[1:] != number[:-1]
    return Order(order, number, np.r_[True, change], np.r_[change, True])


def stretches(
    order: Order, pieces: Pieces, cut: Cut, tracks: Sequence[Track], strips: Strips
) -> tuple[Floats, Floats]:
    """Return begin and end of each driven piece along its track or the heading [m]."""
    first, last = pieces.first[order.piece], pieces.last[order.piece]
    begin, end = strips.edge_along(first), strips.edge_along(last + 1)
    extent = own_extent(pieces, cut)[order.piece]
    begin, end = (
        np.where(order.opens, extent[:, 1], begin),
        np.where(order.closes, extent[:, 3], end),
    )
    round_ = np.flatnonzero(pieces.headland[order.piece])
    if len(round_):
        edges = np.concatenate([track.cuts_m for track in tracks])
        offset = np.cumsum([0, *(len(track.cuts_m) for track in tracks)])
        where = offset[pieces.track[order.piece[round_]]]
        begin[round_], end[round_] = edges[where + first[round_]], edges[where + last[round_] + 1]
    return begin, end


def own_extent(pieces: Pieces, cut: Cut) -> Floats:
    """Return the bounds of what each piece has of its own steps, shape ``(n, 4)`` [m]."""
    home = pieces.piece
    own = (cut.labels.track == pieces.track[home]) & (cut.labels.headland == pieces.headland[home])
    own &= (cut.labels.step >= pieces.first[home]) & (cut.labels.step <= pieces.last[home])
    bounds = shapely.bounds(cut.polygons[own])
    extent = np.tile([np.inf, np.inf, -np.inf, -np.inf], (len(pieces.track), 1))
    np.minimum.at(extent, home[own], np.where([True, True, False, False], bounds, np.inf))
    np.maximum.at(extent, home[own], np.where([False, False, True, True], bounds, -np.inf))
    return extent


def middle_lines(
    order: Order, pieces: Pieces, cut: Cut, tracks: Sequence[Track], stretch: tuple[Floats, Floats]
) -> list[LineString]:
    """Return the middle line of each pass in the heading frame.

    A straight pass runs up the middle of what it covers sideways, which is the middle of its strip
    wherever the strip is covered whole.
    """
    extent = own_extent(pieces, cut)[order.piece]
    opens, closes = np.flatnonzero(order.opens), np.flatnonzero(order.closes)
    left = np.minimum.reduceat(extent[:, 0], opens)
    right = np.maximum.reduceat(extent[:, 2], opens)
    lines = []
    for number, (start, stop) in enumerate(zip(opens, closes, strict=True)):
        piece, end = order.piece[start], order.piece[stop]
        if pieces.headland[piece]:
            lines.append(
                tracks[pieces.track[piece]].between(int(pieces.first[piece]), int(pieces.last[end]))
            )
        else:
            middle = (left[number] + right[number]) / 2.0
            lines.append(LineString([(middle, stretch[0][start]), (middle, stretch[1][stop])]))
    return lines


def rows(
    pieces: Pieces,
    passes: Ints,
    cut: Cut,
    tracks: Sequence[Track],
    strips: Strips,
    frame: HeadingFrame,
) -> tuple[gpd.GeoDataFrame, gpd.GeoDataFrame]:
    """Return the frames of passes and of pieces, in the working CRS."""
    order = driven(pieces, passes)
    stretch = stretches(order, pieces, cut, tracks, strips)
    lines = shapely.transform(
        np.array(middle_lines(order, pieces, cut, tracks, stretch)), frame.outward
    )
    kind = np.where(pieces.headland[order.piece], "headland", "body")
    opens = np.flatnonzero(order.opens)
    start = stretch[0][opens][order.number]
    polygons = shapely.transform(joined(cut.polygons, pieces.piece)[order.piece], frame.outward)
    table = {
        "piece": np.arange(len(polygons)), "pass_id": order.number + 1, "kind": kind,
        "step": np.arange(len(polygons)) - opens[order.number],
        "from_m": stretch[0] - start, "to_m": stretch[1] - start,
    }  # fmt: skip
    passes_frame = gpd.GeoDataFrame(
        {"pass_id": np.arange(1, len(lines) + 1), "kind": kind[opens]}, geometry=lines
    )
    return passes_frame, gpd.GeoDataFrame(table, geometry=shapely.normalize(polygons))
