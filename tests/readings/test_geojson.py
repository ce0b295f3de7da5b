"""GeoJSON after RFC 7946; the cases of geojsonhint (mapbox, ISC) where the open data is there."""

from __future__ import annotations

import json

import pytest
import shapely
from pyproj import CRS
from readings.small_field import blob, box, collection, faults_of, feature, open_data

from zoning.errors import InputRefused
from zoning.readings.features import Layer
from zoning.readings.geojson import read_geojson

POLYGON = feature("Polygon", [box(0, 0, 300, 200)])


def read(text: str | bytes) -> Layer:
    return read_geojson(blob(text, "b.geojson"))


@pytest.mark.parametrize(
    "document",
    [
        json.loads(collection(POLYGON)),
        POLYGON,
        POLYGON["geometry"],
        {**POLYGON, "id": 7, "bbox": "anything", "extra": True},
        feature("Polygon", [[[*p, 12.5] for p in box(0, 0, 300, 200)]]),
    ],
)
def test_collection_feature_and_geometry_give_one_polygon(document: dict[str, object]) -> None:
    layer = read("\ufeff" + json.dumps(document))
    assert [f.geometry for f in layer.features] == [shapely.Polygon(box(0, 0, 300, 200))]
    assert CRS(layer.crs) == CRS("OGC:CRS84")


@pytest.mark.parametrize(
    ("member", "told"),
    [
        (None, False),
        ({"type": "name", "properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}, False),
        ({"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::25832"}}, True),
        ({"type": "name", "properties": {"name": "EPSG:25832"}}, True),
    ],
)
def test_the_older_member_crs_is_honoured_and_told(member: object, *, told: bool) -> None:
    layer = read(collection(POLYGON, crs=member))
    assert (CRS(layer.crs).to_epsg() == 25832) is told
    assert ([n.code for n in layer.notices] == ["geojson-crs"]) is told


@pytest.mark.parametrize(
    "member",
    [
        {"type": "link", "properties": {"href": "http://127.0.0.1:9/crs", "type": "proj4"}},
        {"type": "name", "properties": {"name": "EPSG:999999"}},
        {"type": "name", "properties": {"name": "+proj=utm +zone=30 +nadgrids=/etc/passwd"}},
        {"type": "name"},
        "EPSG:25832",
    ],
)
def test_links_and_unknown_systems_are_refused(member: object) -> None:
    assert "crs" in faults_of(lambda: read(collection(POLYGON, crs=member)))[0]


@pytest.mark.parametrize(
    "text",
    [
        '{"type": "Point", "coordinates": [NaN, 1]}',
        '{"type": "Point", "coordinates": [1e999, 1]}',
        '{"type": "Point", "coordinates": [true, 1]}',
        '{"type": "Point", "coordinates": [' + "1" * 5000 + ", 1]}",
        "[" * 100_000,
        '{"type": "Polygon", "coordinates": []}',
        '{"type": "Polygon", "coordinates": [[]]}',
        '{"type": "MultiPolygon", "coordinates": [[]]}',
        b'{"type": "Point", "coordinates": [1, 1], "x": "\xff"}',
    ],
)
def test_hostile_json_ends_in_a_refusal(text: str | bytes) -> None:
    assert len(faults_of(lambda: read(text))) == 1


def test_each_broken_feature_is_named() -> None:
    broken = feature("Polygon", [[[0, 0], [1, 0], [1, 1]]])
    faults = faults_of(
        lambda: read(collection(POLYGON, broken, {"type": "Feature", "geometry": None}))
    )
    assert ["Feature 2" in faults[0], "Feature 3" in faults[1]] == [True, True]


# geojsonhint keeps one fault a file. What RFC 7946 leaves readable may be read: then the shape must
# be the one that the file spells, whatever the fault in its other members.
READABLE = {
    "bad-polygon-interiorring-rhr": ("Polygon", 0.64),
    "polygon_winding_order": ("Polygon", 1.0),
    "different-first-size": ("MultiPolygon", 1.64),
    "bbox-4or6elements": ("Point", 0.0),
    "bbox-contains-string": ("Point", 0.0),
    "bbox-string": ("Point", 0.0),
    "excessive_precision_truncated": ("LineString", 0.0),
    "feature_changed_semantics": ("Point", 0.0),
    "geometry_changed_semantics": ("Point", 0.0),
    "featurecollection_changed_semantics": ("Point", 0.0),
}


def test_every_broken_file_is_refused_or_gives_the_right_shape() -> None:
    paths = sorted(open_data("malformed", "geojson_bad").glob("*.geojson"))
    assert len(paths) == 44
    read_ones = {}
    for path in paths:
        try:
            first = read_geojson(blob(path.read_bytes(), path.name)).features[0].geometry
        except InputRefused:
            continue
        read_ones[path.stem] = (first.geom_type, pytest.approx(first.area))
    expected = {n: s for n, s in READABLE.items() if n in read_ones}
    assert {n: (k, expected[n][1] == a) for n, (k, a) in read_ones.items()} == {
        n: (k, True) for n, (k, _) in expected.items()
    }


@pytest.mark.parametrize(
    ("name", "area"), [("good-polygon", 1.0), ("multipolygon", 1.0 + 1.0 - 0.36), ("issue82", 0.0)]
)
def test_sound_polygons_are_read_whole(name: str, area: float) -> None:
    path = open_data("malformed", "geojson_good", f"{name}.geojson")
    layer = read_geojson(blob(path.read_bytes(), path.name))
    total = sum(f.geometry.area for f in layer.features)
    direct = shapely.from_geojson(path.read_text())
    assert total == pytest.approx(direct.area, rel=1e-12)
    if name != "issue82":
        assert total == pytest.approx(area, rel=1e-12)


def test_a_ring_that_is_not_closed_says_how_to_close_it() -> None:
    ring = box(0, 0, 300, 200)[:-1]
    long_way = [*ring, [0.001, 0.0005]]
    (told,) = faults_of(lambda: read(json.dumps(feature("Polygon", [long_way]))))
    assert f"a ring begins at {[float(at) for at in ring[0]]} and does not close there" in told
    assert "repeat that point at its end" in told
