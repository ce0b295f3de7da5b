"""Wheelings, gateways, named areas and hazards in the working CRS."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from shapely.geometry.base import BaseGeometry

from zoning.contracts import PARTS
from zoning.contracts.hazards import KINDS
from zoning.errors import Fault, InputRefused, printable
from zoning.model import Notice
from zoning.readings.features import Feature, Layer
from zoning.readings.number_text import plain_number
from zoning.readings.rings import RingFaultError, sound_polygons
from zoning.readings.rules import listed, nearest, rule, suggest
from zoning.readings.site import Site, coordinate_faults, layer_notices, shifted

_LINES = {"LineString", "MultiLineString"}
_POINTS = {"Point", "MultiPoint"}
_AREAS = {"Polygon", "MultiPolygon"}
_OF_HAZARDS = ("kind", "name", "depth_cm", "clear_m")


@dataclass(frozen=True, slots=True, eq=False)
class PlacedLayer:
    """A layer in the working CRS and what must be told about it."""

    frame: gpd.GeoDataFrame
    notices: tuple[Notice, ...]


def empty_layer(site: Site, columns: Mapping[str, str]) -> gpd.GeoDataFrame:
    """Return a layer without rows; `columns` gives name to type."""
    data = {name: pd.Series(dtype=kind) for name, kind in columns.items()}
    return gpd.GeoDataFrame(data, geometry=gpd.GeoSeries([], crs=site.crs), crs=site.crs)


def read_wheelings(layer: Layer, site: Site) -> PlacedLayer:
    """Place wheeling lines: column ``geometry``.

    Raises
    ------
    InputRefused
        If a feature is no line, or the whole layer lies elsewhere.
    """
    return _place(layer, site, _LINES, {}, "wheelings are lines")


def read_gateways(layer: Layer, site: Site) -> PlacedLayer:
    """Place gateways, points or polygons: column ``geometry``.

    Raises
    ------
    InputRefused
        If a feature is a line, a polygon is not sound, or the whole layer lies elsewhere.
    """
    return _place(layer, site, _POINTS | _AREAS, {}, "gateways are points or polygons")


def read_named_areas(layer: Layer, site: Site) -> PlacedLayer:
    """Place named areas: columns ``area, geometry``.

    Where no feature has a property ``area``, the name that KML gives each is taken, and told.

    Raises
    ------
    InputRefused
        If a feature is no sound polygon, or has no usable name.
    """
    layer, notices = _named(_spelled(layer, ("area",)))
    names, faults = _area_names(layer)
    placed = _place(layer, site, _AREAS, {"area": names}, "named areas are polygons", faults)
    return PlacedLayer(placed.frame, (*placed.notices, *notices))


def _named(layer: Layer) -> tuple[Layer, list[Notice]]:
    """Return areas that bear their name as ``area``, else as ``name``, as KML has it."""
    present = _present(layer)
    if "name" not in present or any(nearest(n, ("area",)) for n in present - {"name"}):
        return layer, []
    named = [replace(f, properties={"area": f.properties.get("name")}) for f in layer.features]
    words = f"{layer.file}: the areas bear their property 'name', as there is no 'area'."
    return replace(layer, features=tuple(named)), [Notice("note", "area-from-name", words)]


def _spelled(layer: Layer, known: Sequence[str]) -> Layer:
    """Return a layer whose properties bear the names of `known` where capitals alone differ."""
    present = _present(layer)
    small = [name.lower() for name in present]
    meant = {n: n.lower() for n in present if n.lower() in known and small.count(n.lower()) == 1}
    features = [
        replace(f, properties={meant.get(n, n): value for n, value in f.properties.items()})
        for f in layer.features
    ]
    return replace(layer, features=tuple(features))


def read_hazards(layer: Layer, site: Site) -> PlacedLayer:
    """Place hazards: columns ``kind, name, depth_cm, clear_m, geometry``.

    An amount that is not given is NaN, a name ``""``.

    Raises
    ------
    InputRefused
        If a kind is unknown, a number is not one, a name cannot be printed, a property is misspelt,
        or the layer lies elsewhere.
    """
    faults: list[Fault] = []
    layer = _spelled(layer, _OF_HAZARDS)
    _check_names(layer, ("kind", "depth_cm", "clear_m"), faults)
    kinds = [_kind(layer, feature, faults) for feature in layer.features]
    depths_cm = [_amount(layer, feature, "depth_cm", faults) for feature in layer.features]
    clear_m = [_amount(layer, feature, "clear_m", faults) for feature in layer.features]
    columns: dict[str, Sequence[object]] = {
        "kind": kinds,
        "name": [_given_name(layer, feature, faults) for feature in layer.features],
        "depth_cm": depths_cm,
        "clear_m": clear_m,
    }
    shapes, words = _LINES | _POINTS | _AREAS, "hazards are points, lines or polygons"
    placed = _place(layer, site, shapes, columns, words, faults)
    told = (*placed.notices, *_unread(layer, _OF_HAZARDS), *_unknown_amounts(layer, placed.frame))
    return PlacedLayer(placed.frame, told)


def _place(
    layer: Layer,
    site: Site,
    kinds: Collection[str],
    columns: Mapping[str, Sequence[object]],
    rule_words: str,
    faults: Sequence[Fault] = (),
) -> PlacedLayer:
    wrong = [
        Fault(
            layer.file,
            f"Feature {f.number} is a {f.geometry.geom_type}; {rule_words}.",
            "Remove or redraw it.",
        )
        for f in layer.features
        if f.geometry.geom_type not in kinds
    ]
    found = [*faults, *wrong, *coordinate_faults(layer)]
    if found:
        raise InputRefused(found)
    geometries, used = shifted(layer, site.crs, site.area)
    sound = _sound(layer, geometries)
    _check_near(layer, sound, site)
    frame = gpd.GeoDataFrame(dict(columns), geometry=sound, crs=site.crs)
    return PlacedLayer(_sorted(frame), tuple(layer_notices(layer, used)))


def _sound(layer: Layer, geometries: Sequence[BaseGeometry]) -> list[BaseGeometry]:
    """Return geometries with their polygons checked; lines and points as they are."""
    sound: list[BaseGeometry] = []
    faults = []
    for feature, geometry in zip(layer.features, geometries, strict=True):
        if geometry.geom_type not in _AREAS:
            sound.append(geometry)
            continue
        try:
            polygons = sound_polygons(geometry, lambda x, y: f"{x:.1f} m, {y:.1f} m").polygons
        except RingFaultError as error:
            faults.append(
                Fault(layer.file, f"Feature {feature.number} {error}", "Mend the outline.")
            )
            continue
        sound.append(
            polygons[0]
            if len(polygons) == 1
            else shapely.union_all(np.array(polygons, dtype=object))
        )
    if faults:
        raise InputRefused(faults)
    return sound


def _check_near(layer: Layer, geometries: Sequence[BaseGeometry], site: Site) -> None:
    """Refuse a layer that lies wholly elsewhere: a hazard in the wrong place protects nobody."""
    nearest_m = float(shapely.distance(np.array(geometries, dtype=object), site.boundary).min())
    if nearest_m > rule("far_m"):
        fault = Fault(
            layer.file,
            f"Its nearest feature lies {nearest_m / 1000:.1f} km from the boundary.",
            "Check that it is of this field, its system, and that lon and lat are not swapped.",
        )
        raise InputRefused([fault])


def _sorted(frame: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Order features by their own content, so that the order of the file does not matter."""
    keys = (
        frame.drop(columns="geometry")
        .astype(str)
        .assign(wkb=shapely.to_wkb(frame.geometry.to_numpy(), hex=True))
    )
    return frame.loc[keys.sort_values(list(keys.columns), kind="stable").index].reset_index(
        drop=True
    )


