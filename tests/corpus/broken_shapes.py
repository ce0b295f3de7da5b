# ruff: noqa: E501 - tables of cases, one a line
"""Broken outlines and layers in GeoJSON, KML, GPX and GML."""

from __future__ import annotations

import json
from collections.abc import Iterator

from corpus.base import (
    AREAS,
    BOUNDARY,
    GATEWAYS,
    HAZARDS,
    OUTLINE,
    WHEELINGS,
    Case,
    geojson,
)
from readings.small_field import box, collection, feature, lonlat, ring

FILE = "boundary.geojson"
BOMB = (
    '<?xml version="1.0"?><!DOCTYPE lolz [<!ENTITY a "aaaaaaaaaa">'
    + "".join(
        f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in zip("abcdefgh", "bcdefghi", strict=True)
    )
    + "]>"
)
KML_HEAD = '<kml xmlns="http://www.opengis.net/kml/2.2"><Document>'
KML_TAIL = "</Document></kml>"
COORDINATES = " ".join(f"{x},{y}" for x, y in OUTLINE)
PLACEMARK = (
    "<Placemark><name>A</name><Polygon><outerBoundaryIs><LinearRing><coordinates>"
    f"{COORDINATES}</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>"
)
KML = KML_HEAD + PLACEMARK + KML_TAIL


def polygon(*rings: object) -> str:
    return collection(feature("Polygon", list(rings)))


