"""Headland rounds: the middle lines that follow the outline, and the cuts between their steps."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.spatial import Voronoi
from shapely import LinearRing, LineString, Polygon
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant
from zoning.depths.lay_faces import Ints
from zoning.depths.lay_frame import Floats, line_between, places_along, segments
from zoning.depths.lay_tails import long_axis, tails


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """A middle line that a headland pass follows, and where along it its steps meet [m]."""

    line: LineString
    cuts_m: Floats

    @property
    def steps(self) -> int:
        """Number of steps."""
        return len(self.cuts_m) - 1

    def between(self, first: int, last: int) -> LineString:
        """Return the line from the beginning of step `first` to the end of step `last`."""
        if first == 0 and last == self.steps - 1:
            return self.line
        return line_between(self.line, self.cuts_m[first], self.cuts_m[last + 1])


@dataclass(frozen=True, slots=True, eq=False)
class Round:
    """One headland round of one part of the boundary.

    Parameters
    ----------
    region
        Ground between the round's outer and inner distance from the outline (obstacles not taken
        out).
    inner
        Ground farther inside.
    tracks
        Its middle lines; none where the ground is too narrow.
    """

    region: BaseGeometry
    inner: BaseGeometry
    tracks: tuple[Track, ...]


def round_count(width_m: float, headland_width_m: float) -> int:
    """Return how many rounds cover a headland: its width over the machine's, rounded up."""
    return max(0, math.ceil(headland_width_m / width_m - 1e-9))


def inset(part: Polygon, distance_m: float, *, round_obstacles: bool) -> BaseGeometry:
    """Return the ground at least `distance_m` inside the outer ring, and the holes where asked.

    Holes are filled where they are not to be followed; take them out again with the part itself.
    """
    whole = part if round_obstacles else Polygon(part.exterior)
    if distance_m <= 0:
        return whole
    return whole.buffer(-distance_m, quad_segs=int(constant("lay_rules", "arc_segments")))


def rounds_of(
    part: Polygon, *, width_m: float, count: int, step_m: float, round_obstacles: bool
) -> tuple[Round, ...]:
    """Return the `count` headland rounds of one polygon, outermost first."""
    found = []
    outer = inset(part, 0.0, round_obstacles=round_obstacles)
    for k in range(count):
        inner = inset(part, (k + 1) * width_m, round_obstacles=round_obstacles)
        region = outer.difference(inner)
        middle = inset(part, (k + 0.5) * width_m, round_obstacles=round_obstacles)
        middle = without_necks(middle, width_m)
        lines = [piece for loop in loops(middle) for piece in _inside(loop, part)]
        lines += tails(region.intersection(part), lines, width_m, step_m)
        if k == 0 and not lines:
            lines = [long_axis(part)]
        found.append(Round(region, inner, tuple(cut_evenly(line, step_m) for line in lines)))
        outer = inner
    return tuple(found)


def without_necks(middle: BaseGeometry, width_m: float) -> BaseGeometry:
    """Return the ground within the middle line of a round, less where it is a narrow neck.

    There the round would run up one side and down the other less than half a width apart (twice
    `neck_share` of it); one pass up the middle covers that ground (`zoning.depths.lay_tails`).
    """
    reach = constant("lay_rules", "neck_share") * width_m
    wide = middle.buffer(-reach).buffer(1.1 * reach, join_style="mitre")
    lost = [
        part for part in shapely.get_parts(middle.difference(wide)) if part.length >= 3 * width_m
    ]
    if not lost:
        return middle
    past = constant("lay_rules", "overshoot_m")  # so that no film stays along the sides of the neck
    return middle.difference(shapely.union_all(lost).buffer(past, join_style="mitre"))


def loops(area: BaseGeometry) -> list[LineString]:
    """Return the rings of `area` as anticlockwise lines, each begun at its leftmost corner."""
    rings = [_begun(ring) for ring in shapely.get_rings(shapely.get_parts(area))]
    return sorted(rings, key=lambda line: tuple(np.round(line.coords[0], 3)))


def _begun(ring: LinearRing) -> LineString:
    xy = shapely.get_coordinates(ring)[:-1]
    if not shapely.is_ccw(ring):
        xy = xy[::-1]
    lowest = int(np.lexsort([np.round(xy[:, 1], 3), np.round(xy[:, 0], 3)])[0])
    xy = np.roll(xy, -lowest, axis=0)
    return LineString(np.vstack([xy, xy[:1]]))


def _inside(line: LineString, part: Polygon) -> list[LineString]:
    """Return the stretches of `line` that lie in the field, in the order they are met."""
    if part.covers(line):
        return [line]
    pieces = shapely.get_parts(shapely.line_merge(line.intersection(part), directed=True))
    return sorted(
        (piece for piece in pieces if isinstance(piece, LineString)),
        key=lambda piece: line.project(piece.interpolate(0.5, normalized=True)),
    )


def cut_evenly(line: LineString, step_m: float) -> Track:
    """Return `line` with equal steps of about `step_m`."""
    steps = max(1, math.floor(line.length / step_m + 0.5))
    return Track(line, np.linspace(0.0, line.length, steps + 1))


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """Points along middle lines with the number of their track and of their step."""

    xy: Floats
    track: Ints
    step: Ints


def sampled(tracks: tuple[Track, ...], width_m: float) -> Samples:
    """Return evenly spaced points along the tracks, several a step: cuts fall between them."""
    spacing = width_m / constant("lay_rules", "samples_per_width")
    xy, track, step = [], [], []
    for number, one in enumerate(tracks):
        each = max(2, math.ceil(one.line.length / one.steps / spacing))
        n = one.steps * each
        where = (np.arange(n, dtype=np.float64) + 0.5) * float(one.line.length / n)
        xy.append(places_along(one.line, where))
        track.append(np.full(n, number))
        step.append(np.repeat(np.arange(one.steps), each))
    return Samples(np.vstack(xy), np.concatenate(track), np.concatenate(step))


def cuts(samples: Samples, region: BaseGeometry) -> BaseGeometry:
    """Return lines that part the ground of `region` so that each step gets what lies nearest to it.

    The lines are the edges of the Voronoi diagram of the samples that stand between different
    steps. They run a little past the region so that they cross its outline.
    """
    middle = samples.xy.mean(axis=0)
    far = 10.0 * (
        np.ptp(samples.xy, axis=0).max() + math.sqrt(shapely.area(shapely.envelope(region)))
    )
    corners = middle + far * np.array([[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], [0.0, -1.0]])
    diagram = Voronoi(np.vstack([samples.xy, corners]))
    label = np.concatenate([_label(samples), [-1, -2, -3, -4]])
    ends = np.array(diagram.ridge_vertices)
    apart = (label[diagram.ridge_points[:, 0]] != label[diagram.ridge_points[:, 1]]) & (
        ends >= 0
    ).all(axis=1)
    reach = region.buffer(constant("lay_rules", "overshoot_m"), join_style="mitre")
    return segments(diagram.vertices[ends[apart]]).intersection(reach)


def _label(samples: Samples) -> Ints:
    return np.asarray(samples.track * (samples.step.max() + 1) + samples.step, dtype=np.int64)
