"""Straight passes: whole steps as boxes, and the cuts of the steps that meet the outline."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiLineString
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant
from zoning.depths.lay_faces import Ints
from zoning.depths.lay_frame import Floats, Geometries, on_grid, segments


@dataclass(frozen=True, slots=True)
class Strips:
    """Straight strips in the heading frame: strip `j` begins at ``offset + j width`` across.

    Its steps are counted from the origin along the heading.
    """

    width_m: float
    step_m: float
    offset_m: float

    def edge_across(self, strip: Ints) -> Floats:
        """Return the left edge of each strip [m across]."""
        return on_grid(self.offset_m + strip.astype(np.float64) * self.width_m)

    def edge_along(self, step: Ints) -> Floats:
        """Return the beginning of each step [m along]."""
        return on_grid(step.astype(np.float64) * self.step_m)

    def strip_of(self, across_m: Floats) -> Ints:
        """Return the strip that each place lies in."""
        return np.floor((across_m - self.offset_m) / self.width_m).astype(np.int64)

    def step_of(self, along_m: Floats) -> Ints:
        """Return the step that each place lies in."""
        return np.floor(along_m / self.step_m).astype(np.int64)


@dataclass(frozen=True, slots=True, eq=False)
class Boxes:
    """Whole steps with their strip and step number, and the cuts of the others."""

    polygons: Geometries
    strip: Ints
    step: Ints
    cuts: BaseGeometry


def boxes(body: BaseGeometry, strips: Strips) -> Boxes:
    """Return the steps wholly inside `body`, and the outlines of those that meet its edge."""
    none = np.array([], dtype=np.int64)
    if body.is_empty:
        return Boxes(np.array([], dtype=object), none, none, MultiLineString())
    strip, step = _candidates(body, strips)
    polygons = shapely.box(
        strips.edge_across(strip),
        strips.edge_along(step),
        strips.edge_across(strip + 1),
        strips.edge_along(step + 1),
    )
    shapely.prepare(body)
    touching = shapely.intersects(body, polygons)
    polygons, strip, step = polygons[touching], strip[touching], step[touching]
    core = body.buffer(-constant("lay_rules", "inside_margin_m"))
    shapely.prepare(core)
    whole = shapely.covers(core, polygons)
    edges = _edges(strip[~whole], step[~whole], strips)
    reach = body.buffer(constant("lay_rules", "overshoot_m"), join_style="mitre")
    return Boxes(polygons[whole], strip[whole], step[whole], edges.intersection(reach))


def _candidates(body: BaseGeometry, strips: Strips) -> tuple[Ints, Ints]:
    """Return strip and step number of every box in the bounds of `body`."""
    low_x, low_y, high_x, high_y = body.bounds
    first, last = strips.strip_of(np.array([low_x, high_x]))
    start, end = strips.step_of(np.array([low_y, high_y]))
    across, along = np.meshgrid(
        np.arange(first, last + 1), np.arange(start, end + 1), indexing="ij"
    )
    return across.ravel().astype(np.int64), along.ravel().astype(np.int64)


def _edges(strip: Ints, step: Ints, strips: Strips) -> MultiLineString:
    """Return the sides of the boxes, each once."""
    left = np.unique(np.column_stack([np.r_[strip, strip + 1], np.r_[step, step]]), axis=0)
    lower = np.unique(np.column_stack([np.r_[strip, strip], np.r_[step, step + 1]]), axis=0)
    up = _sides(left[:, 0], left[:, 1], left[:, 0], left[:, 1] + 1, strips)
    right = _sides(lower[:, 0], lower[:, 1], lower[:, 0] + 1, lower[:, 1], strips)
    return segments(np.concatenate([up, right]))


def _sides(strip: Ints, step: Ints, to_strip: Ints, to_step: Ints, strips: Strips) -> Floats:
    ends = [
        np.column_stack([strips.edge_across(strip), strips.edge_along(step)]),
        np.column_stack([strips.edge_across(to_strip), strips.edge_along(to_step)]),
    ]
    return np.stack(ends, axis=1)
