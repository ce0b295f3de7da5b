"""Separate ground of a field that nobody probed, and gaps in it."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon

from zoning.contracts import rows
from zoning.model import FieldInputs, Notice
from zoning.units import M2_PER_HA

UNPROBED = "piece-without-reading"
GAP = "gap-in-field"


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
    rings = [Polygon(ring) for part in inputs.boundary.geoms for ring in part.interiors]
    declared = shapely.union_all(inputs.hazards.geometry.to_numpy())
    bare_ha = [gap.area / M2_PER_HA for gap in rings if not gap.intersects(declared)]
    if not bare_ha:
        return ()
    text = next(row["text"] for row in rows("cautions") if row["code"] == GAP)
    gaps = "1 gap" if len(bare_ha) == 1 else f"{len(bare_ha)} gaps"
    return (Notice("caution", GAP, text.format(area_ha=f"{sum(bare_ha):.2f}", gaps=gaps)),)


def _counted(areas_ha: list[float]) -> str:
    if len(areas_ha) == 1:
        return "1 piece"
    return f"{len(areas_ha)} pieces, the largest of {max(areas_ha):.2f} ha,"
