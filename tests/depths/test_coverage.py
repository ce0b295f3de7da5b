"""Areas in boxes against the intersections that GEOS computes one by one."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, Polygon, affinity, box
from shapely.geometry.base import BaseGeometry

from zoning.depths.coverage import Lattice


def drawn(seed: int) -> BaseGeometry:
    """Return a crooked outline, some with a hole, some with a piece apart, some with a film."""
    rng = np.random.default_rng(seed)
    angle = np.sort(rng.uniform(0, 2 * np.pi, rng.integers(4, 30)))
    reach = rng.uniform(3, 20, len(angle))
    shape: BaseGeometry = Polygon(np.column_stack([reach * np.cos(angle), reach * np.sin(angle)]))
    shape = shape.buffer(0)
    if seed % 3 == 0:
        shape = shape.difference(Point(1, 2).buffer(2))
    if seed % 5 == 0:
        shape = shape.union(affinity.rotate(box(30, -4, 33, 7), seed))
    if seed % 7 == 0:
        shape = shape.union(box(-30, 3.0, 30, 3.0 + 1e-6))
    return shape


def by_boxes(lattice: Lattice, shape: BaseGeometry) -> np.ndarray:
    """Return the area of the intersection with each box, built one by one."""
    column, row = np.meshgrid(*(np.arange(n) for n in lattice.shape), indexing="ij")
    x = (column + lattice.first[0]) * lattice.wide_m
    y = (row + lattice.first[1]) * lattice.long_m
    boxes = shapely.box(x, y, x + lattice.wide_m, y + lattice.long_m)
    return np.asarray(shapely.area(shapely.intersection(boxes, shape)))


@given(st.integers(0, 10**6), st.floats(0.3, 4.0), st.floats(0.3, 9.0))
@settings(max_examples=60, deadline=None)
def test_areas_are_those_of_the_intersections(seed: int, wide_m: float, long_m: float) -> None:
    shape = drawn(seed)
    lattice = Lattice.over(shape, wide_m, long_m)
    found = lattice.areas_m2(shape)
    assert found.shape == lattice.shape
    assert np.allclose(found, by_boxes(lattice, shape), rtol=0, atol=1e-9)
    assert np.isclose(found.sum(), shape.area)


def test_edges_on_the_sides_of_boxes_are_counted_once() -> None:
    shape = box(0, 0, 6, 10)
    lattice = Lattice.over(shape, 2.0, 5.0)
    assert lattice.shape == (3, 2)
    assert lattice.areas_m2(shape).tolist() == [[10.0, 10.0]] * 3


def test_part_of_the_ground_lies_in_the_boxes_of_the_whole() -> None:
    lattice = Lattice.over(box(-3, -3, 3, 3), 2.0, 2.0)
    found = lattice.areas_m2(box(-1, -1, 1, 1))
    assert found.tolist() == [[0, 0, 0, 0], [0, 1, 1, 0], [0, 1, 1, 0], [0, 0, 0, 0]]


def test_nothing_and_lines_have_no_area() -> None:
    lattice = Lattice.over(box(0, 0, 4, 4), 2.0, 2.0)
    assert not lattice.areas_m2(Polygon()).any()
    assert not lattice.areas_m2(shapely.LineString([(0, 0), (3, 3)])).any()


def test_a_ring_with_a_spike_at_its_highest_place_keeps_its_area() -> None:
    """As turning leaves it: the library takes such a ring to run the other way round."""
    spiked = Polygon([
        (16.7, 49.999999999999986), (16.700000000000003, 49.999999999999986),
        (16.700000000000003, -50.00000000000001), (24.0, -50.00000000000001),
        (23.999999999999993, 49.99999999999998),
    ])  # fmt: skip
    lattice = Lattice.over(spiked, 1 / 3, 5.0)
    found = lattice.areas_m2(spiked)
    assert found.sum() == pytest.approx(730.0)
    assert found.min() >= -1e-9
