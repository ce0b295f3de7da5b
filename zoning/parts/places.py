"""Gateways and named areas."""

from __future__ import annotations

from itertools import combinations

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant, joined
from zoning.grid import HeadingFrame
from zoning.model import Notice
from zoning.parts.layers import KINDS, Found, Kind, Layer, apart, whole


def gateways(
    boundary: MultiPolygon, given: gpd.GeoDataFrame, radius_m: float, heading_deg: float
) -> Found:
    """Return the ground about gateways: points and lines widened by `radius_m`, areas as drawn.

    A circle is drawn as straight sides; its corners turn with the travel heading, so that the
    ground is the same whatever way the field lies.
    """
    if len(given) == 0:
        return Found()
    shapes = given.geometry.to_numpy()
    flat = shapely.get_dimensions(shapes) == 2
    axes = HeadingFrame(boundary.centroid.x, boundary.centroid.y, heading_deg)
    segments = int(constant("part_rules", "arc_segments"))
    wide = shapely.buffer(shapely.transform(shapes, axes.inward), radius_m, quad_segs=segments)
    ground = np.where(flat, shapes, shapely.transform(wide, axes.outward))
    off = apart(ground, boundary)
    notices = tuple(_far_gateway(shape, boundary) for shape in shapes[off])
    near = shapely.union_all(ground[~off])
    return Found(
        (whole("gateway", "gateway", near),) if not near.is_empty else (), tuple(sorted(notices))
    )


def _far_gateway(shape: BaseGeometry, boundary: MultiPolygon) -> Notice:
    middle = shape.centroid
    text = (
        f"The gateway at {middle.x:.0f}, {middle.y:.0f} (working CRS) lies "
        f"{shape.distance(boundary):.0f} m from the field and reaches none of it: it is left out. "
        "Check its place or raise gateway_radius_m."
    )
    return Notice("caution", "gateway-off-field", text)


def named(boundary: MultiPolygon, given: gpd.GeoDataFrame) -> Found:
    """Return the named areas, the smaller of two that overlap first.

    Areas of one name are one part. Where areas of different names overlap the smaller one (by its
    ground in the field, then by name) keeps the ground: a small outline inside a large one is the
    more exact statement, and the order of the file must not matter. An area that bears the name of
    a part of its own (body, headland, wheeling, gateway) is ground of that part.
    """
    if len(given) == 0:
        return Found()
    names = given["area"].astype(str).to_numpy()
    shapes = given.geometry.to_numpy()
    off = apart(shapes, boundary)
    layers = [
        _named(name, shapely.union_all(shapes[(names == name) & ~off]))
        for name in sorted({*names[~off]})
    ]
    layers.sort(key=lambda layer: (round(layer.ground.intersection(boundary).area, 6), layer.part))
    notices = [*_outside(names[off]), *_overlaps(layers, boundary), *_kinds(layers)]
    return Found(tuple(layers), tuple(notices))


def _named(name: str, ground: BaseGeometry) -> Layer:
    kind: Kind = next((kind for kind in KINDS if kind == name and kind != "named"), "named")
    return whole(name, kind, ground)


def _outside(names: NDArray[np.object_]) -> list[Notice]:
    if len(names) == 0:
        return []
    text = f"Named areas outside the field are left out: {joined(sorted({*names}))}."
    return [Notice("note", "area-outside", text)]


def _overlaps(layers: list[Layer], boundary: MultiPolygon) -> list[Notice]:
    found = []
    for small, large in combinations(layers, 2):
        area_m2 = small.ground.intersection(large.ground).intersection(boundary).area
        if area_m2 >= 1.0:
            text = (
                f"The named areas {small.part} and {large.part} overlap on {area_m2:.0f} m2; "
                f"the smaller one, {small.part}, keeps that ground."
            )
            found.append(Notice("note", "areas-overlap", text))
    return found


def _kinds(layers: list[Layer]) -> list[Notice]:
    return [
        Notice(
            "note",
            "area-joins-part",
            f"The named area {layer.part} counts as {layer.part}, not apart from it.",
        )
        for layer in layers
        if layer.kind != "named"
    ]
