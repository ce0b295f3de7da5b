from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
import shapely

from zoning.survey import scattered


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
