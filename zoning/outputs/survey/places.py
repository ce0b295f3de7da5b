"""``stations.geojson`` (RFC 7946) and ``stations.gpx`` (GPX 1.1), in walking order."""

from __future__ import annotations

import json
from typing import Any
from xml.etree import ElementTree as ET

from zoning.errors import printable
from zoning.model import Survey
from zoning.outputs.plain import plain
from zoning.outputs.survey.tables import Placed, lonlat_of, placed_rows

NAMESPACE = "http://www.topografix.com/GPX/1/1"
_PROPERTIES = ("station", "part", "role", "pit", "insertions", "walk_m", "rank", "gain_cm_ha")


def stations_geojson(survey: Survey) -> bytes:
    """Return the stations as points, one feature a line."""
    lonlat = lonlat_of(survey.proposed, survey.working_crs)
    rows = survey.proposed.drop(columns="geometry").to_dict("records")
    features = [
        {
            "type": "Feature",
            "id": str(row["station"]),
            "properties": _properties({str(key): value for key, value in row.items()}),
            "geometry": {"type": "Point", "coordinates": list(place)},
        }
        for row, place in zip(rows, lonlat, strict=True)
    ]
    head = {
        "type": "FeatureCollection",
        "field": survey.settings.field.name,
        "cautions": [notice.text for notice in survey.notices if notice.level == "caution"],
    }
    told = json.dumps(head, ensure_ascii=False, allow_nan=False, indent=1)
    lines = [
        json.dumps(feature, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
        for feature in features
    ]
    text = told[:-2] + ',\n "features": [\n' + ",\n".join(lines) + "\n]}\n"
    return text.encode("utf-8")


def _properties(row: dict[str, object]) -> dict[str, Any]:
    told = {name: plain(row[name]) for name in _PROPERTIES}
    return told | {"walk_m": round(float(told["walk_m"]), 1)}


def stations_gpx(survey: Survey) -> bytes:
    """Return the stations as waypoints and the walk as a route.

    GPX 1.1 (topografix.com/GPX/1/1): metadata, then waypoints, then routes; inside a waypoint name,
    cmt, desc, type in that order. No time is written, so that the same survey gives the same bytes.
    """
    ET.register_namespace("", NAMESPACE)
    root = ET.Element(_tag("gpx"), {"version": "1.1", "creator": "zoning"})
    metadata = ET.SubElement(root, _tag("metadata"))
    _put(metadata, "name", f"Survey of {survey.settings.field.name}")
    _put(metadata, "desc", survey.notices[0].text if survey.notices else "")
    rows = placed_rows(survey)
    for row in rows:
        _waypoint(root, "wpt", row)
    route = ET.SubElement(root, _tag("rte"))
    _put(route, "name", f"Walk of {survey.settings.field.name}")
    for row in rows:
        _waypoint(route, "rtept", row)
    ET.indent(root, space=" ")
    text = ET.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{text}\n'.encode()


def _waypoint(parent: ET.Element, tag: str, row: Placed) -> None:
    # The schema allows longitudes from -180 up to, but not including, 180 degrees.
    lon = f"-{row.lon}" if float(row.lon) >= 180.0 else row.lon
    point = ET.SubElement(parent, _tag(tag), {"lat": row.lat, "lon": lon})
    pit = f", dig pit {row.pit}" if row.pit else ""
    _put(point, "name", row.station)
    _put(point, "cmt", f"{row.part}{pit}")
    _put(point, "desc", f"{row.insertions} insertions on the {row.part}{pit}")
    _put(point, "type", "pit and cone" if row.pit else "cone")


def _put(parent: ET.Element, tag: str, text: str) -> None:
    ET.SubElement(parent, _tag(tag)).text = printable(text)


def _tag(name: str) -> str:
    return f"{{{NAMESPACE}}}{name}"
