"""GeoJSON (RFC 7946) read strictly, with nothing fetched."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from typing import Any, NoReturn

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from zoning.errors import Fault, InputRefused
from zoning.model import Notice
from zoning.readings.features import Feature, Layer
from zoning.readings.files import Blob
from zoning.readings.rules import suggest
from zoning.readings.systems import LONLAT, named_crs

_GEOMETRIES = (
    "Point",
    "MultiPoint",
    "LineString",
    "MultiLineString",
    "Polygon",
    "MultiPolygon",
    "GeometryCollection",
)
_LEVEL = {
    "Point": 0,
    "MultiPoint": 1,
    "LineString": 1,
    "MultiLineString": 2,
    "Polygon": 2,
    "MultiPolygon": 3,
}


class _BadFeatureError(ValueError):
    """A fault inside one feature, before the file's name is known."""


def read_geojson(blob: Blob) -> Layer:
    """Read a GeoJSON file.

    Parameters
    ----------
    blob
        The file: a FeatureCollection, a Feature or a geometry.

    Returns
    -------
    Layer
        Its features, in longitude and latitude unless the file names a system in the member ``crs``
        of the older specification, which is told.

    Raises
    ------
    InputRefused
        With every feature that is broken.
    """
    document = _parse(blob)
    crs, notices = _crs(blob, document)
    features: list[Feature] = []
    faults: list[Fault] = []
    for number, item in enumerate(_items(blob, document), start=1):
        try:
            features.append(_feature(item, number))
        except (_BadFeatureError, shapely.GEOSException) as error:
            faults.append(
                Fault(blob.name, f"Feature {number}: {error}", "Mend or remove the feature.")
            )
    if faults:
        raise InputRefused(faults)
    return Layer(blob.name, tuple(features), crs, tuple(notices))


def _parse(blob: Blob) -> dict[str, Any]:
    try:
        text = blob.data.decode("utf-8-sig")
        document = json.loads(text, parse_constant=_constant, object_pairs_hook=_members)
    except UnicodeDecodeError as error:
        raise _refused(blob, "The text is not UTF-8.", "Save the file as UTF-8.") from error
    except json.JSONDecodeError as error:
        fault = Fault(
            blob.name,
            f"This is not valid JSON: {error.msg}.",
            "Export the file again.",
            row=error.lineno,
        )
        raise InputRefused([fault]) from error
    except (ValueError, RecursionError) as error:
        said = (
            str(error)
            if isinstance(error, _BadFeatureError)
            else "it is nested too deep or holds a number too long"
        )
        raise _refused(
            blob, f"This is not sound JSON: {said}.", "Export the file again."
        ) from error
    if not isinstance(document, dict):
        raise _refused(
            blob, "The file holds no GeoJSON object.", "Export the file again as GeoJSON."
        )
    return document


def _constant(name: str) -> NoReturn:
    raise _BadFeatureError(f"it holds {name}")


