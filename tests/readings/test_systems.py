"""Coordinate systems. Zones: the EPSG registry; accuracies: as PROJ states them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import CRS
from pyproj.aoi import AreaOfInterest
from pyproj.database import query_utm_crs_info

from zoning.readings.systems import (
    Area,
    accuracy_notice,
    named_crs,
    shift,
    utm_zone,
    working_crs_trouble,
)


@pytest.mark.parametrize(
    ("lon", "lat", "epsg"),
    [
        (-93.78, 42.01, 32615),
        (0.1, 52, 32631),
        (0, 52, 32631),
        (-0.1, 52, 32630),
        (179.99, -17, 32760),
        (180, -17, 32701),
        (-180, -17, 32701),
        (-179.9, 51, 32601),
        (5, 61, 32631),
        (20, 85, 32661),
        (20, -85, 32761),
    ],
)
def test_the_zone_of_a_place(lon: float, lat: float, epsg: int) -> None:
    assert utm_zone(lon, lat).to_epsg() == epsg


@settings(max_examples=20, deadline=None)
@given(st.integers(-17_990, 17_990), st.integers(-7_990, 7_990))
def test_the_zone_covers_the_place_in_the_registry(east: int, north: int) -> None:
    lon, lat = (east + 0.5) / 100, (north + 0.5) / 100
    found = query_utm_crs_info("WGS 84", AreaOfInterest(lon, lat, lon, lat))
    assert str(utm_zone(lon, lat).to_epsg()) in {info.code for info in found}


@pytest.mark.parametrize(
    "text",
    [
        "EPSG:27700",
        "urn:ogc:def:crs:EPSG::27700",
        "http://www.opengis.net/def/crs/EPSG/0/27700",
        CRS(27700).to_wkt(),
        CRS(27700).to_wkt("WKT1_ESRI"),
    ],
)
def test_ways_to_name_a_system(text: str) -> None:
    found = named_crs(text)
    assert found is not None
    assert found.to_epsg(min_confidence=20) == 27700


@pytest.mark.parametrize(
    "text",
    [
        "",
        "EPSG:999999",
        "WGS 84",
        "+proj=longlat",
        "http://127.0.0.1:9/crs",
        "/etc/passwd",
        "PROJCS[broken",
    ],
)
def test_what_names_none(text: str) -> None:
    assert named_crs(text) is None


def test_a_shift_between_datums_tells_its_accuracy() -> None:
    iowa = Area(-93.8, 42.0, -93.7, 42.1)
    used = shift(CRS("EPSG:4267"), CRS("EPSG:32615"), iowa)  # NAD27: metres, with no grid installed
    assert used.accuracy_m is not None
    assert used.accuracy_m > 1
    notice = accuracy_notice("b.geojson", CRS("EPSG:4267"), used)
    assert notice is not None
    assert f"{used.accuracy_m:g} m" in notice.text


def test_a_plain_projection_needs_no_word() -> None:
    used = shift(CRS("OGC:CRS84"), CRS("EPSG:32615"), Area(-93.8, 42.0, -93.7, 42.1))
    assert used.accuracy_m == 0
    assert accuracy_notice("b.geojson", CRS("OGC:CRS84"), used) is None


@pytest.mark.parametrize(
    ("code", "trouble"),
    [
        ("EPSG:32615", None),
        ("EPSG:26915", None),
        ("EPSG:4326", "not projected"),
        ("EPSG:3857", "areas"),
        ("EPSG:2263", "not in metres"),
        ("EPSG:32645", "place of the field"),
    ],
)
def test_what_can_be_worked_in(code: str, trouble: str | None) -> None:
    found = working_crs_trouble(CRS(code), -93.78, 42.01)
    if trouble is None:
        assert found is None
    else:
        assert found is not None
        assert any(word in found for word in trouble.split("|"))


def test_web_mercator_error_is_the_closed_form() -> None:
    said = working_crs_trouble(CRS("EPSG:3857"), 0, 60)
    assert said is not None
    stated = float(said.split("areas ")[1].split("%")[0]) / 100 + 1
    assert stated == pytest.approx(1 / math.cos(math.radians(60)) ** 2, rel=0.01)  # sphere
