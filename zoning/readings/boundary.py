"""The outline of the field in the working CRS, or a refusal that says what is wrong with it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from pyproj import CRS, Geod
from shapely import MultiPolygon, Polygon

from zoning.errors import Fault, InputRefused
from zoning.model import Notice
from zoning.readings.features import Feature, Layer
from zoning.readings.named_shape import named_shape
from zoning.readings.rings import Locate, RingFaultError, joined, sound_polygons
from zoning.readings.rules import listed, rule
from zoning.readings.site import Site, coordinate_faults, layer_notices, shifted
from zoning.readings.systems import LONLAT, Area, shift, stated_crs, utm_zone, working_crs_trouble
from zoning.readings.text_table import limited
from zoning.units import M2_PER_HA

_WORLD = Area(-180.0, -90.0, 180.0, 90.0)
_GEOD = Geod(ellps="WGS84")


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """The site, the accuracy of its shift and what must be told.

    Parameters
    ----------
    site
        Outline and working CRS.
    crs_accuracy_m
        Accuracy of the shift from the file's system [m]; ``None`` where none was needed or stated.
    notices
        What was joined, mended or assumed.
    """

    site: Site
    crs_accuracy_m: float | None
    notices: tuple[Notice, ...]


def outline(layer: Layer, working: str | None, field_file: str, *, name: str = "") -> Outline:
    """Check a boundary and bring it into the working CRS.

    Parameters
    ----------
    layer
        The boundary file.
    working
        ``field.working_crs``; ``None`` for the UTM zone of the centre.
    field_file
        Name of the file that states it.
    name
        ``field.name``: a shape that bears it is taken alone.

    Raises
    ------
    InputRefused
        With every feature that is no sound polygon, or the reason why the whole is no field.
    """
    layer = named_shape(layer, name)
    _check_types(layer)
    faults = coordinate_faults(layer)
    if faults:
        raise InputRefused(faults)
    area = _bounds(layer)
    _check_extent(layer, area)
    lon, lat = _centre(area)
    crs = utm_zone(lon, lat) if working is None else _stated(working, field_file, lon, lat)
    geometries, used = shifted(_one_side(layer, area), crs, area)
    site = Site(MultiPolygon(), crs, area)
    boundary, notices = _joined(layer, geometries, _locator(site))
    _check_size(layer, boundary)
    accuracy = None if CRS(layer.crs) == crs else used.accuracy_m
    told = (*layer_notices(layer, used), *notices)
    return Outline(Site(boundary, crs, area), accuracy, told)


def _refused(layer: Layer, what: str, remedy: str) -> InputRefused:
    return InputRefused([Fault(layer.file, what, remedy)])


def _check_types(layer: Layer) -> None:
    faults = [
        Fault(
            layer.file,
            f"Feature {f.number} is a {f.geometry.geom_type}; a boundary is polygons.",
            "Keep the outline of the field only.",
        )
        for f in layer.features
        if f.geometry.geom_type not in {"Polygon", "MultiPolygon"}
    ]
    if faults:
        raise InputRefused(limited(faults))


def _bounds(layer: Layer) -> Area:
    """Return the bounds in degrees; west lies east of 180 where the field crosses it."""
    xy = np.concatenate([shapely.get_coordinates(f.geometry) for f in layer.features])
    lon, lat = shift(CRS(layer.crs), CRS(LONLAT), _WORLD).apply(xy[:, 0], xy[:, 1])
    if not (np.isfinite(lon).all() and np.isfinite(lat).all()):
        raise _refused(
            layer, "Its coordinates do not lie where its system is used.", "Name the right system."
        )
    west, east = float(lon.min()), float(lon.max())
    if east - west > 180:
        turned = lon % 360.0
        west, east = float(turned.min()), float(turned.max())
        west, east = west - 360.0 * (west > 180), east - 360.0 * (east > 180)
    return Area(west, float(lat.min()), east, float(lat.max()))


def _centre(area: Area) -> tuple[float, float]:
    east = area.east + 360.0 * (area.east < area.west)
    lon = (area.west + east) / 2.0
    return lon - 360.0 * (lon > 180), (area.south + area.north) / 2.0


def _one_side(layer: Layer, area: Area) -> Layer:
    """Count longitudes on from 180 in a field that crosses it, so that its two sides meet."""
    if area.east >= area.west or not CRS(layer.crs).is_geographic:
        return layer
    features = tuple(
        Feature(
            f.number,
            shapely.transform(f.geometry, lambda xy: np.column_stack([xy[:, 0] % 360.0, xy[:, 1]])),
            f.properties,
        )
        for f in layer.features
    )
    return Layer(layer.file, features, layer.crs, layer.notices)


def _check_extent(layer: Layer, area: Area) -> None:
    extent = float(_GEOD.inv(area.west, area.south, area.east, area.north)[2])
    count = len(layer.features)
    if count > rule("boundary_features_max") or (
        count > 1 and extent > rule("features_extent_max_m")
    ):
        raise _refused(
            layer,
            f"The file holds {count} polygons spread over {extent / 1000:.1f} km: "
            "a set of fields, not one.",
            "Keep the outline of this field only.",
        )
    if extent > rule("boundary_extent_max_m"):
        raise _refused(
            layer, f"The boundary is {extent / 1000:.0f} km long.", "Keep the outline of one field."
        )


def _stated(working: str, field_file: str, lon: float, lat: float) -> CRS:
    crs = stated_crs(working, field_file, "field.working_crs")
    trouble = working_crs_trouble(crs, lon, lat)
    if trouble is not None:
        raise InputRefused(
            [
                Fault(
                    field_file,
                    f"'{working}' {trouble}.",
                    "Name a projected system in metres that covers the field, "
                    "or leave the key out for its UTM zone.",
                    column="field.working_crs",
                )
            ]
        )
    return crs


def _locator(site: Site) -> Locate:
    def locate(x: float, y: float) -> str:
        lon, lat = site.lonlat(np.array([x]), np.array([y]))
        return f"lon {lon[0]:.6f}, lat {lat[0]:.6f}"

    return locate


def _joined(
    layer: Layer, geometries: list[shapely.geometry.base.BaseGeometry], locate: Locate
) -> tuple[MultiPolygon, list[Notice]]:
    polygons: list[Polygon] = []
    faults: list[Fault] = []
    repaired: list[int] = []
    for feature, geometry in zip(layer.features, geometries, strict=True):
        try:
            mended = sound_polygons(geometry, locate)
        except RingFaultError as error:
            faults.append(
                Fault(layer.file, f"Feature {feature.number} {error}", "Mend the outline.")
            )
            continue
        polygons.extend(mended.polygons)
        if mended.repaired:
            repaired.append(feature.number)
    if faults:
        raise InputRefused(faults)
    try:
        boundary = joined(polygons, locate)
    except RingFaultError as error:
        raise _refused(
            layer, f"Parts of the boundary {error}", "Draw them side by side."
        ) from error
    return boundary, [*_one_field(layer, polygons, boundary), *_told(layer, repaired)]


def _one_field(layer: Layer, polygons: list[Polygon], boundary: MultiPolygon) -> list[Notice]:
    """Ask whether what is drawn as several shapes is one field: a whole farm would be planned."""
    pieces = list(boundary.geoms)
    if len(pieces) > 1:
        what = f"the boundary is {len(pieces)} separate pieces, of {_areas(pieces)}"
    elif len(layer.features) > 1:
        what = f"{len(polygons)} shapes that touch, of {_areas(polygons)}, are joined"
    else:
        return []
    text = (
        f"{layer.file}: {what}: they are planned as ONE field. If they are several fields, make a "
        "folder for each, with its own boundary and readings."
    )
    if len(layer.features) > 1:
        text += " A shape with an attribute that equals field.name would be planned alone."
    return [Notice("caution", "boundary-joined", text)]


def _areas(shapes: Sequence[Polygon]) -> str:
    """Return the areas of shapes in words, the largest first."""
    areas_ha = sorted((shape.area / M2_PER_HA for shape in shapes), reverse=True)
    return listed([f"{area:.2f} ha" for area in areas_ha])


def _told(layer: Layer, repaired: list[int]) -> list[Notice]:
    notices = []
    if repaired:
        said = ", ".join(map(str, repaired))
        text = f"{layer.file}: rings of feature {said} were mended; the area is unchanged."
        notices.append(Notice("note", "boundary-mended", text))
    return notices


def _check_size(layer: Layer, boundary: MultiPolygon) -> None:
    area_ha = boundary.area / M2_PER_HA
    low, high = rule("boundary_min_ha"), rule("boundary_max_ha")
    if area_ha < low:
        raise _refused(
            layer,
            f"The boundary holds {area_ha:.4f} ha; {low:g} ha is the least.",
            "Check the outline and its coordinate system.",
        )
    if area_ha > high:
        raise _refused(
            layer,
            f"The boundary holds {area_ha:.0f} ha; {high:g} ha is the most for one field.",
            "Keep the outline of one field.",
        )
