from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
import shapely

from zoning.survey import apart_from, even_m, scattered


def test_every_part_has_its_places_and_they_stand_for_its_area(parts: gpd.GeoDataFrame) -> None:
    found = scattered(parts, 500, 30, 1)
    assert len(found.xy_m) == 500
    assert found.area_ha.sum() == pytest.approx(parts["area_ha"].sum())
    for part, area, shape in zip(parts["part"], parts["area_ha"], parts.geometry, strict=True):
        own = found.part == part
        assert own.sum() >= 30
        assert found.area_ha[own].sum() == pytest.approx(area)
        assert shapely.intersects_xy(shape.buffer(1e-6), found.xy_m[own]).all()


def test_the_seed_settles_the_places(parts: gpd.GeoDataFrame) -> None:
    one, two, other = (scattered(parts, 80, 5, seed).xy_m for seed in (1, 1, 2))
    assert (one == two).all()
    assert not np.allclose(one, other)


def test_the_spacing_of_an_even_grid() -> None:
    # 9 places on 9 ha: one a hectare, 100 m from its neighbours.
    assert even_m(9.0, 9) == pytest.approx(100.0)
    assert even_m(9.0, 36) == pytest.approx(50.0)


def test_places_near_those_taken_are_left_out_unless_all_are(parts: gpd.GeoDataFrame) -> None:
    found = scattered(parts, 200, 10, 1)
    taken = np.array([[100.0, 100.0], [200.0, 50.0]])
    kept = apart_from(found, taken, 40.0)
    gap = np.hypot(*(found.xy_m[:, None] - taken[None]).transpose(2, 0, 1)).min(axis=1)
    assert len(kept.xy_m) == len(kept.part) == len(kept.area_ha) == (gap >= 40.0).sum()
    assert 0 < len(kept.xy_m) < 200
    assert len(apart_from(found, taken, 1e4).xy_m) == 200