def _area_names(layer: Layer) -> tuple[list[str], list[Fault]]:
    faults: list[Fault] = []
    _check_names(layer, ("area",), faults)
    names = []
    for feature in layer.features:
        value = feature.properties.get("area")
        name = value.strip() if isinstance(value, str) else ""
        names.append(name)
        if not name or not name.isprintable():
            what, remedy = "has no name.", "Give it a property 'area' in text."
        elif name.lower() in PARTS:
            what = f"is named '{name}', a word with its own meaning."
            remedy = "Give the area another name."
        else:
            continue
        faults.append(Fault(layer.file, f"Feature {feature.number} {what}", remedy, column="area"))
    return names, faults


def _present(layer: Layer) -> set[str]:
    return {name for feature in layer.features for name in feature.properties}


def _unread(layer: Layer, known: Sequence[str]) -> list[Notice]:
    """Tell the attributes not read where one of `known` is absent: one may hold what it would."""
    present = _present(layer)
    absent = [name for name in known if name not in present]
    unread = sorted(name for name in present - set(known) if not _named_by_format(name))
    if not absent or not unread:
        return []
    names = printable(listed([name[:40] for name in unread]))
    text = f"{layer.file}: no {', no '.join(absent)}. Attributes not read: {names}."
    return [Notice("note", "attributes-unread", text)]


