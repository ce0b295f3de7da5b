"""Polygons kept, mended without a change of area, or refused."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon, box

from zoning.readings.rings import RingFaultError, joined, sound_polygons


def locate(x: float, y: float) -> str:
    return f"({x:g}, {y:g})"


SQUARE = [(0, 0), (10, 0), (10, 10), (0, 10)]


@pytest.mark.parametrize(
    ("shape", "area"),
    [
        (Polygon([(0, 0), (10, 0), (10, 5), (20, 5), (10, 5), (10, 10), (0, 10)]), 100.0),  # spike
        (Polygon([*SQUARE, (0, 10), (0, 10)]), 100.0),  # repeated vertices
        (Polygon([(0, 0), (10, 0), (5, 5), (10, 10), (0, 10), (5, 5)]), 50.0),  # touches itself
        (Polygon([(0, 0), (10, 0), (10, 10), (0, 10)], [[(2, 2), (4, 2), (4, 4), (2, 4)]]), 96.0),
    ],
)
def test_what_keeps_its_area_is_kept(shape: Polygon, area: float) -> None:
    polygons = sound_polygons(shape, locate).polygons
    assert sum(p.area for p in polygons) == pytest.approx(area, rel=1e-12)
    assert all(p.is_valid for p in polygons)


def test_a_crossing_outline_is_refused_where_it_crosses() -> None:
    bow_tie = Polygon([(0, 0), (10, 10), (10, 0), (0, 10)])
    with pytest.raises(RingFaultError, match=r"crosses itself at \(5, 5\)"):
        sound_polygons(bow_tie, locate)


@pytest.mark.parametrize(
    "shape",
    [
        Polygon(
            [(0, 0), (10, 0), (10, 10), (0, 10)], [[(20, 20), (24, 20), (24, 24)]]
        ),  # hole outside
        Polygon([(0, 0), (10, 0), (5, 0)]),  # no area
        Polygon([(0, 0), (10, 0), (10, 10), (-0.1, 0.1)], [[(9, 0), (9, -5), (5, 5)]]),
    ],
)
def test_what_would_change_its_area_is_refused(shape: Polygon) -> None:
    with pytest.raises(RingFaultError):
        sound_polygons(shape, locate)


@given(st.lists(st.tuples(st.integers(0, 12), st.integers(0, 12)), min_size=4, max_size=9))
def test_any_ring_is_refused_or_comes_back_with_its_area(corners: list[tuple[int, int]]) -> None:
    shape = Polygon(corners)
    try:
        polygons = sound_polygons(shape, locate).polygons
    except RingFaultError:
        return
    assert sum(p.area for p in polygons) == pytest.approx(shape.area, rel=1e-9)
    assert bool(np.all(shapely.is_valid(np.array(polygons, dtype=object))))


def test_parts_side_by_side_are_joined_and_their_order_does_not_matter() -> None:
    parts = [box(0, 0, 10, 10), box(10, 0, 20, 10), box(40, 0, 50, 10)]
    made = joined(parts, locate)
    assert isinstance(made, MultiPolygon)
    assert (len(made.geoms), made.area) == (2, 300.0)
    assert shapely.to_wkb(made) == shapely.to_wkb(joined(parts[::-1], locate))


def test_overlapping_parts_are_refused_with_a_place() -> None:
    with pytest.raises(RingFaultError, match=r"overlap by 20\.0 m2 at \(9, 5\)"):
        joined([box(0, 0, 10, 10), box(8, 0, 18, 10), box(50, 0, 60, 10)], locate)