def cases() -> Iterator[Case]:
    """Every broken shape."""
    for name, text in {**_documents(), **_outlines()}.items():
        # An outline elsewhere is told beside the layer that does not fit it, by that layer's name.
        elsewhere = name in {"round the pole", "across 180 degrees", "elsewhere"} or "exch" in name
        yield Case(f"boundary {name}", {FILE: text}, "" if elsewhere else FILE)
    for number in range(1, 21):  # every twentieth of the file cut off
        cut = BOUNDARY[: len(BOUNDARY) * number // 21]
        yield Case(f"boundary cut at {number}/21", {FILE: cut}, FILE)
    for name, text in {**_xml(), **_kml()}.items():
        yield Case(f"boundary {name}", {FILE: text}, "" if name == "kml exchanged" else FILE)
    for number in range(1, 11):
        yield Case(f"kml cut at {number}/11", {FILE: KML[: len(KML) * number // 11]}, FILE)
    yield from _layers()


def _documents() -> dict[str, str | bytes]:
    hole = {"type": "Polygon", "coordinates": [OUTLINE]}
    return {
        "null": "null",
        "true": "true",
        "a text": '"boundary"',
        "a number": "7",
        "a list": "[]",
        "an empty object": "{}",
        "of no type": geojson({"features": []}),
        "of an unknown type": geojson({"type": "featurecollection", "features": []}),
        "a topology": geojson({"type": "Topology", "objects": {}}),
        "without features": geojson({"type": "FeatureCollection"}),
        "with features an object": geojson({"type": "FeatureCollection", "features": {}}),
        "with no feature": collection(),
        "with a feature null": geojson({"type": "FeatureCollection", "features": [None]}),
        "with a geometry null": geojson({"type": "Feature", "properties": {}, "geometry": None}),
        "without geometry": geojson({"type": "Feature", "properties": {}}),
        "with properties a list": geojson({"type": "Feature", "properties": [], "geometry": hole}),
        "with coordinates null": geojson({"type": "Polygon", "coordinates": None}),
        "with coordinates a text": geojson({"type": "Polygon", "coordinates": "0 0, 1 1"}),
        "with empty coordinates": geojson({"type": "Polygon", "coordinates": []}),
        "with an empty ring": geojson({"type": "Polygon", "coordinates": [[]]}),
        "with coordinates too flat": geojson({"type": "Polygon", "coordinates": OUTLINE}),
        "with coordinates too deep": geojson({"type": "Polygon", "coordinates": [[OUTLINE]]}),
        "a member twice": BOUNDARY.replace('"type"', '"type": "Feature", "type"', 1),
        "NaN": BOUNDARY.replace("[[[", "[[[NaN, 1], [", 1),
        "1e400": BOUNDARY.replace("[[[", "[[[1e400, 1], [", 1),
        "a crs link": geojson(
            {
                "type": "FeatureCollection",
                "crs": {"type": "link", "properties": {"href": "http://127.0.0.1:9/x"}},
                "features": [feature("Polygon", [OUTLINE])],
            }
        ),
        "an unknown crs": collection(
            feature("Polygon", [OUTLINE]),
            crs={"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::999999"}},
        ),
        "a crs that is a path": collection(
            feature("Polygon", [OUTLINE]),
            crs={"type": "name", "properties": {"name": "/etc/passwd"}},
        ),
        "deep": "[" * 100_000,
        "deep objects": '{"a":' * 50_000 + "1" + "}" * 50_000,
        "a huge integer": BOUNDARY.replace("[[[", "[[[" + "9" * 6000 + ", 1], [", 1),
        "utf-16": BOUNDARY.encode("utf-16"),
        "not utf-8": BOUNDARY.encode().replace(b'"properties": {}', b'"properties": {"n": "\xfc"}'),
        "nul": BOUNDARY.replace("Feature", "Feat\x00ure"),
        "a comma too many": BOUNDARY.replace("]]]", "],]]", 1),
        "single quotes": BOUNDARY.replace('"', "'"),
        "a comment": "// outline\n" + BOUNDARY,
        "well-known text": "POLYGON ((0 0, 1 0, 1 1, 0 0))",
        "a VRT": "<OGRVRTDataSource><OGRVRTLayer name='x'><SrcDataSource>/etc/passwd"
        "</SrcDataSource></OGRVRTLayer></OGRVRTDataSource>",
        "a GDAL pipeline": '{"type": "gdal_streamed_alg", "command_line": "gdal vector pipeline"}',
        "an ESRI document": '{"geometryType": "esriGeometryPolygon", "features": []}',
        "an executable": b"\x7fELF\x02\x01\x01" + b"\x00" * 60,
        "a picture": b"II*\x00\x08\x00\x00\x00",
    }  # fmt: skip


def _outlines() -> dict[str, str]:
    bow = ring((0, 0), (300, 200), (300, 0), (0, 200))
    swapped = [[y, x] for x, y in OUTLINE]
    return {
        "a point": collection(feature("Point", lonlat(0, 0))),
        "a line": collection(feature("LineString", OUTLINE)),
        "a collection": geojson({"type": "GeometryCollection", "geometries": []}),
        "a bow-tie": polygon(bow),
        "not closed": polygon(OUTLINE[:-1]),
        "of three positions": polygon([OUTLINE[0], OUTLINE[1], OUTLINE[0]]),
        "of one place": polygon([OUTLINE[0]] * 5),
        "of a straight line": polygon(ring((0, 0), (100, 0), (200, 0))),
        "a hole outside": polygon(OUTLINE, box(400, 0, 450, 50)),
        "a hole across the edge": polygon(OUTLINE, box(250, 50, 350, 100)),
        "a hole as large as the field": polygon(OUTLINE, OUTLINE),
        "two holes that cross": polygon(OUTLINE, box(50, 50, 100, 100), box(80, 80, 150, 150)),
        "two that overlap": collection(
            feature("Polygon", [OUTLINE]), feature("Polygon", [box(100, 100, 400, 300)])
        ),
        "the same twice": collection(feature("Polygon", [OUTLINE]), feature("Polygon", [OUTLINE])),
        "of a text coordinate": BOUNDARY.replace(str(OUTLINE[0][0]), f'"{OUTLINE[0][0]}"', 1),
        "of a null coordinate": BOUNDARY.replace(str(OUTLINE[0][0]), "null", 1),
        "of one number": polygon([[x] for x, _ in OUTLINE]),
        "of four numbers": polygon([[x, y, 0, 0] for x, y in OUTLINE]),
        "of truth values": polygon([[True, False]] * 5),
        "latitude above 90": polygon([[x, y + 60] for x, y in OUTLINE]),
        "longitude above 180": polygon([[x + 360, y] for x, y in OUTLINE]),
        "in metres": polygon([[312_000 + i, 5_784_000 + i * i] for i in (0, 9, 5, 0)]),
        "longitude and latitude exchanged": polygon(swapped),
        "of 20 m2": polygon(box(0, 0, 5, 4)),
        "of 90 km": polygon(box(0, 0, 90_000, 200)),
        "of 5000 ha": polygon(box(0, 0, 7000, 7200)),
        "round the pole": polygon([[0, 89.99], [90, 89.99], [180, 89.99], [-90, 89.99], [0, 89.99]]),
        "round the earth": polygon([[-180, -80], [180, -80], [180, 80], [-180, 80], [-180, -80]]),
        "across 180 degrees": polygon([[179.99, 52], [-179.99, 52], [-179.99, 52.01], [179.99, 52]]),
        "of 60 fields": collection(
            *[feature("Polygon", [box(i * 400, 0, i * 400 + 300, 200)]) for i in range(60)]
        ),
        "two fields far apart": collection(
            feature("Polygon", [OUTLINE]), feature("Polygon", [box(30_000, 0, 30_300, 200)])
        ),
        "of a million corners": polygon([lonlat(0, 0), *[[0.2, 52.1]] * 1_000_001, lonlat(0, 0)]),
        "elsewhere": polygon(box(50_000, 0, 50_300, 200)),
    }  # fmt: skip


def _xml() -> dict[str, str]:
    entity = '<!DOCTYPE kml [<!ENTITY x SYSTEM "file:///etc/passwd">]>'
    outside = '<!DOCTYPE kml SYSTEM "http://127.0.0.1:9/x.dtd">'
    gml = (
        '<?xml version="1.0"?><gml:FeatureCollection xmlns:gml="http://www.opengis.net/gml" '
        'xmlns:xlink="http://www.w3.org/1999/xlink"><gml:featureMember '
        'xlink:href="http://127.0.0.1:9/x"/></gml:FeatureCollection>'
    )
    return {
        "xml not closed": "<kml><Document>",
        "xml of an unknown kind": "<html><body/></html>",
        "xml bomb in kml": BOMB + "<kml>&i;</kml>",
        "xml bomb in gpx": BOMB + "<gpx>&i;</gpx>",
        "xml bomb in gml": BOMB + gml.split("?>")[1],
        "quadratic blow-up": f'<!DOCTYPE kml [<!ENTITY a "{"x" * 50_000}">]><kml>{"&a;" * 900}</kml>',
        "an outer entity": f"{entity}<kml>&x;</kml>",
        "an outer document type": f"{outside}<kml/>",
        "a parameter entity": '<!DOCTYPE k [<!ENTITY % p SYSTEM "http://127.0.0.1:9/"> %p;]><kml/>',
        "gpx": '<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><wpt lat="52" lon="0"/></gpx>',
        "gml that points elsewhere": gml,
        "gml without members": gml.replace("gml:featureMember", "gml:name").replace("xlink:href", "a"),
        "wfs request": '<OGRWFSDataSource><URL>http://127.0.0.1:9/</URL></OGRWFSDataSource>',
        "svg": '<svg xmlns="http://www.w3.org/2000/svg"/>',
        "xml in utf-7": '<?xml version="1.0" encoding="utf-7"?><kml/>',
        "xml of an unknown encoding": '<?xml version="1.0" encoding="klingon"?><kml/>',
        "deep xml": "<a>" * 60_000,
    }  # fmt: skip


def _kml() -> dict[str, str]:
    def kml(inner: str) -> str:
        return f"{KML_HEAD}{inner}{KML_TAIL}"

    bad = PLACEMARK.replace(COORDINATES, "{}")
    first = COORDINATES.split(" ")[0]
    return {
        "kml without placemarks": kml(""),
        "kml link": kml("<NetworkLink><Link><href>http://127.0.0.1:9/x.kml</href></Link></NetworkLink>"),
        "kml without geometry": kml("<Placemark><name>A</name></Placemark>"),
        "kml without coordinates": kml(bad.format("")),
        "kml with words": kml(bad.format("a,b c,d e,f a,b")),
        "kml with nan": kml(bad.format("nan,1 2,1 2,2 nan,1")),
        "kml not closed": kml(bad.format(" ".join(COORDINATES.split(" ")[:-1]))),
        "kml with blanks after commas": kml(bad.format(COORDINATES.replace(",", ", "))),
        "kml exchanged": kml(bad.format(" ".join(f"{y},{x}" for x, y in OUTLINE))),
        "kml of one corner": kml(bad.format(first)),
        "kml of a line": kml(f"<Placemark><LineString><coordinates>{COORDINATES}</coordinates>"
                             "</LineString></Placemark>"),
        "kml of a picture": kml("<GroundOverlay><Icon><href>http://127.0.0.1:9/x.png</href></Icon>"
                                "</GroundOverlay>"),
        "kml with two outer rings": kml(PLACEMARK.replace("</Polygon>", PLACEMARK.split("<Polygon>")[1]
                                                          .split("</Polygon>", maxsplit=1)[0] + "</Polygon>")),
    }  # fmt: skip


def _layers() -> Iterator[Case]:
    line = feature("LineString", [lonlat(0, 50), lonlat(300, 50)])
    place = feature("Point", lonlat(10, 10))
    area = feature("Polygon", [box(20, 20, 60, 50)])
    for file, name, text in (
        ("wheelings.geojson", "points", collection(place)),
        ("wheelings.geojson", "areas", collection(area)),
        ("wheelings.geojson", "far away", collection(feature("LineString", [[9, 45], [9, 46]]))),
        ("gateways.geojson", "lines", collection(line)),
        ("gateways.geojson", "far away", collection(feature("Point", [9, 45]))),
        ("areas.geojson", "lines", AREAS.replace("Polygon", "LineString")),
        ("areas.geojson", "without names", collection(area)),
        ("areas.geojson", "blank name", AREAS.replace("old clamp", "  ")),
        ("areas.geojson", "named body", AREAS.replace("old clamp", "body")),
        ("areas.geojson", "name a number", AREAS.replace('"old clamp"', "7.5")),
        ("areas.geojson", "control character", AREAS.replace("old clamp", "old\\u001bclamp")),
        ("areas.geojson", "a bow-tie", collection(
            feature("Polygon", [ring((20, 20), (60, 50), (60, 20), (20, 50))], area="a"))),
        ("hazards.geojson", "of an unknown kind", HAZARDS.replace("drain", "pipe")),
        ("hazards.geojson", "without a kind", HAZARDS.replace('"kind"', '"type_"')),
        ("hazards.geojson", "kind in capitals", HAZARDS.replace('"drain"', '"DRAIN!"')),
        ("hazards.geojson", "cover below 0", HAZARDS.replace("80", "-80", 1)),
        ("hazards.geojson", "cover a word", HAZARDS.replace('"depth_cm": 80', '"depth_cm": "deep"')),
        ("hazards.geojson", "cover true", HAZARDS.replace('"depth_cm": 80', '"depth_cm": true')),
        ("hazards.geojson", "cover in m", HAZARDS.replace('"depth_cm"', '"depth_m"')),
        ("hazards.geojson", "cover infinite", HAZARDS.replace('"depth_cm": 80', '"depth_cm": 1e400')),
        ("hazards.geojson", "keep-off below 0", HAZARDS.replace('"clear_m": 3', '"clear_m": -3')),
        ("hazards.geojson", "keep-off misspelt", HAZARDS.replace('"clear_m"', '"clear"')),
        ("hazards.geojson", "far away", collection(feature("Point", [9, 45], kind="obstacle"))),
        ("hazards.geojson", "a table", "kind,depth_cm\ndrain,80\n"),
        ("hazards.geojson", "broken", HAZARDS[:-20]),
        ("gateways.geojson", "broken", GATEWAYS[:-9]),
        ("wheelings.geojson", "a line of one corner", json.dumps(json.loads(WHEELINGS)).replace(
            json.dumps([list(lonlat(0, 50)), list(lonlat(300, 50))]), json.dumps([list(lonlat(0, 50))]))),
    ):  # fmt: skip
        yield Case(f"{file} {name}", {file: text}, file)