def _check_names(layer: Layer, known: Sequence[str], faults: list[Fault]) -> None:
    """Refuse a property that looks like one of `known` which is absent: it would be lost unseen."""
    present = _present(layer)
    absent = [name for name in known if name not in present]
    for name in sorted(present - set(known)):
        near = nearest(name, absent) if absent else None
        if near is not None and not _named_by_format(name):
            faults.append(
                Fault(
                    layer.file,
                    "This property is unknown.",
                    f"Did you mean '{near}'?{_unit_words(near)}",
                    column=name,
                )
            )


def _unit_words(name: str) -> str:
    units = {"depth_cm": " It is in centimetres.", "clear_m": " It is in metres."}
    return units.get(name, "")


def _named_by_format(name: str) -> bool:
    return name in {"name", "description", "fid", "gml_id", "id"}


def _kind(layer: Layer, feature: Feature, faults: list[Fault]) -> str:
    value = feature.properties.get("kind")
    kind = str(value).strip().lower()
    if kind not in KINDS:
        found, remedy = f"the kind '{str(value)[:40]}'", suggest(str(value), KINDS)
        if value is None:
            found, remedy = "no kind", "Give it a property kind: drain, service or obstacle."
        what = f"Feature {feature.number} has {found}."
        faults.append(Fault(layer.file, what, remedy, column="kind"))
    return kind


def _given_name(layer: Layer, feature: Feature, faults: list[Fault]) -> str:
    """Return what a hazard is called by whoever drew it, ``""`` where it has no name."""
    value = feature.properties.get("name")
    name = " ".join(value.split()) if isinstance(value, str) else ""
    most = int(rule("hazard_name_most"))
    if not name.isprintable() or len(name) > most:
        fault = Fault(
            layer.file,
            f"Feature {feature.number} has a name that cannot be printed on the sheet.",
            f"Give a name of at most {most} plain characters.",
            column="name",
        )
        faults.append(fault)
    return name


def _amount(layer: Layer, feature: Feature, name: str, faults: list[Fault]) -> float:
    """Return a length of at least 0, NaN where it is blank or null."""
    value = feature.properties.get(name)
    if value is None or value == "" or (isinstance(value, float) and math.isnan(value)):
        return math.nan
    number = _as_number(value)
    if not math.isfinite(number) or number < 0:
        faults.append(
            Fault(
                layer.file,
                f"Feature {feature.number} has {name} = '{str(value)[:40]}'.",
                "Give a number of at least 0, or leave it out.",
                column=name,
            )
        )
    return number


def _as_number(value: object) -> float:
    if isinstance(value, str):
        return plain_number(value.strip())
    if isinstance(value, bool) or not isinstance(value, int | float | np.integer | np.floating):
        return math.nan
    return float(value)


def _odd_covers(layer: Layer, frame: gpd.GeoDataFrame) -> list[Notice]:
    """Ask about a cover that would be credible in another unit."""
    low, high = rule("hazard_cover_min_cm"), rule("hazard_cover_max_cm")
    buried = frame.loc[frame["kind"] != "obstacle", "depth_cm"]
    odd = sorted(set(buried[(buried < low) | (buried > high)]))
    if not odd:
        return []
    said = ", ".join(f"{value:g}" for value in odd)
    text = f"{layer.file}: depth_cm of {said}: check that the cover is in centimetres."
    return [Notice("caution", "hazard-depth-odd", text)]


def _unknown_amounts(layer: Layer, frame: gpd.GeoDataFrame) -> list[Notice]:
    """Tell of services without a cover; the stand-ins for other amounts are told where chosen."""
    notices = _odd_covers(layer, frame)
    missing = int((frame["depth_cm"].isna() & (frame["kind"] == "service")).sum())
    if missing:
        said = f"{missing} service{'' if missing == 1 else 's'}"
        text = f"{layer.file}: the depth of cover is not given for {said}."
        notices.append(Notice("caution", "hazard-depth-unknown", text))
    return notices