def _members(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise _BadFeatureError(f"the member '{twice}' stands twice in one object")
    return members


def _refused(blob: Blob, what: str, remedy: str) -> InputRefused:
    return InputRefused([Fault(blob.name, what, remedy)])


def _crs(blob: Blob, document: dict[str, Any]) -> tuple[str, list[Notice]]:
    """Honour a named system; never follow a link."""
    member = document.get("crs")
    if member is None:
        return LONLAT, []
    name = _crs_name(member)
    if name is None:
        raise _refused(
            blob,
            "The member crs does not name a system (links are not followed).",
            "Export in WGS 84 longitude and latitude without a member crs.",
        )
    crs = named_crs(name)
    if crs is None:
        raise _refused(
            blob, f"The member crs names '{name[:60]}', which is unknown.", "Export in WGS 84."
        )
    if name.upper().endswith("CRS84"):
        return LONLAT, []
    text = f"{blob.name}: read in {name}, which its member crs names; RFC 7946 knows WGS 84 only."
    return crs.to_wkt(), [Notice("note", "geojson-crs", text)]


def _crs_name(member: object) -> str | None:
    if not isinstance(member, dict) or member.get("type") != "name":
        return None
    properties = member.get("properties")
    name = properties.get("name") if isinstance(properties, dict) else None
    return name if isinstance(name, str) else None


def _items(blob: Blob, document: dict[str, Any]) -> Sequence[object]:
    kind = document.get("type")
    if kind == "FeatureCollection":
        features = document.get("features")
        if not isinstance(features, list):
            raise _refused(
                blob, "The FeatureCollection has no list of features.", "Export the file again."
            )
        return features
    if kind == "Feature" or kind in _GEOMETRIES:
        return [document]
    if not isinstance(kind, str):
        raise _refused(blob, "The object has no type.", "Export the file again as GeoJSON.")
    remedy = suggest(kind, ("FeatureCollection", "Feature", *_GEOMETRIES))
    raise _refused(blob, f"The type '{kind[:40]}' is no GeoJSON type.", remedy)


def _feature(item: object, number: int) -> Feature:
    if not isinstance(item, dict):
        raise _BadFeatureError("it is no object.")
    if item.get("type") in _GEOMETRIES:
        return Feature(number, _geometry(item), {})
    if item.get("type") != "Feature":
        raise _BadFeatureError(f"its type is '{str(item.get('type'))[:40]}', not 'Feature'.")
    if not isinstance(item.get("id", ""), str | int | float):
        raise _BadFeatureError("its id is neither text nor a number.")
    properties = item.get("properties")
    if properties is not None and not isinstance(properties, dict):
        raise _BadFeatureError("its properties are no object.")
    geometry = item.get("geometry")
    if geometry is None:
        raise _BadFeatureError("it has no geometry.")
    return Feature(number, _geometry(geometry), properties or {})


def _geometry(member: object) -> BaseGeometry:
    if not isinstance(member, dict):
        raise _BadFeatureError("its geometry is no object.")
    kind = member.get("type")
    if not isinstance(kind, str) or kind not in _GEOMETRIES:
        raise _BadFeatureError(
            f"its geometry has the type '{str(kind)[:40]}', which GeoJSON does not know."
        )
    if kind == "GeometryCollection":
        raise _BadFeatureError("it is a GeometryCollection; give one geometry a feature.")
    coordinates = member.get("coordinates")
    _check_positions(coordinates, _LEVEL[kind])
    return _built(kind, coordinates)


def _check_positions(value: object, level: int) -> None:
    """Check that `value` is a list of positions, nested `level` deep."""
    if not isinstance(value, list):
        raise _BadFeatureError("its coordinates are not nested as its type asks.")
    if level == 0:
        _check_position(value)
        return
    for inner in value:
        _check_positions(inner, level - 1)


def _check_position(position: list[object]) -> None:
    good = 2 <= len(position) <= 3 and all(
        isinstance(v, int | float) and not isinstance(v, bool) and math.isfinite(v)
        for v in position
    )
    if not good:
        raise _BadFeatureError(
            f"the position {json.dumps(position, default=str)[:60]} "
            "is not two or three finite numbers."
        )


def _built(kind: str, coordinates: Any) -> BaseGeometry:
    if not coordinates:
        raise _BadFeatureError("its geometry is empty.")
    if kind == "Point":
        return shapely.Point(coordinates[:2])
    if kind == "MultiPoint":
        return shapely.MultiPoint([p[:2] for p in coordinates])
    if kind == "LineString":
        return shapely.LineString(_line(coordinates))
    if kind == "MultiLineString":
        return shapely.MultiLineString([_line(line) for line in coordinates])
    if kind == "Polygon":
        return _polygon(coordinates)
    return shapely.MultiPolygon([_polygon(rings) for rings in coordinates])


def _flat(
    positions: Sequence[Sequence[float]],
) -> NDArray[np.float64]:
    return np.array([p[:2] for p in positions], dtype=float).reshape(-1, 2)


def _line(
    positions: Sequence[Sequence[float]],
) -> NDArray[np.float64]:
    if len(positions) < 2:
        raise _BadFeatureError("a line has fewer than two positions.")
    return _flat(positions)


def _polygon(rings: Sequence[Sequence[Sequence[float]]]) -> shapely.Polygon:
    if not rings:
        raise _BadFeatureError("a polygon has no ring.")
    flat = [_flat(ring) for ring in rings]
    for ring in flat:
        if len(ring) < 4:
            raise _BadFeatureError(f"a ring has {len(ring)} positions; four is the least.")
        if not np.array_equal(ring[0], ring[-1]):
            raise _BadFeatureError(
                f"a ring begins at {ring[0].tolist()} and does not close there: repeat that point "
                "at its end."
            )
    return shapely.Polygon(flat[0], flat[1:])
