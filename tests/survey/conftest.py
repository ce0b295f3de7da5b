from __future__ import annotations

import geopandas as gpd
import pytest
from shapely import LineString, MultiPolygon, box
from survey_world import CRS, World, drawn_parts, make_world


@pytest.fixture(scope="session")
def parts() -> gpd.GeoDataFrame:
    return drawn_parts()


@pytest.fixture(scope="session")
def boundary() -> MultiPolygon:
    return MultiPolygon([box(0, 0, 300, 200)])


@pytest.fixture(scope="session")
def keep_off() -> gpd.GeoDataFrame:
    pipe = LineString([(200, -10), (220, 210)]).buffer(6)
    return gpd.GeoDataFrame({"kind": ["service"], "cap_cm": [0.0]}, geometry=[pipe], crs=CRS)


@pytest.fixture(scope="session")
def world() -> World:
    return make_world(1)
