"""XML parsed without entities or document types; KML read here."""

from __future__ import annotations

import io
from collections.abc import Iterator
from xml.etree.ElementTree import Element, ParseError

import numpy as np
import shapely
from defusedxml import DefusedXmlException, ElementTree
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from zoning.errors import Fault, InputRefused
from zoning.readings.features import Feature, Layer
from zoning.readings.files import Blob
from zoning.readings.number_text import plain_number
from zoning.readings.systems import LONLAT

_SIMPLE = ("Point", "LineString", "LinearRing", "Polygon")


def parse_xml(blob: Blob) -> Element:
    """Return the root of an XML file.

    Raises
    ------
    InputRefused
        If the file is not well formed, or declares a document type or an entity.
    """
    try:
        root: Element = ElementTree.fromstring(blob.data, forbid_dtd=True)
    except ParseError as error:
        fault = Fault(
            blob.name,
            "This is not well-formed XML.",
            "Export the file again.",
            row=error.position[0],
        )
        raise InputRefused([fault]) from error
    except DefusedXmlException as error:
        fault = Fault(
            blob.name,
            "The file declares a document type or an entity.",
            "Export it without either.",
        )
        raise InputRefused([fault]) from error
    except (ValueError, LookupError, RecursionError) as error:
        raise InputRefused(
            [Fault(blob.name, "This XML cannot be read.", "Save it as UTF-8.")]
        ) from error
    return root


def xml_events(data: bytes, *events: str) -> Iterator[tuple[str, Element]]:
    """Return the elements of a file as they begin (``start``) and are complete (``end``).

    Raises
    ------
    xml.etree.ElementTree.ParseError, defusedxml.DefusedXmlException
        If the file is not well formed, or declares a document type or an entity.
    """
    read: Iterator[tuple[str, Element]] = ElementTree.iterparse(
        io.BytesIO(data), events=events, forbid_dtd=True
    )
    return read


def local_name(tag: object) -> str:
    """Return the name of an element without its namespace."""
    return str(tag).rsplit("}", 1)[-1]


def read_kml(blob: Blob, root: Element, folder: str | None) -> Layer:
    """Read the placemarks of a KML file.

    Parameters
    ----------
    blob, root
        The file and its parsed root.
    folder
        Name of the folder or document whose placemarks are wanted; ``None`` for all.

    Raises
    ------
    InputRefused
        With every placemark that is broken, or if the file points at other files.
    """
    if any(local_name(e.tag) == "NetworkLink" for e in root.iter()):
        fault = Fault(
            blob.name,
            "The file only points at another (NetworkLink).",
            "Save the linked file itself.",
        )
        raise InputRefused([fault])
    features, faults = [], []
    for number, mark in enumerate(_placemarks(root, folder, inside=folder is None), start=1):
        try:
            features.append(Feature(number, _placemark_geometry(mark), _properties(mark)))
        except (ValueError, shapely.GEOSException) as error:
            faults.append(
                Fault(blob.name, f"Placemark {number}: {error}", "Mend or remove the placemark.")
            )
    if faults:
        raise InputRefused(faults)
    if not features and folder is not None:
        fault = Fault(
            blob.name, f"No folder '{folder}' with placemarks.", "Give the name as the file has it."
        )
        raise InputRefused([fault])
    return Layer(blob.name, tuple(features), LONLAT, ())


def _placemarks(element: Element, folder: str | None, *, inside: bool) -> Iterator[Element]:
    for child in element:
        name = local_name(child.tag)
        if name == "Placemark":
            if inside:
                yield child
        elif name in {"Folder", "Document", "kml"}:
            yield from _placemarks(child, folder, inside=inside or _text(child, "name") == folder)


def _child(element: Element, name: str) -> Element | None:
    return next((child for child in element if local_name(child.tag) == name), None)


def _text(element: Element, name: str) -> str | None:
    child = _child(element, name)
    return None if child is None or child.text is None else child.text.strip()


def _properties(mark: Element) -> dict[str, object]:
    """Name, description and the data that a placemark carries."""
    found: dict[str, object] = {
        n: t for n in ("name", "description") if (t := _text(mark, n)) is not None
    }
    for element in mark.iter():
        kind, key = local_name(element.tag), element.get("name")
        if kind == "SimpleData" and key:
            found[key] = (element.text or "").strip()
        elif kind == "Data" and key:
            found[key] = _text(element, "value") or ""
    return found


def _placemark_geometry(mark: Element) -> BaseGeometry:
    element = next((c for c in mark if local_name(c.tag) in (*_SIMPLE, "MultiGeometry")), None)
    if element is None:
        raise ValueError("it has no geometry.")
    if local_name(element.tag) == "MultiGeometry":
        return _joined(
            [
                _simple(c)
                for c in element.iter()
                if local_name(c.tag) in _SIMPLE and not _is_ring_part(c)
            ]
        )
    return _simple(element)


def _is_ring_part(element: Element) -> bool:
    return local_name(element.tag) == "LinearRing"


def _joined(parts: list[BaseGeometry]) -> BaseGeometry:
    kinds = {p.geom_type for p in parts}
    if len(kinds) != 1:
        raise ValueError("its MultiGeometry is empty or mixes points, lines and areas.")
    return shapely.union_all(parts) if kinds == {"Point"} else _multiple(parts)


def _multiple(parts: list[BaseGeometry]) -> BaseGeometry:
    polygons = [p for p in parts if isinstance(p, shapely.Polygon)]
    if polygons:
        return shapely.MultiPolygon(polygons)
    return shapely.MultiLineString([p for p in parts if isinstance(p, shapely.LineString)])


def _simple(element: Element) -> BaseGeometry:
    kind = local_name(element.tag)
    if kind == "Polygon":
        outer = [_ring(e) for e in element if local_name(e.tag) == "outerBoundaryIs"]
        inner = [
            ring for e in element if local_name(e.tag) == "innerBoundaryIs" for ring in _rings(e)
        ]
        if len(outer) != 1:
            raise ValueError("a polygon has no outer ring.")
        return shapely.Polygon(outer[0], inner)
    positions = _positions(element)
    if kind == "Point":
        if len(positions) != 1:
            raise ValueError("a point has not one position.")
        return shapely.Point(positions[0])
    if len(positions) < 2:
        raise ValueError("a line has fewer than two positions.")
    return shapely.LineString(positions)


def _ring(element: Element) -> NDArray[np.float64]:
    rings = _rings(element)
    if len(rings) != 1:
        raise ValueError("an outer boundary has not one ring.")
    return rings[0]


def _rings(element: Element) -> list[NDArray[np.float64]]:
    rings = [_positions(ring) for ring in element if local_name(ring.tag) == "LinearRing"]
    for ring in rings:
        if len(ring) < 4 or not np.array_equal(ring[0], ring[-1]):
            raise ValueError("a ring has fewer than four positions or is not closed.")
    return rings


def _positions(element: Element) -> NDArray[np.float64]:
    text = _text(element, "coordinates") or ""
    rows = [[plain_number(part.strip()) for part in item.split(",")] for item in text.split()]
    if any(len(row) not in {2, 3} or not np.isfinite(row).all() for row in rows):
        raise ValueError("a position is not longitude,latitude in plain numbers.")
    return np.array([row[:2] for row in rows], dtype=float).reshape(-1, 2)
