"""Wheelings, gateways, named areas and hazards."""

from __future__ import annotations

import math

import pytest
import shapely
from pyproj import CRS
from readings.small_field import blob, box, collection, faults_of, feature, lonlat, ring

from zoning.readings.boundary import outline
from zoning.readings.features import Layer
from zoning.readings.geojson import read_geojson
from zoning.readings.layers import (
    read_gateways,
    read_hazards,
    read_named_areas,
    read_wheelings,
)
from zoning.readings.site import Site


def layer(*features: dict[str, object]) -> Layer:
    return read_geojson(blob(collection(*features), "x.geojson"))


@pytest.fixture(scope="module")
def site() -> Site:
    return outline(layer(feature("Polygon", [box(0, 0, 300, 200)])), None, "field.toml").site


LINE = [lonlat(10, 0), lonlat(10, 200)]
POINT = lonlat(0, 100)


def test_lines_keep_their_length_in_metres(site: Site) -> None:
    frame = read_wheelings(layer(feature("LineString", LINE)), site).frame
    assert frame.geometry.length.tolist() == pytest.approx([200], rel=1e-6)
    assert CRS(frame.crs) == site.crs


def test_nothing_is_clipped(site: Site) -> None:
    long = [lonlat(10, -50), lonlat(10, 250)]
    frame = read_wheelings(layer(feature("LineString", long)), site).frame
    assert frame.geometry.length.tolist() == pytest.approx([300], rel=1e-6)


def test_gateways_are_points_or_polygons(site: Site) -> None:
    both = layer(feature("Point", POINT), feature("Polygon", [box(0, 0, 20, 20)]))
    assert set(read_gateways(both, site).frame.geom_type) == {"Point", "Polygon"}
    assert (
        "gateways are points or polygons"
        in (faults_of(lambda: read_gateways(layer(feature("LineString", LINE)), site))[0])
    )
    assert (
        "wheelings are lines"
        in (faults_of(lambda: read_wheelings(layer(feature("Point", POINT)), site))[0])
    )


def area(**properties: object) -> dict[str, object]:
    return feature("Polygon", [box(20, 20, 60, 60)], **properties)


def test_named_areas_bear_their_name(site: Site) -> None:
    frame = read_named_areas(layer(area(area="clamp pad"), area(area="old track")), site).frame
    assert frame["area"].tolist() == ["clamp pad", "old track"]
    assert frame.geometry.area.tolist() == pytest.approx([1600, 1600], rel=1e-5)


@pytest.mark.parametrize(
    ("properties", "said"),
    [
        ({}, "has no name"),
        ({"area": " "}, "has no name"),
        ({"area": 3}, "has no name"),
        ({"area": "Headland"}, "a word with its own meaning"),
        ({"aera": "track"}, "Did you mean 'area'"),
        ({"aera": "track", "name": "7"}, "Did you mean 'area'"),
    ],
)
def test_areas_without_a_usable_name(site: Site, properties: dict[str, object], said: str) -> None:
    assert said in "\n".join(faults_of(lambda: read_named_areas(layer(area(**properties)), site)))


def test_areas_drawn_in_kml_bear_the_name_they_have_there(site: Site) -> None:
    placed = read_named_areas(layer(area(name="Old stack", description="x")), site)
    assert placed.frame["area"].tolist() == ["Old stack"]
    assert [n.code for n in placed.notices] == ["area-from-name"]
    both = read_named_areas(layer(area(name="7", area="old track")), site)
    assert both.frame["area"].tolist() == ["old track"]
    assert both.notices == ()


def test_properties_in_capitals_are_read(site: Site) -> None:
    assert read_named_areas(layer(area(AREA="pad")), site).frame["area"].tolist() == ["pad"]
    frame = read_hazards(layer(hazard(KIND="Drain", DEPTH_CM=80, Clear_m=2)), site).frame
    assert frame[["kind", "depth_cm", "clear_m"]].to_numpy().tolist() == [["drain", 80.0, 2.0]]
    twice = hazard(KIND="drain", kind="service")
    assert read_hazards(layer(twice), site).frame["kind"].tolist() == ["service"]


def test_a_crossing_area_is_refused(site: Site) -> None:
    crossing = feature("Polygon", [ring((20, 20), (60, 60), (60, 20), (20, 60))], area="x")
    assert "crosses itself" in faults_of(lambda: read_named_areas(layer(crossing), site))[0]


def hazard(**properties: object) -> dict[str, object]:
    return feature("LineString", LINE, **properties)


