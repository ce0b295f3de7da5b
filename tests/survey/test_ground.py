from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
import shapely
from scipy.stats import chisquare
from shapely import MultiPolygon, Polygon, box

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


CORE = box(24, 24, 276, 176)


def wheeling_ground(
    boundary: MultiPolygon, keep_off: gpd.GeoDataFrame, *strips: Polygon
) -> MultiPolygon:
    """Return where stations may stand on wheelings in a field with a headland of 24 m."""
    wheeling = shapely.union_all(strips)
    shapes = {
        "body": CORE - wheeling,
        "headland": boundary - CORE - wheeling,
        "wheeling": wheeling,
    }
    parts = gpd.GeoDataFrame(
        {"part": list(shapes), "kind": list(shapes), "area_ha": 1.0},
        geometry=list(shapes.values()),
        crs=keep_off.crs,
    )
    ground = probing_ground(boundary, parts, keep_off.iloc[:0])
    (own,) = ground.geometry[ground["part"] == "wheeling"]
    return own


@pytest.mark.parametrize(
    ("west", "east"), [(24, 276), (0, 300)], ids=["to the headland", "over it"]
)
def test_wheelings_are_probed_well_off_the_headland(
    boundary: MultiPolygon, keep_off: gpd.GeoDataFrame, west: int, east: int
) -> None:
    strip = box(west, 90, east, 94)
    own = wheeling_ground(boundary, keep_off, strip)
    end_m = constant("survey_rules", "wheeling_end_m")
    assert own.distance(boundary - CORE - strip) == pytest.approx(end_m, abs=0.1)
    assert own.bounds[2] - own.bounds[0] == pytest.approx(276 - 24 - 2 * end_m, abs=1)


def test_wheelings_without_a_headland_are_probed_well_off_the_boundary(
    boundary: MultiPolygon, keep_off: gpd.GeoDataFrame
) -> None:
    strip = box(0, 90, 300, 94)
    parts = gpd.GeoDataFrame(
        {"part": ["body", "wheeling"], "kind": ["body", "wheeling"], "area_ha": 1.0},
        geometry=[boundary - strip, strip],
        crs=keep_off.crs,
    )
    ground = probing_ground(boundary, parts, keep_off.iloc[:0])
    end_m = constant("survey_rules", "wheeling_end_m")
    assert ground.geometry.iloc[1].bounds[::2] == pytest.approx((end_m, 300 - end_m))


def test_a_short_strip_and_one_along_the_headland_keep_half_their_ground(
    boundary: MultiPolygon, keep_off: gpd.GeoDataFrame
) -> None:
    short, along, far = box(24, 25, 43, 29), box(50, 25, 250, 29), box(24, 90, 276, 94)
    own = wheeling_ground(boundary, keep_off, short, along, far)
    margin_m = constant("survey_rules", "part_margin_m") / 2  # what a strip of 4 m has room for
    for strip in (short, along):
        inner = strip.buffer(-margin_m, join_style="mitre")
        assert own.intersection(strip).area >= inner.area / 2
    end_m = constant("survey_rules", "wheeling_end_m")
    assert own.intersection(far).distance(boundary - CORE) == pytest.approx(end_m)


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
