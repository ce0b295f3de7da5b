"""Wheelings: the tracks of repeated traffic, as drawn or by rule."""

from __future__ import annotations

import math

import geopandas as gpd
import numpy as np
import shapely
from shapely import MultiPolygon
from shapely.affinity import rotate
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant
from zoning.model import Notice
from zoning.model.settings import WheelingsSection
from zoning.parts.layers import Found, Layer, apart, whole


def drawn_wheelings(boundary: MultiPolygon, lines: gpd.GeoDataFrame, width_m: float) -> Found:
    """Return wheelings drawn as lines, half the width each side; drawn areas are taken as they are.

    A drawn wheeling counts through the headland too: it is traffic on top of turning.
    """
    shapes = lines.geometry.to_numpy()
    flat = shapely.get_dimensions(shapes) == 2
    tracks = np.where(flat, shapes, shapely.buffer(shapes, width_m / 2.0))
    off = apart(tracks, boundary)
    notices: tuple[Notice, ...] = ()
    if off.any():
        text = f"{int(off.sum())} of {len(off)} wheelings lie outside the field and are left out."
        notices = (Notice("note", "wheeling-outside", text),)
    ground = shapely.union_all(tracks[~off])
    return Found((whole("wheeling", "wheeling", ground),) if not ground.is_empty else (), notices)


def ruled_wheelings(
    boundary: MultiPolygon, body: MultiPolygon, rule: WheelingsSection, heading_deg: float
) -> Found:
    """Return parallel wheelings by heading, spacing and offset, inside `body` only.

    Parameters
    ----------
    boundary
        Outline of the field [m].
    body
        The field without its headland: wheelings by rule end at the headland, where machines turn.
    rule
        Heading, spacing, offset and width. The middle of the first wheeling runs `offset_m` to the
        right of the leftmost point of the field's outline, looking along the heading, and the
        others every `spacing_m` from it to both sides: a reference that can be taped out in the
        field and moves with it.
    heading_deg
        Travel heading, where the rule gives none [degrees].
    """
    if rule.spacing_m is None:
        return Found(notices=(_unplaced(),))
    heading = heading_deg if rule.heading_deg is None else rule.heading_deg
    tracks = _parallel(boundary, rule, heading)
    reach = body.buffer(constant("part_rules", "overshoot_m"), join_style="mitre")
    ground = tracks.intersection(body)
    if ground.is_empty:
        return Found()
    edges = shapely.union_all([tracks.boundary.intersection(reach), body.boundary])
    notices = (*_crowded(rule), *_from_the_edge(rule))
    return Found((Layer("wheeling", "wheeling", ground, edges),), notices)


def _parallel(boundary: MultiPolygon, rule: WheelingsSection, heading_deg: float) -> BaseGeometry:
    """Return the strips of all wheelings, longer than the field."""
    spacing = rule.spacing_m or math.inf
    turned = rotate(boundary, heading_deg, origin=boundary.centroid)
    west, south, east, north = turned.bounds
    half = rule.width_m / 2.0
    start = west + rule.offset_m
    low = math.ceil((west - half - start) / spacing)
    high = math.floor((east + half - start) / spacing)
    middle = start + np.arange(low, high + 1) * spacing
    left, right = (middle - half).astype(np.float64), (middle + half).astype(np.float64)
    strips = shapely.box(
        left, np.full_like(left, south - 1.0), right, np.full_like(left, north + 1.0)
    )
    return rotate(shapely.union_all(strips), -heading_deg, origin=boundary.centroid)


def _crowded(rule: WheelingsSection) -> tuple[Notice, ...]:
    if rule.spacing_m is None or rule.width_m < rule.spacing_m:
        return ()
    text = (
        f"Wheelings {rule.width_m:g} m wide every {rule.spacing_m:g} m leave no ground between "
        "them: all of the body counts as wheeling."
    )
    return (Notice("caution", "wheelings-everywhere", text),)


def _from_the_edge(rule: WheelingsSection) -> tuple[Notice, ...]:
    if rule.offset_m != 0:
        return ()
    text = (
        "offset_m of [areas.wheelings] is not given, or 0: the first wheeling is laid through the "
        f"leftmost point of the field, the others every {rule.spacing_m:g} m from it. Seldom do "
        "they lie there: tape offset_m out (docs/howto/wheelings_without_a_map.rst)."
    )
    return (Notice("caution", "wheelings-from-edge", text),)


def _unplaced() -> Notice:
    text = "Wheelings were given without lines and without spacing_m: none are laid."
    return Notice("caution", "wheelings-not-placed", text)
