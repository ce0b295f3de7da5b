"""From the working coordinate system to longitude and latitude, and back.

Straight edges of the working system are not straight in longitude and latitude, so long edges get
points between their ends before they are moved; two zones that share an edge get the same points,
whichever way round their rings run, so that they still share it afterwards.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from functools import lru_cache

import numpy as np
import pyproj
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant
from zoning.errors import OutputFailed

Ring = NDArray[np.float64]
LONLAT = "EPSG:4326"
"""Longitude and latitude, WGS 84."""
_ROUNDS = 4
_NORTH_DEG = 0.001
_SAME_PLACE_DEG = 1e-9


def decimals() -> int:
    """Return the decimals of longitude and latitude."""
    return int(constant("output_rules", "lonlat_decimals"))


def transformed(xy: NDArray[np.float64], source: str, target: str) -> NDArray[np.float64]:
    """Return places moved from one coordinate system to another, east before north, ``(n, 2)``."""
    return np.column_stack(_transformer(source, target).transform(*xy.T))


@lru_cache(maxsize=16)
def _transformer(source: str, target: str) -> pyproj.Transformer:
    # To set one up takes as long as to move a thousand places.
    return pyproj.Transformer.from_crs(source, target, always_xy=True)


def true_north_deg(at: shapely.Point, crs: str) -> float:
    """Return how far true north lies clockwise of the north of the grid of `crs` at a place [deg].

    It is the direction of the meridian there; in a transverse Mercator zone it is up to a few
    degrees off, anticlockwise east of the middle of the zone on the northern half of the Earth.
    """
    lon, lat = transformed(np.array([[at.x, at.y]]), crs, LONLAT)[0]
    ends = transformed(np.array([[lon, lat - _NORTH_DEG], [lon, lat + _NORTH_DEG]]), LONLAT, crs)
    east_m, north_m = ends[1] - ends[0]
    return math.degrees(math.atan2(east_m, north_m))


def same_system(found: str, wanted: str, field: BaseGeometry) -> bool:
    """Return whether two coordinate systems put the middle of `field` at one place.

    No name ("") stands for longitude and latitude.
    """
    middle = shapely.get_coordinates(field.centroid)
    here, there = (transformed(middle, crs or LONLAT, LONLAT) for crs in (found, wanted))
    return np.allclose(here, there, rtol=0, atol=_SAME_PLACE_DEG)


def lonlat_points(xy_m: NDArray[np.float64], crs: str) -> NDArray[np.float64]:
    """Return longitude and latitude [deg] as written of points in `crs`; shapes ``(n, 2)``."""
    return _rounded(transformed(xy_m, crs, LONLAT))


def working_areas(areas: Iterable[BaseGeometry], crs: str) -> list[BaseGeometry]:
    """Return areas in longitude and latitude moved back into `crs`."""
    return [shapely.transform(area, lambda xy: transformed(xy, LONLAT, crs)) for area in areas]


def lonlat_areas(areas: Sequence[BaseGeometry], crs: str) -> list[BaseGeometry]:
    """Return areas that tile a field in longitude and latitude, tiling it still.

    Parameters
    ----------
    areas
        Polygons in `crs` that share edges and do not overlap.
    crs
        The projected working coordinate system.

    Returns
    -------
    list
        The same areas in WGS 84 degrees, coordinates rounded to the decimals of
        ``shared/tables/output_rules.csv``, outer rings anticlockwise and holes clockwise as
        ``rfc_7946``, section 3.1.6, asks.

    Raises
    ------
    OutputFailed
        If no rounding of the areas tiles the field without overlap.

    Notes
    -----
    Rounding moves each point by up to 0.6 mm, which on a field of a few hectares may add up to more
    than ``area_tolerance``. So the whole field is shifted by less than the last decimal, by another
    amount at each try, and every fifth try lays closer points on long edges, until the area is kept
    to half the tolerance; otherwise the best try counts.
    """
    exact = _tiling(areas)
    wanted = float(shapely.area(exact).sum())
    best: list[BaseGeometry] = []
    least = math.inf
    for number in range(int(constant("output_rules", "rounding_tries"))):
        moved = _tiling_rounded(exact, crs, number)
        error = abs(float(shapely.area(working_areas(moved, crs)).sum()) / wanted - 1)
        if error < least:
            best, least = moved, error
        if least <= constant("output_rules", "area_tolerance") / 2:
            break
    return [shapely.orient_polygons(area, exterior_cw=False) for area in best]


def _tiling_rounded(areas: Sequence[BaseGeometry], crs: str, number: int) -> list[BaseGeometry]:
    """Return `areas` rounded in the way of try `number`, mended where rounding broke them."""
    step_m = constant("output_rules", "densify_edge_m") / (1 + number // 5)
    # Multiples of the golden section, less whole numbers, fall evenly: 0, -0.38, 0.24, -0.15 ...
    part = number * (math.sqrt(5) - 1) / 2
    shift_deg = (part - round(part)) * 10.0 ** -decimals()
    moved = [
        _rebuilt(
            area, lambda ring: _rounded(transformed(_dense(ring, step_m), crs, LONLAT) + shift_deg)
        )
        for area in areas
    ]
    for _ in range(_ROUNDS):
        if _tiles(moved):
            return moved
        moved = [_rebuilt(area, _rounded) for area in _cleaned(moved)]
    raise OutputFailed(
        "The zones overlap or leave gaps once written as longitude and latitude. "
        "Ask for a longer shortest run, so that no zone is narrower than a few millimetres."
    )


def _tiles(areas: Sequence[BaseGeometry]) -> bool:
    return bool(shapely.is_valid(areas).all() and shapely.coverage_is_valid(areas))


def _tiling(areas: Sequence[BaseGeometry]) -> Sequence[BaseGeometry]:
    if shapely.coverage_is_valid(areas):
        return areas
    return _cleaned(areas)


def _cleaned(areas: Sequence[BaseGeometry]) -> list[BaseGeometry]:
    clean = shapely.coverage_clean  # type: ignore[attr-defined]  # stubs end at shapely 2.1
    return list(clean(list(areas)))


def _rounded(lonlat: Ring) -> Ring:
    # Adding zero turns -0.0 into 0.0, which would print with a sign.
    return np.round(lonlat, decimals()) + 0.0


def _rebuilt(area: BaseGeometry, move: Callable[[Ring], Ring]) -> BaseGeometry:
    polygons = []
    for polygon in getattr(area, "geoms", [area]):
        rings = [
            _without_repeats(move(shapely.get_coordinates(ring)))
            for ring in (polygon.exterior, *polygon.interiors)
        ]
        if len(rings[0]) >= 4:
            polygons.append(Polygon(rings[0], [ring for ring in rings[1:] if len(ring) >= 4]))
    return polygons[0] if len(polygons) == 1 else MultiPolygon(polygons)


def _dense(ring: Ring, step_m: float) -> Ring:
    """Return `ring` with evenly spaced points on edges longer than `step_m`, shape ``(m, 2)``.

    The points of an edge are counted from its lesser end, so that an edge gets the same points
    from both sides to the last bit.
    """
    start, end = ring[:-1], ring[1:]
    count = np.maximum(1, np.ceil(np.hypot(*(end - start).T) / step_m)).astype(np.int64)
    edge = np.repeat(np.arange(len(start)), count)
    within = np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)
    turned = (start[:, 0] > end[:, 0]) | ((start[:, 0] == end[:, 0]) & (start[:, 1] > end[:, 1]))
    first = np.where(turned[:, None], end, start)[edge]
    last = np.where(turned[:, None], start, end)[edge]
    number = np.where(turned[edge], count[edge] - within, within)
    between = first + (last - first) * (number / count[edge])[:, None]
    points = np.where((within == 0)[:, None], start[edge], between)
    return np.vstack([points, ring[-1:]])


def _without_repeats(ring: Ring) -> Ring:
    keep = np.ones(len(ring), dtype=bool)
    keep[1:] = (ring[1:] != ring[:-1]).any(axis=1)
    return ring[keep]
