"""The ground of each part in each piece: exact areas, centroids, whatever way the field lies."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from depths.plain_passes import straight
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPoint, MultiPolygon, affinity, box
from shapely.geometry.base import BaseGeometry

from zoning.depths.lay import Laid, lay_passes
from zoning.depths.places import Places, places_of

FIELD = MultiPolygon([box(0, 0, 90, 120) - box(30, 40, 45, 55)])


def parts_of(field: BaseGeometry, wheelings: BaseGeometry) -> gpd.GeoDataFrame:
    inner = field.intersection(wheelings)
    rest = field.difference(wheelings)
    return gpd.GeoDataFrame({"part": ["body", "wheeling"]}, geometry=[rest, inner])


def laid_on(field: MultiPolygon, heading_deg: float) -> Laid:
    return lay_passes(
        field, width_m=3.75, headland_width_m=9, heading_deg=heading_deg, step_m=5, offset_m=1.1
    )


def test_a_wheeling_counts_with_its_true_width() -> None:
    laid = straight(2, 3)  # passes of 3 m, steps of 5 m
    parts = parts_of(box(0, 0, 6, 15), box(2.0, 0, 4.0, 15))  # 2 m across the edge of the two
    places = places_of(laid.pieces, parts)
    assert places.piece.tolist() == np.repeat(np.arange(6), 2).tolist()
    assert places.part.tolist() == ["body", "wheeling"] * 6
    assert places.area_m2.tolist() == pytest.approx([10.0, 5.0] * 6)
    assert places.xy_m[:2].tolist() == [[1.0, 2.5], [2.5, 2.5]]


def test_a_film_of_a_piece_keeps_a_place() -> None:
    film = gpd.GeoDataFrame({"piece": [0, 1]}, geometry=[box(0, 0, 1e-4, 1e-4), box(1, 0, 2, 1)])
    places = places_of(film, parts_of(box(0, 0, 9, 9), box(5, 0, 6, 9)))
    assert places.piece.tolist() == [0, 1]
    assert places.area_m2.tolist() == pytest.approx([1e-8, 1.0])


def test_touching_ground_makes_no_place() -> None:
    parts = parts_of(box(0, 0, 6, 15), box(3.0, 0, 6.0, 15))  # the edge of the passes
    places = places_of(straight(2, 3).pieces, parts)
    assert places.part.tolist() == ["body"] * 3 + ["wheeling"] * 3
    assert places.area_m2.tolist() == [15.0] * 6


@given(st.floats(0, 360), st.floats(0.3, 4.0), st.floats(0, 40))
@settings(max_examples=20, deadline=None)
def test_places_hold_the_field_the_pieces_and_the_parts_exactly(
    heading_deg: float, wide_m: float, first_m: float
) -> None:
    strips = shapely.union_all([box(x, -9, x + wide_m, 130) for x in (first_m, first_m + 24)])
    parts = parts_of(FIELD, affinity.rotate(strips, heading_deg / 3))
    pieces = laid_on(FIELD, heading_deg).pieces
    places = places_of(pieces, parts)
    assert np.allclose(np.bincount(places.piece, places.area_m2), pieces.area, atol=1e-4)
    by_part = pd.Series(places.area_m2).groupby(places.part).sum()
    for part, shape in zip(parts["part"], parts.geometry, strict=True):
        assert by_part.get(part, 0.0) == pytest.approx(shape.area, abs=1e-3)


@given(st.floats(0, 360))
@settings(max_examples=15, deadline=None)
def test_places_turn_with_the_field(angle_deg: float) -> None:
    wheelings = affinity.rotate(box(40, -30, 42, 150), -17)

    def places(turn_deg: float) -> tuple[Places, np.ndarray]:
        field, strip = (
            affinity.rotate(shape, -turn_deg, origin=(5, 8)) for shape in (FIELD, wheelings)
        )
        found = places_of(laid_on(field, 20.0 + turn_deg).pieces, parts_of(field, strip))
        back = affinity.rotate(MultiPoint(found.xy_m), turn_deg, origin=(5, 8))
        return found, shapely.get_coordinates(back)

    (one, here), (two, there) = places(0.0), places(angle_deg)
    assert one.piece.tolist() == two.piece.tolist()
    assert one.part.tolist() == two.part.tolist()
    assert np.allclose(one.area_m2, two.area_m2, rtol=0, atol=1e-5)
    assert np.allclose(here, there, rtol=0, atol=1e-4)
