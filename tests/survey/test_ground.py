from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
import shapely
from scipy.stats import chisquare
from shapely import MultiPolygon, box

from zoning.contracts import constant
from zoning.errors import PlanRefused
from zoning.survey import probing_ground, random_points


def test_the_ground_keeps_off_boundary_hazards_and_other_parts(
    boundary: MultiPolygon, parts: gpd.GeoDataFrame, keep_off: gpd.GeoDataFrame
) -> None:
    ground = probing_ground(boundary, parts, keep_off)
    assert set(ground["part"]) == set(parts["part"])
    whole = shapely.union_all(ground.geometry.to_numpy())
    edge = constant("survey_rules", "edge_m")
    assert whole.distance(boundary.boundary) >= edge - 1e-9
    assert whole.distance(keep_off.geometry.iloc[0]) >= edge - 1e-9
    for part, shape in zip(ground["part"], ground.geometry, strict=True):
        own = parts.geometry[parts["part"] == part].iloc[0]
        assert own.buffer(1e-6).contains(shape)
    body = ground.geometry[ground["part"] == "body"].iloc[0]
    wheeling = parts.geometry[parts["part"] == "wheeling"].iloc[0]
    assert body.distance(wheeling) >= constant("survey_rules", "part_margin_m") - 1e-9


def test_a_narrow_part_keeps_ground_away_from_its_edges(
    boundary: MultiPolygon, parts: gpd.GeoDataFrame, keep_off: gpd.GeoDataFrame
) -> None:
    ground = probing_ground(boundary, parts, keep_off)
    wheeling = ground.geometry[ground["part"] == "wheeling"].iloc[0]
    edge = parts.geometry[parts["part"] == "wheeling"].iloc[0].boundary
    assert wheeling.area > 0
    assert wheeling.distance(edge) >= 0.5


def test_a_part_with_no_ground_well_off_a_hazard_is_probed_just_off_it(
    boundary: MultiPolygon, parts: gpd.GeoDataFrame, keep_off: gpd.GeoDataFrame
) -> None:
    gateway = parts.geometry[parts["part"] == "gateway"].iloc[0]
    west, south, east, north = gateway.bounds
    # All but a strip of the gateway 5 m wide, which begins 3 m inside the boundary.
    about = keep_off.iloc[:1].set_geometry([box(west + 6, south - 9, east + 9, north + 9)])
    ground = probing_ground(boundary, parts, about)
    own = ground.geometry[ground["part"] == "gateway"].iloc[0]
    assert own.area > 0
    assert 0 < own.distance(about.geometry.iloc[0]) < 3


def test_no_ground_at_all_is_refused(
    boundary: MultiPolygon, parts: gpd.GeoDataFrame, keep_off: gpd.GeoDataFrame
) -> None:
    everywhere = keep_off.set_geometry([box(-10, -10, 400, 300)])
    with pytest.raises(PlanRefused, match="no ground to probe"):
        probing_ground(boundary, parts, everywhere)


def test_points_are_uniform_over_an_area_with_a_hole_and_an_island() -> None:
    area = MultiPolygon([box(0, 0, 40, 40) - box(10, 10, 30, 30), box(100, 0, 110, 40)])
    points = random_points(area, 8000, np.random.default_rng(3))
    assert shapely.intersects_xy(area, points).all()
    strips = [area.intersection(box(x, -1, x + 10, 50)) for x in (0, 10, 20, 30, 100)]
    found = [int(shapely.intersects_xy(strip, points).sum()) for strip in strips]
    expected = np.array([strip.area for strip in strips]) / area.area * len(points)
    assert chisquare(found, expected).pvalue > 1e-3


def test_the_same_seed_gives_the_same_points() -> None:
    one, two = (random_points(box(0, 0, 9, 9), 5, np.random.default_rng(4)) for _ in range(2))
    assert (one == two).all()
