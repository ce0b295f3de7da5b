"""Degrees, minutes and seconds."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from zoning.readings.angles import degrees_of


@pytest.mark.parametrize(
    ("cell", "name", "degrees"),
    [
        ("52°30'N", "lat", 52.5),
        ("S 52° 30.6′", "lat", -52.51),
        ("52°30,6'", "lat", 52.51),
        ("W 1° 30' 36\"", "lon", -1.51),
        ("1° 30′ 36,0″ E", "lon", 1.51),
        ("1°30'36''W", "lon", -1.51),
        ("N52° 30.6", "lat", 52.51),
        ("-1°30'", "lon", -1.5),
        ("52.51 N", "lat", 52.51),
        ("52.51°", "lat", 52.51),
    ],
)
def test_what_receivers_show(cell: str, name: str, degrees: float) -> None:
    assert degrees_of(cell, name) == pytest.approx(degrees, abs=1e-12)


@pytest.mark.parametrize(
    "cell",
    [
        "52.51",
        "S1",
        "52 30.6",
        "52°60'",
        "52.5°30'",
        "52°30.5'10\"",
        "52°30' E",
        "N 52°30' N",
        "N -52°30'",
        "5230.6'N",
        "12° 30' O",
        "5" * 9_000 + "°",
        "5°" + "5" * 9_000 + "'",
        "5°5" + " " * 9_000 + "5" + " " * 9_000 + "x",
        "",
    ],
)
def test_what_is_no_latitude_with_its_marks_is_nan(cell: str) -> None:
    assert math.isnan(degrees_of(cell, "lat"))


@given(st.integers(0, 89), st.integers(0, 59_999), st.sampled_from("NS"))
def test_minutes_come_back(whole: int, thousandths: int, letter: str) -> None:
    cell = f"{whole}°{thousandths // 1000:02}.{thousandths % 1000:03}'{letter}"
    sign = -1 if letter == "S" else 1
    assert degrees_of(cell, "lat") == pytest.approx(sign * (whole + thousandths / 60_000))