@pytest.mark.parametrize(
    ("given", "kept"),
    [(80, 80.0), (80.5, 80.5), ("80", 80.0), (12, 12.0), (None, math.nan), ("", math.nan)],
)
def test_amounts_of_a_hazard(site: Site, given: object, kept: float) -> None:
    placed = read_hazards(layer(hazard(kind="service", depth_cm=given, clear_m=2)), site)
    assert placed.frame["depth_cm"].tolist() == pytest.approx([kept], nan_ok=True)
    told = [n.code for n in placed.notices]
    assert told == (["hazard-depth-unknown"] if math.isnan(kept) else [])


def test_amounts_with_a_stand_in_are_told_once_where_it_is_chosen(site: Site) -> None:
    assert read_hazards(layer(hazard(kind="drain")), site).notices == ()
    (notice,) = read_hazards(layer(hazard(kind="service"), hazard(kind="service")), site).notices
    assert notice.text.endswith("not given for 2 services.")


@pytest.mark.parametrize(
    ("properties", "said"),
    [
        ({"kind": "drian", "depth_cm": 80}, "Did you mean 'drain'"),
        ({"depth_cm": 80}, "has no kind"),
        ({"kind": "drain", "depth_cm": -80}, "depth_cm = '-80'"),
        ({"kind": "drain", "depth_cm": "0,8"}, "depth_cm = '0,8'"),
        ({"kind": "drain", "depth_cm": True}, "depth_cm = 'True'"),
        (
            {"kind": "drain", "depth_m": 0.8},
            "depth_m: This property is unknown. Did you mean 'depth_cm'",
        ),
        ({"kind": "drain", "clear": 2}, "Did you mean 'clear_m'"),
    ],
)
def test_a_hazard_that_would_lose_its_cover_is_refused(
    site: Site, properties: dict[str, object], said: str
) -> None:
    assert said in "\n".join(faults_of(lambda: read_hazards(layer(hazard(**properties)), site)))


@pytest.mark.parametrize(
    ("given", "kept"), [({}, ""), ({"name": None}, ""), ({"name": " gas  pipe "}, "gas pipe")]
)
def test_the_name_of_a_hazard_is_kept(site: Site, given: dict[str, object], kept: str) -> None:
    frame = read_hazards(layer(hazard(kind="service", **given)), site).frame
    assert frame["name"].tolist() == [kept]


WHOLE = {"kind": "drain", "name": "main", "depth_cm": 80, "clear_m": 2}


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (
            {"kind": "drain", "clear_m": 2, "cover": 55, "label": "main", "id": 3},
            ["x.geojson: no name, no depth_cm. Attributes not read: cover, label."],
        ),
        ({"kind": "drain", "id": 3, "description": "old"}, []),
        ({**WHOLE, "cover": 55}, []),
    ],
)
def test_attributes_not_read_are_told_where_an_expected_one_is_absent(
    site: Site, given: dict[str, object], said: list[str]
) -> None:
    assert [n.text for n in read_hazards(layer(hazard(**given)), site).notices] == said


@pytest.mark.parametrize("name", ["bell\x07", "x" * 61])
def test_a_name_that_no_sheet_can_print_is_refused(site: Site, name: str) -> None:
    faults = faults_of(lambda: read_hazards(layer(hazard(kind="drain", name=name)), site))
    assert "cannot be printed" in "\n".join(faults)


def test_an_obstacle_needs_no_cover(site: Site) -> None:
    placed = read_hazards(layer(feature("Point", POINT, kind="obstacle", clear_m=3)), site)
    assert placed.notices == ()


def test_a_layer_that_lies_elsewhere_is_refused(site: Site) -> None:
    away = [lonlat(9000, 0), lonlat(9000, 100)]
    assert (
        "8.7 km from the boundary"
        in (
            faults_of(lambda: read_hazards(layer(feature("LineString", away, kind="drain")), site))[
                0
            ]
        )
    )
    swapped = [(lat, lon) for lon, lat in LINE]
    assert (
        "swap" in faults_of(lambda: read_wheelings(layer(feature("LineString", swapped)), site))[0]
    )


def test_the_order_of_features_does_not_matter(site: Site) -> None:
    both = [hazard(kind="drain", depth_cm=80), feature("Point", POINT, kind="service")]
    frames = [read_hazards(layer(*order), site).frame for order in (both, both[::-1])]
    assert frames[0]["kind"].tolist() == frames[1]["kind"].tolist()
    assert shapely.equals(*(frame.geometry.to_numpy() for frame in frames)).all()


@pytest.mark.parametrize(("cover", "told"), [(0.8, True), (0, True), (80, False), (800, True)])
def test_a_cover_that_may_be_in_another_unit_is_asked_about(
    site: Site, cover: float, *, told: bool
) -> None:
    placed = read_hazards(layer(hazard(kind="drain", depth_cm=cover, clear_m=1)), site)
    assert placed.frame["depth_cm"].tolist() == [cover]
    assert ([n.code for n in placed.notices] == ["hazard-depth-odd"]) is told
