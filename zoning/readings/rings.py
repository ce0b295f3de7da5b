"""Polygons checked ring by ring: kept as they are, mended without a change of area, or refused."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from zoning.readings.rules import rule

_PLACE = re.compile(r"\[(-?[\d.eE+]+) (-?[\d.eE+]+)\]")
Locate = Callable[[float, float], str]


class RingFaultError(ValueError):
    """A polygon that cannot be used; the message says why and where."""


@dataclass(frozen=True, slots=True, eq=False)
class Mended:
    """Sound polygons of one feature, and whether a ring had to be mended."""

    polygons: tuple[Polygon, ...]
    repaired: bool


def sound_polygons(geometry: BaseGeometry, locate: Locate) -> Mended:
    """Return the polygons of a polygon or multipolygon.

    A ring that touches or spikes is mended if that leaves the area as it was; one that crosses
    itself is refused, because only the user knows which side is the field.

    Parameters
    ----------
    geometry
        In the working CRS [m].
    locate
        Words a place given in the working CRS.

    Raises
    ------
    RingFaultError
        Naming the place.
    """
    parts = [p for p in shapely.get_parts(geometry) if isinstance(p, Polygon)]
    polygons: list[Polygon] = []
    repaired = False
    for part in parts:
        if shapely.is_valid(part):
            polygons.append(part)
        else:
            polygons.extend(_mended(part, locate))
            repaired = True
    if not polygons or any(p.area <= 0 for p in polygons):
        raise RingFaultError("has an outline without area.")
    return Mended(tuple(polygons), repaired)


def _mended(part: Polygon, locate: Locate) -> list[Polygon]:
    made = shapely.make_valid(part)
    polygons = [p for p in _polygons(made) if p.area > 0]
    area = sum(p.area for p in polygons)
    if area <= 0 or abs(area - part.area) > rule("repair_area_relative") * area:
        raise RingFaultError(f"is not a sound polygon: {_reason(part, locate)}.")
    return polygons


def _polygons(geometry: BaseGeometry) -> list[Polygon]:
    if isinstance(geometry, Polygon):
        return [geometry]
    if hasattr(geometry, "geoms"):
        return [p for g in geometry.geoms for p in _polygons(g)]
    return []


def _reason(part: Polygon, locate: Locate) -> str:
    said = str(shapely.is_valid_reason(part))
    place = _PLACE.search(said)
    words = _PLACE.sub("", said).strip().lower()
    if words == "self-intersection":
        words = "the outline crosses itself"
    return words if place is None else f"{words} at {locate(float(place[1]), float(place[2]))}"


def joined(polygons: Sequence[Polygon], locate: Locate) -> MultiPolygon:
    """Return polygons as one multipolygon, joined where they touch, in a stable order.

    Raises
    ------
    RingFaultError
        If two overlap by more than rounding.
    """
    if len(polygons) == 1:
        return _ordered(polygons[0])
    union = shapely.union_all(np.array(polygons, dtype=object))
    overlap = sum(p.area for p in polygons) - union.area
    if overlap > rule("overlap_area_relative") * union.area:
        raise RingFaultError(f"overlap by {overlap:.1f} m2{_overlap_place(polygons, locate)}.")
    return _ordered(union)


def _ordered(geometry: BaseGeometry) -> MultiPolygon:
    made = shapely.normalize(MultiPolygon(_polygons(geometry)))
    if not isinstance(made, MultiPolygon):  # pragma: no cover - normalize keeps the type
        raise TypeError(made.geom_type)
    return made


def _overlap_place(polygons: Sequence[Polygon], locate: Locate) -> str:
    tree = shapely.STRtree(polygons)
    left, right = tree.query(polygons, predicate="intersects")
    worst, where = 0.0, ""
    for i, j in zip(left.tolist(), right.tolist(), strict=True):
        shared = shapely.intersection(polygons[i], polygons[j]) if i < j else None
        if shared is not None and shared.area > worst:
            point = shapely.point_on_surface(shared)
            worst, where = shared.area, f" at {locate(point.x, point.y)}"
    return where
