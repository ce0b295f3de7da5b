"""From faces to pieces: which pass and step a face belongs to, what is too small to stand alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import KDTree
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant
from zoning.depths.lay_faces import Borders, Ints, absorbed, connected
from zoning.depths.lay_frame import Floats, Geometries
from zoning.depths.lay_rounds import Round, Track, sampled
from zoning.depths.lay_strips import Strips


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """One polygon of the boundary with its rounds and what they leave, in the heading frame."""

    part: Polygon
    rounds: tuple[Round, ...]
    body: BaseGeometry


@dataclass(frozen=True, slots=True, eq=False)
class Labels:
    """Track and step of each face; `track` is -1 outside the field and -2 where no track runs.

    Headland tracks are numbered from 0 in the order of the grounds and their rounds; strip `j` of
    the body has the number `strip_track` gives it, larger than any of theirs.
    """

    track: Ints
    step: Ints
    headland: NDArray[np.bool_]

    def take(self, rows: Ints) -> Labels:
        """Return the labels of some faces, in the order of `rows`."""
        return Labels(self.track[rows], self.step[rows], self.headland[rows])


@dataclass(frozen=True, slots=True, eq=False)
class Cut:
    """Faces of the field in the heading frame, with their labels and shared edges.

    They stand by track, step and size, not as they were found: of neighbours that are alike the
    first one counts, and which that is must not hang on rounding.
    """

    polygons: Geometries
    labels: Labels
    shared: Borders


def tracks_of(grounds: Sequence[Ground]) -> tuple[Track, ...]:
    """Return all headland tracks in the order of their numbers."""
    return tuple(track for ground in grounds for one in ground.rounds for track in one.tracks)


def labelled(
    points: Geometries, grounds: Sequence[Ground], strips: Strips, width_m: float
) -> Labels:
    """Return the labels of faces from a point inside each."""
    xy = shapely.get_coordinates(points)
    track = np.full(len(xy), -1, dtype=np.int64)
    step = np.zeros(len(xy), dtype=np.int64)
    headland = np.zeros(len(xy), dtype=np.bool_)
    number = 0
    for ground in grounds:
        shapely.prepare(ground.part)
        left = np.flatnonzero(shapely.contains_xy(ground.part, xy[:, 0], xy[:, 1]))
        for one in ground.rounds:
            shapely.prepare(one.inner)
            inner = shapely.contains_xy(one.inner, xy[left, 0], xy[left, 1])
            here, left = left[~inner], left[inner]
            headland[here] = True
            track[here], step[here] = _nearest(xy[here], one, number, width_m)
            number += len(one.tracks)
        track[left] = strip_track(strips.strip_of(xy[left, 0]))
        step[left] = strips.step_of(xy[left, 1])
    return Labels(track, step, headland)


_STRIP_ZERO = 1 << 40


def strip_track(strip: Ints) -> Ints:
    """Return the track number of a strip: larger than any headland track's."""
    return strip + _STRIP_ZERO


def _nearest(xy: Floats, one: Round, number: int, width_m: float) -> tuple[Ints, Ints]:
    if not one.tracks or len(xy) == 0:
        return np.full(len(xy), -2), np.zeros(len(xy), dtype=np.int64)
    samples = sampled(one.tracks, width_m)
    nearest = KDTree(samples.xy).query(xy)[1]
    return samples.track[nearest] + number, samples.step[nearest]


@dataclass(frozen=True, slots=True, eq=False)
class Pieces:
    """Which piece each face goes to; of each piece its track and its first and last step there."""

    piece: Ints
    track: Ints
    first: Ints
    last: Ints
    headland: NDArray[np.bool_]


def gathered(area_m2: Floats, shared: Borders, labels: Labels, whole_m2: float) -> Pieces:
    """Return the pieces that faces form: one a step, nothing left that is too small to stand alone.

    Faces of one step that touch form a cell. A cell is given to a neighbour where it is smaller
    than `least_piece_share` of a whole step, where no track runs, or where a larger cell of the
    same headland step exists elsewhere.
    """
    same = _same(labels, shared)
    cell = connected(len(area_m2), shared.left[same], shared.right[same])
    _, one = np.unique(cell, return_index=True)
    cell_area = np.bincount(cell, area_m2).astype(np.float64)
    cells = labels.take(one)
    edges = shared.between(cell)
    small = cell_area < constant("lay_rules", "least_piece_share") * whole_m2
    largest = _largest(cell_area, cells)
    small |= (cells.track < 0) | (cells.headland & ~largest)
    taker = absorbed(cell_area, edges, _worth(edges, cells), small=small)
    kept, piece = np.unique(taker, return_inverse=True)
    first, last = _spans(cells, kept, piece.ravel(), largest)
    return Pieces(piece.ravel()[cell], cells.track[kept], first, last, cells.headland[kept])


