"""Where the field lies: the working CRS and the shifts into it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from pyproj import CRS
from pyproj.exceptions import ProjError
from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry

from zoning.errors import Fault, InputRefused
from zoning.model import Notice
from zoning.readings.features import Layer
from zoning.readings.systems import LONLAT, Area, Floats, Shift, accuracy_notice, shift
from zoning.readings.text_table import limited


@dataclass(frozen=True, slots=True, eq=False)
class Site:
    """Outline, working CRS and the bounds within which shifts are chosen.

    Parameters
    ----------
    boundary
        Outline of the field [m, working CRS].
    crs
        The working CRS.
    area
        Bounds of the outline in degrees.
    """

    boundary: MultiPolygon
    crs: CRS
    area: Area

    def shift_from(self, crs: CRS) -> Shift:
        """Return the shift from a system into the working CRS."""
        return shift(crs, self.crs, self.area)

    def lonlat(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Return longitude and latitude [degrees] of places in the working CRS."""
        return shift(self.crs, CRS(LONLAT), self.area).apply(x, y)


def shifted(layer: Layer, target: CRS, area: Area) -> tuple[list[BaseGeometry], Shift]:
    """Return the geometries of a layer in another system, and the shift that was used.

    Raises
    ------
    InputRefused
        If a vertex cannot be shifted: the system named is not that of the coordinates.
    """
    try:
        used = shift(CRS(layer.crs), target, area)
    except ProjError as error:
        fault = Fault(
            layer.file,
            "Its coordinate system cannot be shifted to the field's.",
            "Export it in WGS 84.",
        )
        raise InputRefused([fault]) from error
    geometries = np.array([f.geometry for f in layer.features], dtype=object)
    moved = shapely.transform(shapely.force_2d(geometries), used.apply, interleaved=False)  # type: ignore[arg-type]
    lost = [f.number for f, g in zip(layer.features, moved, strict=True) if not finite(g)]
    if lost:
        remedy = "Check the coordinate system of the file; did you swap lon and lat?"
        what = "lies where the working CRS does not reach."
        raise InputRefused(
            limited([Fault(layer.file, f"Feature {n} {what}", remedy) for n in lost])
        )
    return list(moved), used


def finite(geometry: BaseGeometry) -> bool:
    """Whether every coordinate is a finite number."""
    return bool(np.isfinite(shapely.get_coordinates(geometry)).all())


def coordinate_faults(layer: Layer) -> list[Fault]:
    """Return a fault for each feature whose coordinates cannot belong to the system named."""
    crs = CRS(layer.crs)
    faults = []
    for feature in layer.features:
        trouble = _coordinate_trouble(
            shapely.get_coordinates(feature.geometry), degrees=crs.is_geographic
        )
        if trouble is not None:
            faults.append(Fault(layer.file, f"Feature {feature.number} {trouble[0]}", trouble[1]))
    return faults


def _coordinate_trouble(xy: Floats, *, degrees: bool) -> tuple[str, str] | None:
    if xy.size == 0:
        return "has no coordinates.", "Mend or remove the feature."
    if not np.isfinite(xy).all():
        return "has a coordinate that is no finite number.", "Mend or remove the feature."
    across, up = np.abs(xy).max(axis=0).tolist()
    trouble = _degree_trouble(across, up) if degrees else _metre_trouble(across, up)
    if trouble is None:
        return None
    x, y = xy[np.abs(xy).max(axis=1).argmax()]
    return f"has the position {x:g}, {y:g}: {trouble[0]}", trouble[1]


def _metre_trouble(across: float, up: float) -> tuple[str, str] | None:
    if across <= 180 and up <= 90:
        return "degrees in a system of metres.", "Name the system that the coordinates are in."
    return None


def _degree_trouble(across: float, up: float) -> tuple[str, str] | None:
    if across > 360 or up > 360:
        return "these are no degrees.", "Export in WGS 84, or name the system of the metres."
    if up > 90 and across <= 90:
        return "latitude is beyond 90 degrees.", "Did you swap lon and lat?"
    if up > 90 or across > 180:
        return "beyond 180 degrees of longitude or 90 of latitude.", "Mend or remove the feature."
    return None


def layer_notices(layer: Layer, used: Shift) -> Sequence[Notice]:
    """Return what must be told about a layer and its shift."""
    notice = accuracy_notice(layer.file, CRS(layer.crs), used)
    return layer.notices if notice is None else (*layer.notices, notice)
