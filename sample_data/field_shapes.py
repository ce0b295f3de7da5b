"""Outlines, headlands, wheelings and gateways of simulated fields, all in metres."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from field_scenario import Scenario
from numpy.typing import NDArray
from shapely import LineString, MultiPolygon, Point, Polygon
from shapely.affinity import rotate, scale, translate
from shapely.geometry.base import BaseGeometry

SHORTEST_SIDE_M = 30.0
SHARPEST_CORNER_DEG = 40.0


Outline = Polygon | MultiPolygon


@dataclass(frozen=True, slots=True, eq=False)
class Shapes:
    """The ground as it is: true parts, and the wheelings as the farm's map has them."""

    boundary: Outline
    headland: BaseGeometry
    wheelings: BaseGeometry
    wheeling_lines: tuple[LineString, ...]
    gateways: tuple[Point, ...]
    gateway_area: BaseGeometry
    named: BaseGeometry


def draw_parts(
    scenario: Scenario, rng: np.random.Generator, boundary: Outline, *, named: bool
) -> Shapes:
    """Return the parts of a field of the given outline [m, working CRS]."""
    body = boundary.buffer(-scenario.headland_width_m)
    lines = _wheeling_lines(scenario, rng, boundary)
    gateways = _gateways(scenario, rng, boundary)
    mapped = [translate(line, *_sideways(scenario)) for line in lines]
    return Shapes(
        boundary=boundary,
        headland=boundary.difference(body),
        wheelings=shapely.union_all(
            [line.buffer(scenario.wheeling_width_m / 2, cap_style="flat") for line in lines]
        ).intersection(body),
        wheeling_lines=tuple(part for line in mapped for part in _pieces(line.intersection(body))),
        gateways=gateways,
        gateway_area=shapely.union_all(
            [g.buffer(scenario.gateway_radius_m) for g in gateways]
        ).intersection(boundary),
        named=_named_area(rng, boundary, body) if named else Polygon(),
    )


def direction(heading_deg: float) -> tuple[float, float]:
    """Return the unit vector (east, north) of a heading clockwise from north."""
    angle = np.radians(heading_deg)
    return float(np.sin(angle)), float(np.cos(angle))


def _sideways(scenario: Scenario) -> tuple[float, float]:
    east, north = direction(scenario.heading_deg + 90)
    return east * scenario.wheeling_map_error_m, north * scenario.wheeling_map_error_m


def _pieces(geometry: BaseGeometry) -> list[LineString]:
    return [p for p in shapely.get_parts(geometry) if p.geom_type == "LineString" and p.length > 5]


def draw_outline(
    scenario: Scenario, rng: np.random.Generator, centre_m: tuple[float, float]
) -> Polygon:
    """Return an outline round `centre_m` [m, working CRS].

    Corners are drawn until the outline is one a tractor could work, then scaled to the area.
    """
    for _ in range(1000):
        shape = Polygon(_corners(scenario, rng))
        if not shape.is_valid:
            continue
        factor = float(np.sqrt(scenario.area_ha * 1e4 / shape.area))
        shape = scale(shape, factor, factor, origin="centroid")
        if _workable(shape):
            break
    shape = rotate(shape, -scenario.heading_deg, origin="centroid")
    shape = translate(shape, centre_m[0] - shape.centroid.x, centre_m[1] - shape.centroid.y)
    return _with_pond(shape, rng) if scenario.pond else shape


def _corners(scenario: Scenario, rng: np.random.Generator) -> NDArray[np.float64]:
    """Corners of a skewed rectangle, its long side north, with extra bends in its sides."""
    half = np.array([1.0, scenario.aspect])
    corners: NDArray[np.float64] = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half
    corners = corners + rng.uniform(-0.22, 0.22, (4, 2)) * half
    for extra in range(scenario.corners - 4):
        sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
        at = int(rng.choice(len(corners), p=sides**2 / (sides**2).sum()))
        start, end = corners[at], corners[(at + 1) % len(corners)]
        out = np.array([end[1] - start[1], start[0] - end[0]])
        bite = (
            -rng.uniform(0.15, 0.3) if extra == 0 and scenario.notch else rng.uniform(-0.05, 0.12)
        )
        bend = start + rng.uniform(0.3, 0.7) * (end - start) + bite * out
        corners = np.insert(corners, at + 1, bend, axis=0)
    return corners


def _workable(shape: Polygon) -> bool:
    ring = np.asarray(shape.exterior.coords)[:-1]
    before, after = np.roll(ring, 1, axis=0) - ring, np.roll(ring, -1, axis=0) - ring
    lengths = np.linalg.norm(after, axis=1)
    cosine = (before * after).sum(axis=1) / (np.roll(lengths, 1) * lengths)
    sharpest = np.degrees(np.arccos(np.clip(cosine, -1, 1))).min()
    return bool(lengths.min() >= SHORTEST_SIDE_M and sharpest >= SHARPEST_CORNER_DEG)


def _with_pond(shape: Polygon, rng: np.random.Generator) -> Polygon:
    inner = shape.buffer(-0.3 * np.sqrt(shape.area) / 2)
    angles = np.linspace(0, 2 * np.pi, 13)[:-1]
    radii = np.sqrt(shape.area) * rng.uniform(0.03, 0.05) * rng.uniform(0.8, 1.2, angles.size)
    middle = inner.representative_point()
    pond = Polygon(
        np.column_stack([middle.x + radii * np.cos(angles), middle.y + radii * np.sin(angles)])
    )
    result = shape.difference(pond)
    largest: Polygon = max(shapely.get_parts(result), key=lambda p: p.area)
    return largest


def _wheeling_lines(
    scenario: Scenario, rng: np.random.Generator, boundary: Outline
) -> list[LineString]:
    """Parallel lines across the whole field, the first at a random offset."""
    middle = boundary.centroid
    along, across = direction(scenario.heading_deg), direction(scenario.heading_deg + 90)
    reach = boundary.hausdorff_distance(middle) + scenario.wheeling_spacing_m
    first = -reach + rng.uniform(0, scenario.wheeling_spacing_m)
    lines = []
    for offset in np.arange(first, reach, scenario.wheeling_spacing_m):
        x, y = middle.x + offset * across[0], middle.y + offset * across[1]
        ends = [(x - s * reach * along[0], y - s * reach * along[1]) for s in (1, -1)]
        lines.append(LineString(ends))
    return lines


def outer_ring(boundary: Outline) -> LineString:
    """Return the outer ring of the outline, or of its largest piece."""
    largest: Polygon = max(shapely.get_parts(boundary), key=lambda p: p.area)
    return LineString(largest.exterior.coords)


def _gateways(scenario: Scenario, rng: np.random.Generator, boundary: Outline) -> tuple[Point, ...]:
    """Return points near corners of the outline, where gateways usually are."""
    ring = outer_ring(boundary)
    corners = np.asarray(ring.coords)[:-1]
    chosen = rng.choice(len(corners), scenario.gateways, replace=False)
    at = [ring.project(Point(corners[i])) + rng.uniform(6, 15) for i in chosen]
    return tuple(ring.interpolate(distance % ring.length) for distance in at)


def _named_area(rng: np.random.Generator, boundary: Outline, body: Outline) -> BaseGeometry:
    """Return a rectangle of 40 m by 25 m at the edge of the body: an old clamp pad."""
    at = outer_ring(body).interpolate(rng.uniform(0, 1), normalized=True)
    pad = rotate(shapely.box(-20, -12.5, 20, 12.5), rng.uniform(0, 180), origin=(0, 0))
    return translate(pad, at.x, at.y).intersection(boundary.buffer(-2))
