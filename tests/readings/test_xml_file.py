"""KML, and XML that would fetch or unfold something."""

from __future__ import annotations

import pytest
import shapely
from readings.small_field import blob, box, faults_of

from zoning.readings.features import Layer
from zoning.readings.xml_file import parse_xml, read_kml

SPACE = 'xmlns="http://www.opengis.net/kml/2.2"'


def positions(ring: list[tuple[float, float]]) -> str:
    return " ".join(f"{lon},{lat},0" for lon, lat in ring)


def polygon(outer: list[tuple[float, float]], *inner: list[tuple[float, float]]) -> str:
    rings = [
        f"<outerBoundaryIs><LinearRing><coordinates>{positions(outer)}</coordinates></LinearRing></outerBoundaryIs>"
    ]
    rings += [
        f"<innerBoundaryIs><LinearRing><coordinates>\n{positions(r)}\n</coordinates></LinearRing></innerBoundaryIs>"
        for r in inner
    ]
    return f"<Polygon>{''.join(rings)}</Polygon>"


def kml(body: str, folder: str | None = None) -> Layer:
    data = blob(
        f'<?xml version="1.0"?><kml {SPACE}><Document><name>d</name>{body}</Document></kml>',
        "b.kml",
    )
    return read_kml(data, parse_xml(data), folder)


def mark(geometry: str, more: str = "") -> str:
    return f"<Placemark><name>n</name>{more}{geometry}</Placemark>"


OUTER, HOLE = box(0, 0, 300, 200), box(50, 50, 100, 100)


def test_polygon_with_a_hole() -> None:
    layer = kml(mark(polygon(OUTER, HOLE)))
    assert layer.features[0].geometry.equals(shapely.Polygon(OUTER, [HOLE]))
    assert layer.features[0].properties["name"] == "n"


def test_several_parts_lines_and_points() -> None:
    two = mark(f"<MultiGeometry>{polygon(OUTER)}{polygon(box(400, 0, 500, 100))}</MultiGeometry>")
    line = mark(f"<LineString><coordinates>{positions(OUTER)}</coordinates></LineString>")
    point = mark("<Point><coordinates>1,52</coordinates></Point>")
    kinds = [f.geometry.geom_type for f in kml(two + line + point).features]
    assert kinds == ["MultiPolygon", "LineString", "Point"]


def test_data_of_a_placemark_become_properties() -> None:
    data = (
        '<ExtendedData><Data name="kind"><value>drain</value></Data>'
        '<SchemaData><SimpleData name="depth_cm">80</SimpleData></SchemaData></ExtendedData>'
    )
    properties = (
        kml(mark("<Point><coordinates>1,52</coordinates></Point>", data)).features[0].properties
    )
    assert (properties["kind"], properties["depth_cm"]) == ("drain", "80")


def test_a_folder_may_be_chosen() -> None:
    one, two = mark(polygon(OUTER)), mark(polygon(HOLE))
    body = f"<Folder><name>one</name>{one}</Folder><Folder><name>two</name>{two}</Folder>"
    assert len(kml(body).features) == 2
    assert kml(body, "two").features[0].geometry.equals(shapely.Polygon(HOLE))
    assert "No folder 'three'" in faults_of(lambda: kml(body, "three"))[0]


@pytest.mark.parametrize(
    "body",
    [
        mark(""),
        mark("<Point><coordinates>x,52</coordinates></Point>"),
        mark("<Point><coordinates>nan,52</coordinates></Point>"),
        mark("<LineString><coordinates>1,52</coordinates></LineString>"),
        mark(polygon(OUTER[:-1])),
        mark("<Polygon/>"),
        mark("<MultiGeometry/>"),
        "<NetworkLink><Link><href>http://127.0.0.1:9/x.kml</href></Link></NetworkLink>",
    ],
)
def test_broken_placemarks_are_refused(body: str) -> None:
    assert len(faults_of(lambda: kml(body))) == 1


@pytest.mark.parametrize(
    "text",
    [
        '<!DOCTYPE kml [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;">]><kml>&b;</kml>',
        '<!DOCTYPE kml SYSTEM "http://127.0.0.1:9/x.dtd"><kml/>',
        '<!DOCTYPE kml [<!ENTITY x SYSTEM "file:///etc/passwd">]><kml>&x;</kml>',
        "<kml><unclosed></kml>",
        b"\xff\xfe<",
        "<",
    ],
)
def test_document_types_entities_and_broken_xml_are_refused(text: str | bytes) -> None:
    assert len(faults_of(lambda: parse_xml(blob(text, "b.kml")))) == 1
