"""Outlines: areas against geodesic areas (pyproj.Geod) and against real parcels."""

from __future__ import annotations

import csv
import json
from collections.abc import Sequence

import pytest
import shapely
from pyproj import Geod
from readings.small_field import blob, box, collection, faults_of, feature, open_data, ring

from zoning.contracts import constant
from zoning.readings.boundary import Outline, outline
from zoning.readings.geojson import read_geojson

GEOD = Geod(ellps="WGS84")


def read(text: str, working: str | None = None) -> Outline:
    return outline(read_geojson(blob(text, "b.geojson")), working, "field.toml")


def polygons(*rings: Sequence[object]) -> str:
    return collection(*[feature("Polygon", [r]) for r in rings])


def test_a_plain_field() -> None:
    found = read(polygons(box(0, 0, 300, 200)))
    assert found.site.boundary.area == pytest.approx(60_000, rel=1e-6)
    assert found.site.crs.to_epsg() == 32631
    assert found.notices == ()


def test_holes_and_parts_are_kept() -> None:
    rings = [[box(0, 0, 300, 200), box(50, 50, 100, 100)], [box(400, 0, 500, 100)]]
    found = read(collection(feature("MultiPolygon", rings)))
    assert found.site.boundary.area == pytest.approx(60_000 - 2_500 + 10_000, rel=1e-6)
    assert len(found.site.boundary.geoms) == 2
    assert sum(len(p.interiors) for p in found.site.boundary.geoms) == 1
    assert "2 separate pieces, of 5.75 ha, 1.00 ha" in asked(found)


def asked(found: Outline) -> str:
    """Return the one caution of a boundary of several shapes."""
    (notice,) = found.notices
    assert (notice.level, notice.code) == ("caution", "boundary-joined")
    assert "a folder for each" in notice.text
    return notice.text


def test_a_farm_of_fields_apart_is_asked_about_with_every_area() -> None:
    fields = [box(i * 200, 0, i * 200 + 100, 50 + 10 * i) for i in range(12)]
    text = asked(read(polygons(*fields)))
    assert "12 separate pieces, of 1.60 ha, 1.50 ha" in text
    assert "and 2 more" in text


def test_touching_features_are_joined_and_told() -> None:
    found = read(polygons(box(0, 0, 150, 200), box(150, 0, 300, 200)))
    assert found.site.boundary.area == pytest.approx(60_000, rel=1e-6)
    assert len(found.site.boundary.geoms) == 1
    assert "2 shapes that touch, of 3.00 ha, 3.00 ha, are joined" in asked(found)


def test_the_order_of_features_does_not_matter() -> None:
    parts = [box(0, 0, 150, 200), box(400, 0, 500, 100), box(150, 0, 300, 200)]
    both = [read(polygons(*order)).site.boundary for order in (parts, parts[::-1])]
    assert shapely.to_wkb(both[0]) == shapely.to_wkb(both[1])


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            polygons(ring((0, 0), (300, 200), (300, 0), (0, 200))),
            "the outline crosses itself at lon 0.2",
        ),
        (
            polygons(box(0, 0, 150, 200), box(100, 0, 300, 200)),
            "Parts of the boundary overlap by 100",
        ),
        (polygons(box(0, 0, 20, 20)), "0.0400 ha; 0.05 ha is the least"),
        (polygons(box(0, 0, 6000, 6000)), "2000 ha is the most"),
        (polygons(box(0, 0, 100, 100), box(40_000, 0, 40_100, 100)), "a set of fields, not one"),
        (polygons(*[box(i * 20, 0, i * 20 + 10, 100) for i in range(60)]), "60 polygons"),
        (polygons(box(0, 0, 80_000, 10)), "80 km long"),
        (
            polygons([[lat, lon + 110] for lon, lat in box(0, 0, 300, 200)]),
            "Did you swap lon and lat?",
        ),
        (
            polygons([[312000, 5784000], [312300, 5784000], [312300, 5784200], [312000, 5784000]]),
            "no degrees",
        ),
        (collection(feature("LineString", box(0, 0, 300, 200))), "is a LineString"),
        (polygons([[190, 10], [190.001, 10], [190.001, 10.001], [190, 10]]), "beyond 180 degrees"),
    ],
)
def test_what_is_no_field_is_refused_with_the_reason(text: str, said: str) -> None:
    faults = faults_of(lambda: read(text))
    assert len(faults) == 1
    assert said in faults[0]


def test_degrees_in_a_system_of_metres() -> None:
    member = {"type": "name", "properties": {"name": "EPSG:25832"}}
    text = collection(feature("Polygon", [box(0, 0, 300, 200)]), crs=member)
    assert "degrees in a system of metres" in faults_of(lambda: read(text))[0]


