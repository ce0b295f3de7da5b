"""Headings that differ from a known one in writing alone."""

from __future__ import annotations

import pytest

from zoning.readings.headings import speller

KNOWN = (
    "station",
    "lon",
    "lat",
    "depth_cm",
    "depth_mm",
    "cone_index_kpa",
    "pan",
    "speed_km_h",
)


@pytest.mark.parametrize(
    ("given", "taken"),
    [
        ("Depth (cm)", "depth_cm"),
        ("DEPTH CM", "depth_cm"),
        ("Cone index [kPa]", "cone_index_kpa"),
        ("Station", "station"),
        ("Pan?", "pan"),
        ("Speed km/h", "speed_km_h"),
        ("Latitude", "lat"),
        ("Long.", "lon"),
        ("Latitude (°)", "lat"),
        ("lon [deg]", "lon"),
    ],
)
def test_writing_makes_no_difference(given: str, taken: str) -> None:
    assert speller(KNOWN)(given) == taken


@pytest.mark.parametrize("given", ["depth", "depth_in", "stations", "Depth (mm) cm", "5 cm", ""])
def test_another_word_or_unit_stays_as_it_is(given: str) -> None:
    assert speller(KNOWN)(given) == given


def test_latitude_is_no_word_for_a_table_without_places() -> None:
    assert speller(("run",))("Latitude") == "Latitude"


@pytest.mark.parametrize("given", ["Easting (m)", "EASTING [m]", "easting_m", "Easting"])
def test_a_place_may_name_its_unit(given: str) -> None:
    assert speller(("easting", "northing"))(given) == "easting"
    assert speller(("easting", "northing"))("Easting (km)") == "Easting (km)"
