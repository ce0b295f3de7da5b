"""Layers brought into the working CRS."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from pyproj import CRS
from readings.small_field import ORIGIN, UTM, faults_of, lonlat

from zoning.readings.features import Feature, Layer
from zoning.readings.site import Site, coordinate_faults, finite, layer_notices, shifted
from zoning.readings.systems import LONLAT, Area

AREA = Area(0.2, 52.1, 0.3, 52.2)


def layer(geometry: shapely.Geometry, crs: str = LONLAT) -> Layer:
    return Layer("x.geojson", (Feature(1, geometry, {}),), crs, ())


def test_shift_and_back() -> None:
    moved, used = shifted(layer(shapely.Point(lonlat(30, 40))), CRS(UTM), AREA)
    assert (moved[0].x - ORIGIN[0], moved[0].y - ORIGIN[1]) == pytest.approx((30, 40), abs=1e-3)
    lon, lat = Site(shapely.MultiPolygon(), CRS(UTM), AREA).lonlat(
        np.array([moved[0].x]), np.array([moved[0].y])
    )
    assert (lon[0], lat[0]) == pytest.approx(lonlat(30, 40), abs=1e-9)
    assert layer_notices(layer(moved[0]), used) == ()


def test_heights_fall_away() -> None:
    moved, _ = shifted(layer(shapely.Point(*lonlat(30, 40), 99.0)), CRS(UTM), AREA)
    assert not moved[0].has_z


def test_what_cannot_be_shifted_is_refused() -> None:
    far = layer(shapely.Point(1e30, 1e30), "EPSG:27700")
    assert (
        "Feature 1 lies where the working CRS does not reach"
        in (faults_of(lambda: shifted(far, CRS(UTM), AREA))[0])
    )


@pytest.mark.parametrize(
    ("x", "y", "crs", "said"),
    [
        (0.25, 52.1, LONLAT, None),
        (312000, 5784000, UTM, None),
        (float("nan"), 52.1, LONLAT, "no finite number"),
        (float("inf"), 52.1, LONLAT, "no finite number"),
        (45, 120, LONLAT, "Did you swap"),
        (190, 52, LONLAT, "beyond 180 degrees"),
        (312000, 5784000, LONLAT, "no degrees"),
        (0.25, 52.1, UTM, "degrees in a system of metres"),
    ],
)
def test_coordinates_that_cannot_belong_to_their_system(
    x: float, y: float, crs: str, said: str | None
) -> None:
    faults = [str(f) for f in coordinate_faults(layer(shapely.Point(x, y), crs))]
    assert faults == [] if said is None else said in faults[0]


def test_finite() -> None:
    assert finite(shapely.Point(1, 2))
    assert not finite(shapely.LineString([(0, 0), (float("inf"), 1)]))