def test_a_spike_is_mended_and_told() -> None:
    found = read(
        polygons(ring((0, 0), (300, 0), (300, 100), (400, 100), (300, 100), (300, 200), (0, 200)))
    )
    assert found.site.boundary.area == pytest.approx(60_000, rel=1e-6)
    assert [n.code for n in found.notices] == ["boundary-mended"]


@pytest.mark.parametrize(
    ("lon", "lat", "epsg"), [(179.999, -17.0, 32701), (179.99, -17.0, 32760), (20.0, 86.0, 32661)]
)
def test_at_the_edges_of_the_world(lon: float, lat: float, epsg: int) -> None:
    """Write a field in one ring, or cut at 180 as RFC 7946 section 3.1.9 asks."""

    def turned(x: float) -> float:
        return x if x <= 180 else x - 360

    corners = [(lon, lat), (lon + 0.004, lat), (lon + 0.004, lat + 0.002), (lon, lat + 0.002)]
    whole = [[turned(x), y] for x, y in [*corners, corners[0]]]
    found = read(polygons(whole))
    expected, _ = GEOD.geometry_area_perimeter(shapely.Polygon(corners))
    assert found.site.crs.to_epsg() == epsg
    scale = 0.023 if lat > 84 else 0.002  # UPS: 0.994 at the pole; UTM: 0.9996 at the middle
    assert found.site.boundary.area == pytest.approx(abs(expected), rel=scale)
    if lon + 0.004 > 180:
        cut = [
            [(lon, lat), (180, lat), (180, lat + 0.002), (lon, lat + 0.002), (lon, lat)],
            [
                (-180, lat),
                (turned(lon + 0.004), lat),
                (turned(lon + 0.004), lat + 0.002),
                (-180, lat + 0.002),
                (-180, lat),
            ],
        ]
        split = read(collection(feature("MultiPolygon", [[r] for r in cut])))
        assert split.site.boundary.area == pytest.approx(found.site.boundary.area, rel=1e-9)
        assert len(split.site.boundary.geoms) == 1


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("EPSG:4326", "is not projected"),
        ("EPSG:3857", "areas"),
        ("EPSG:2263", "not in metres"),
        ("EPSG:999999", "names no"),
    ],
)
def test_a_working_system_that_does_not_serve(code: str, said: str) -> None:
    fault = faults_of(lambda: read(polygons(box(0, 0, 300, 200)), code))[0]
    assert fault.startswith("field.toml: field.working_crs")
    assert said in fault


def test_a_working_system_of_the_users_own() -> None:
    found = read(polygons(box(0, 0, 300, 200)), "EPSG:27700")
    assert found.site.crs.to_epsg() == 27700
    assert found.crs_accuracy_m is not None
    assert [n.code for n in found.notices] == ["crs-accuracy"]


def _polygons(geometry: dict[str, object]) -> Sequence[Sequence[object]]:
    coordinates = geometry["coordinates"]
    return [coordinates] if geometry["type"] == "Polygon" else coordinates  # type: ignore[return-value]


def test_real_parcels_keep_their_geodesic_area() -> None:
    """Check 133 parcels of 9 countries (fiboa test data); UTM is up to 0.08 % off."""
    path = open_data("parcels", "parcels_visible.geojson")
    rows = open_data("parcels", "parcels_visible_expected.csv")
    with rows.open(encoding="utf-8") as stream:
        expected = {r["parcel_id"]: r for r in csv.DictReader(stream)}
    parcels = json.loads(path.read_text(encoding="utf-8"))["features"]
    assert len(parcels) == len(expected) == 133
    for parcel in parcels:
        row = expected[parcel["properties"]["parcel_id"]]
        if float(row["geodesic_ha"]) < 0.06:
            continue
        found = read(json.dumps({"type": "FeatureCollection", "features": [parcel]}))
        assert found.site.boundary.area / 1e4 == pytest.approx(float(row["geodesic_ha"]), rel=1e-3)
        holes = sum(len(p.interiors) for p in found.site.boundary.geoms)
        assert holes == sum(len(rings) - 1 for rings in _polygons(parcel["geometry"]))


def test_a_national_set_passed_as_one_field_is_refused() -> None:
    path = open_data("parcels", "parcels_visible.geojson")
    assert (
        "a set of fields, not one" in faults_of(lambda: read(path.read_text(encoding="utf-8")))[0]
    )


def test_faults_beyond_those_listed_are_counted() -> None:
    most = int(constant("readings_rules", "faults_listed_max"))
    lines = [feature("LineString", [[0.8, 52.7], [0.81, 52.7]]) for _ in range(most + 3)]
    *listed, rest = faults_of(lambda: read(collection(*lines)))
    assert len(listed) == most
    assert f"Feature {most} is a LineString" in listed[-1]
    assert "And 3 more faults." in rest
