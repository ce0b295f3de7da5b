"""The headland: the band along the outline in which machines turn."""

from __future__ import annotations

import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant
from zoning.model import Notice
from zoning.parts.layers import Found, Layer
from zoning.units import M2_PER_HA


def core(boundary: MultiPolygon, width_m: float, *, round_obstacles: bool) -> MultiPolygon:
    """Return the ground at least `width_m` inside the outline; holes count only where asked.

    Each polygon of the boundary has its own headland. Inward corners of the outline give arcs,
    because the band is what lies nearer to the outline than its width.
    """
    inner = [_inset(part, width_m, round_obstacles=round_obstacles) for part in boundary.geoms]
    left = [area.intersection(part) for area, part in zip(inner, boundary.geoms, strict=True)]
    return _polygons(shapely.union_all(left))


def headland(boundary: MultiPolygon, width_m: float, *, round_obstacles: bool) -> Found:
    """Return the headland band and what it swallows.

    Parameters
    ----------
    boundary
        Outline of the field [m].
    width_m
        Width of the band; 0 for none [m].
    round_obstacles
        Whether the band also runs about the holes of the boundary (ponds, masts, copses).
    """
    if width_m <= 0:
        return Found()
    inner = [_inset(part, width_m, round_obstacles=round_obstacles) for part in boundary.geoms]
    rest = [part.difference(a) for part, a in zip(boundary.geoms, inner, strict=True)]
    ground = shapely.union_all(rest)
    edges = shapely.union_all([a.boundary for a in inner])
    left = core(boundary, width_m, round_obstacles=round_obstacles)
    return Found((Layer("headland", "headland", ground, edges),), _notices(boundary, left, width_m))


def _inset(part: Polygon, width_m: float, *, round_obstacles: bool) -> BaseGeometry:
    solid = part if round_obstacles else Polygon(part.exterior)
    if width_m <= 0:
        return solid
    return solid.buffer(-width_m, quad_segs=int(constant("part_rules", "arc_segments")))


def _notices(boundary: MultiPolygon, left: MultiPolygon, width_m: float) -> tuple[Notice, ...]:
    if left.is_empty:
        text = (
            f"The headland of {width_m:g} m is wider than the field allows: the whole field counts "
            "as headland. Give a smaller headland_width_m if part of it is worked as body."
        )
        return (Notice("caution", "headland-fills-field", text),)
    lobes = _lobes(boundary, left, width_m)
    if not lobes:
        return ()
    area_ha = sum(lobe.area for lobe in lobes) / M2_PER_HA
    text = (
        f"{len(lobes)} narrow part{'s' if len(lobes) > 1 else ''} of the field "
        f"({area_ha:.2f} ha together) count{'' if len(lobes) > 1 else 's'} as headland throughout, "
        f"because the band of {width_m:g} m meets itself there."
    )
    return (Notice("note", "headland-fills-lobes", text),)


def _lobes(boundary: MultiPolygon, left: MultiPolygon, width_m: float) -> list[Polygon]:
    """Return the ends and necks of the field that the band fills from both sides."""
    reached = left.buffer(
        width_m * (1.0 + constant("part_rules", "lobe_slack_share")), join_style="mitre"
    )
    least = constant("part_rules", "lobe_widths") * width_m**2
    return [lobe for lobe in _polygons(boundary.difference(reached)).geoms if lobe.area >= least]


def _polygons(area: BaseGeometry) -> MultiPolygon:
    return MultiPolygon([part for part in shapely.get_parts(area) if isinstance(part, Polygon)])
