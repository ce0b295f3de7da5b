"""Separate ground of a field that nobody probed, and gaps in it."""

from __future__ import annotations

from collections.abc import Iterator

import geopandas as gpd
import numpy as np
import shapely
from shapely import LineString, Point, Polygon

from zoning.contracts import constant, joined, rows
from zoning.model import FieldInputs, Notice
from zoning.units import M2_PER_HA, least_to_most

UNPROBED = "piece-without-reading"
GAP = "gap-in-field"
MET = "gap-in-pass"


def unprobed_notices(inputs: FieldInputs) -> tuple[Notice, ...]:
    """Return a caution on the pieces of a field that hold no reading, none without any reading.

    Each cone reading and each pit of phase ``before`` counts for the piece it is nearest to.
    """
    pieces = list(inputs.boundary.geoms)
    before = inputs.pits[inputs.pits["phase"] == "before"]
    xy = np.vstack([frame[["x_m", "y_m"]].to_numpy(dtype=float) for frame in (inputs.cone, before)])
    if len(pieces) < 2 or not len(xy):
        return ()
    nearest = shapely.STRtree(pieces).nearest(shapely.points(np.unique(xy, axis=0)))
    held = set(np.atleast_1d(nearest).tolist())
    bare_ha = [piece.area / M2_PER_HA for i, piece in enumerate(pieces) if i not in held]
    if not bare_ha:
        return ()
    text = next(row["text"] for row in rows("cautions") if row["code"] == UNPROBED)
    told = text.format(area_ha=f"{sum(bare_ha):.2f}", pieces=_counted(bare_ha))
    return (Notice("caution", UNPROBED, told),)


def gap_notices(inputs: FieldInputs) -> tuple[Notice, ...]:
    """Return a caution on gaps inside the boundary at which no hazard is declared."""
    bare_ha = [gap.area / M2_PER_HA for gap in _bare(inputs)]
    if not bare_ha:
        return ()
    text = next(row["text"] for row in rows("cautions") if row["code"] == GAP)
    gaps = "1 gap" if len(bare_ha) == 1 else f"{len(bare_ha)} gaps"
    return (Notice("caution", GAP, text.format(area_ha=f"{sum(bare_ha):.2f}", gaps=gaps)),)


def gaps_met(inputs: FieldInputs, lines: gpd.GeoDataFrame) -> tuple[Notice, ...]:
    """Return a caution on passes into whose width such a gap reaches though it cuts them not.

    Parameters
    ----------
    inputs
        The field.
    lines
        ``pass_id`` and the centre line of each pass.
    """
    width_m = inputs.settings.machine.width_m
    told = [
        f"pass {number} at {least_to_most((round(first), round(last)))} m"
        for gap in _bare(inputs)
        for number, line in zip(lines["pass_id"], _shapes(lines), strict=True)
        if line.distance(gap) < width_m / 2
        for first, last in _along(line, gap, width_m)
    ]
    if not told:
        return ()
    text = next(row["text"] for row in rows("cautions") if row["code"] == MET)
    return (Notice("caution", MET, text.format(passes=joined(told))),)


def _shapes(lines: gpd.GeoDataFrame) -> list[LineString]:
    return [LineString(shape.coords) for shape in lines.geometry]


def _along(line: LineString, gap: Polygon, width_m: float) -> Iterator[tuple[float, float]]:
    """Yield from where to where along a pass a gap lies in its width, its ends left out [m]."""
    ground = line.buffer(width_m / 2, cap_style="flat").intersection(gap)
    if ground.area < constant("plan_rules", "ground_told_m2"):
        return
    along = np.array([line.project(Point(place)) for place in shapely.get_coordinates(ground)])
    if along.min() > width_m and along.max() < line.length - width_m:
        yield float(along.min()), float(along.max())


def _bare(inputs: FieldInputs) -> list[Polygon]:
    """Return the gaps inside the boundary at which no hazard is declared."""
    rings = [Polygon(ring) for part in inputs.boundary.geoms for ring in part.interiors]
    declared = shapely.union_all(inputs.hazards.geometry.to_numpy())
    return [gap for gap in rings if not gap.intersects(declared)]


def _counted(areas_ha: list[float]) -> str:
    if len(areas_ha) == 1:
        return "1 piece"
    return f"{len(areas_ha)} pieces, the largest of {max(areas_ha):.2f} ha,"