def _same(labels: Labels, shared: Borders) -> NDArray[np.bool_]:
    same = labels.track[shared.left] == labels.track[shared.right]
    return np.asarray(same & (labels.step[shared.left] == labels.step[shared.right]))


def _largest(area_m2: Floats, cells: Labels) -> NDArray[np.bool_]:
    """Return which cells are the largest of their track and step."""
    order = np.lexsort([-np.round(area_m2, 6), cells.step, cells.track])
    track, step = cells.track[order], cells.step[order]
    begins = np.r_[True, (track[1:] != track[:-1]) | (step[1:] != step[:-1])]
    largest = np.zeros(len(area_m2), dtype=np.bool_)
    largest[order[begins]] = True
    return largest


def _worth(edges: Borders, cells: Labels) -> Floats:
    """Return shared length times how well the two cells go together."""
    own = cells.track[edges.left] == cells.track[edges.right]
    kind = cells.headland[edges.left] == cells.headland[edges.right]
    factor = np.where(kind, constant("lay_rules", "same_kind_weight"), 1.0)
    length = np.round(edges.length_m, 6)  # alike is alike whatever way the field lies
    return length * np.where(own, constant("lay_rules", "same_pass_weight"), factor)


def _spans(cells: Labels, kept: Ints, piece: Ints, largest: NDArray[np.bool_]) -> tuple[Ints, Ints]:
    """Return first and last step of the unbroken run of own steps that each piece holds.

    Of a step whose ground lies in several cells only the largest counts.
    """
    first, last = cells.step[kept].copy(), cells.step[kept].copy()
    guests = np.flatnonzero(largest & (cells.track == cells.track[kept][piece]))
    guests = guests[kept[piece[guests]] != guests]
    for cell in guests[np.argsort(cells.step[guests])]:
        last[piece[cell]] += cells.step[cell] == last[piece[cell]] + 1
    for cell in guests[np.argsort(-cells.step[guests])]:
        first[piece[cell]] -= cells.step[cell] == first[piece[cell]] - 1
    return first, last


def chained(pieces: Pieces, shared: Borders) -> Ints:
    """Return the pass of each piece, from 0: pieces of one track that follow each other and touch.

    Passes are numbered headland first, along their track. Where a step is followed by two pieces
    (an obstacle parts the strip) the pass goes on in the one with the longer border, and the other
    begins a pass of its own.
    """
    pairs = shared.between(pieces.piece)
    ends = [(pairs.left, pairs.right), (pairs.right, pairs.left)]
    follows = [
        (pieces.track[a] == pieces.track[b]) & (pieces.first[b] == pieces.last[a] + 1)
        for a, b in ends
    ]
    before = np.concatenate([a[ok] for (a, _), ok in zip(ends, follows, strict=True)])
    after = np.concatenate([b[ok] for (_, b), ok in zip(ends, follows, strict=True)])
    length = np.concatenate([pairs.length_m[ok] for ok in follows])
    linked = _one_to_one(before, after, length, len(pieces.track))
    group = connected(len(pieces.track), before[linked], after[linked])
    return _numbered(group, pieces)


def _one_to_one(before: Ints, after: Ints, length_m: Floats, n: int) -> Ints:
    """Return the links kept, longest border first: one follower and one forerunner a piece."""
    used_before, used_after = np.zeros(n, dtype=np.bool_), np.zeros(n, dtype=np.bool_)
    kept = []
    for link in np.lexsort([after, before, -np.round(length_m, 6)]):
        if not (used_before[before[link]] or used_after[after[link]]):
            used_before[before[link]] = used_after[after[link]] = True
            kept.append(link)
    return np.array(kept, dtype=np.int64)


def _numbered(group: Ints, pieces: Pieces) -> Ints:
    order = np.lexsort([pieces.first, pieces.track])
    _, begins = np.unique(group[order], return_index=True)
    number = np.empty(len(begins), dtype=np.int64)
    number[np.argsort(begins)] = np.arange(len(begins))
    return number[group]
