from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
import shapely
from shapely import MultiPolygon

from zoning.contracts import constant
from zoning.survey import Design, first_survey, probing_ground, random_points
from zoning.survey.spread import spacing_m

FLOOR = int(constant("survey_rules", "part_floor"))


def designed(
    boundary: MultiPolygon, parts: gpd.GeoDataFrame, keep_off: gpd.GeoDataFrame, count: int
) -> Design:
    return first_survey(probing_ground(boundary, parts, keep_off), parts, count, 1)


@pytest.mark.parametrize("count", [12, 24, 40, 80])
def test_all_stations_stand_on_their_part_off_boundary_and_hazards(
    boundary: MultiPolygon, parts: gpd.GeoDataFrame, keep_off: gpd.GeoDataFrame, count: int
) -> None:
    design = designed(boundary, parts, keep_off, count)
    assert len(design.xy_m) == count
    points = shapely.points(design.xy_m)
    assert not shapely.intersects(keep_off.geometry.iloc[0], points).any()
    assert shapely.distance(boundary.boundary, points).min() >= constant("survey_rules", "edge_m")
    for part, shape in zip(parts["part"], parts.geometry, strict=True):
        own = design.part == part
        assert own.sum() >= FLOOR
        assert shapely.intersects(shape, points[own]).all()


def test_transects_cross_a_wheeling(
    boundary: MultiPolygon, parts: gpd.GeoDataFrame, keep_off: gpd.GeoDataFrame
) -> None:
    design = designed(boundary, parts, keep_off, 40)
    outer = design.xy_m[design.role == "transect"]
    assert len(outer) >= 2
    assert len(outer) % 2 == 0
    wheeling = design.xy_m[design.part == "wheeling"]
    for one, two in outer.reshape(-1, 2, 2):
        middle = (one + two) / 2
        step = 2 * (constant("survey_rules", "transect_step_m") + 1.3)
        assert np.hypot(*(one - two)) == pytest.approx(step)
        assert np.hypot(*(wheeling - middle).T).min() < 1.3


def test_spread_stations_keep_apart(
    boundary: MultiPolygon, parts: gpd.GeoDataFrame, keep_off: gpd.GeoDataFrame
) -> None:
    design = designed(boundary, parts, keep_off, 40)
    rng = np.random.default_rng(0)
    ground = probing_ground(boundary, parts, keep_off)
    body = design.xy_m[(design.part == "body") & (design.role == "spread")]
    shape = ground.geometry[ground["part"] == "body"].iloc[0]
    best = max(spacing_m(random_points(shape, len(body), rng)) for _ in range(1000))
    assert spacing_m(body) >= best


def test_few_stations_have_no_transect(
    boundary: MultiPolygon, parts: gpd.GeoDataFrame, keep_off: gpd.GeoDataFrame
) -> None:
    few = int(constant("survey_rules", "transect_stations")) - 1
    design = designed(boundary, parts, keep_off, few)
    assert set(design.role.tolist()) == {"spread"}
    assert len(design.xy_m) == few


def test_a_field_of_one_part(boundary: MultiPolygon, keep_off: gpd.GeoDataFrame) -> None:
    whole = gpd.GeoDataFrame(
        {"part": ["body"], "kind": ["body"], "area_ha": [6.0]},
        geometry=[boundary],
        crs="EPSG:32631",
    )
    design = first_survey(probing_ground(boundary, whole, keep_off), whole, 20, 1)
    assert len(design.xy_m) == 20
