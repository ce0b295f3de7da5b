from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, box

from zoning.depths.lay_faces import absorbed, borders, connected, faces, joined

STAIRS = np.array(
    [box(0, 0, 2, 1), box(2, 0, 3, 1), box(2, 1, 3, 4), box(9, 9, 10, 10)], dtype=object
)


def test_faces_between_crossing_lines() -> None:
    cross = [box(0, 0, 2, 2).boundary, LineString([(1, -1), (1, 3)]), LineString([(-1, 1), (3, 1)])]
    found = faces(cross)
    assert shapely.area(found).tolist() == pytest.approx([1.0] * 4)


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 10_000), n=st.integers(1, 30))
def test_random_cuts_leave_a_coverage(seed: int, n: int) -> None:
    ends = np.random.default_rng(seed).uniform(-50, 150, (n, 2, 2))
    frame = box(0, 0, 100, 100)
    found = faces([frame.boundary, *shapely.linestrings(ends)])
    inside = found[shapely.contains(frame, shapely.point_on_surface(found))]
    assert shapely.coverage_is_valid(inside)
    assert shapely.area(inside).sum() == pytest.approx(1e4, rel=1e-9)


def test_borders_are_shared_lengths() -> None:
    shared = borders(STAIRS)
    assert list(zip(shared.left, shared.right, shared.length_m, strict=True)) == [
        (0, 1, 1.0),
        (1, 2, 1.0),
    ]


def test_borders_between_groups_add_up() -> None:
    board = shapely.box(*np.array([(x, y, x + 1, y + 1) for x in range(2) for y in range(3)]).T)
    shared = borders(board).between(np.array([0, 0, 0, 1, 1, 1]))
    assert (shared.left.tolist(), shared.right.tolist(), shared.length_m.tolist()) == (
        [0],
        [1],
        [3.0],
    )


def test_borders_through_holes() -> None:
    ring = box(0, 0, 3, 3).difference(box(1, 1, 2, 2))
    assert borders(np.array([ring, box(1, 1, 2, 2)], dtype=object)).length_m.tolist() == [4.0]


def test_connected_groups() -> None:
    assert connected(4, np.array([0, 2]), np.array([1, 1])).tolist() == [0, 0, 0, 1]


def test_small_cells_go_over_their_best_border() -> None:
    shared = borders(STAIRS)
    small = np.array([False, True, False, False])
    weight = np.array([1.0, 2.0])
    assert absorbed(shapely.area(STAIRS), shared, weight, small=small).tolist() == [0, 2, 2, 3]


def test_a_chain_of_small_cells_ends_in_one_that_stays() -> None:
    row = shapely.box(np.arange(5.0), 0, np.arange(5.0) + 1, 1)
    shared = borders(row)
    small = np.array([False, True, True, True, True])
    assert absorbed(np.ones(5), shared, shared.length_m, small=small).tolist() == [0] * 5


def test_where_all_are_small_the_largest_stays() -> None:
    area = shapely.area(STAIRS)
    shared = borders(STAIRS)
    taker = absorbed(area, shared, shared.length_m, small=np.ones(4, dtype=bool))
    assert taker.tolist() == [2, 2, 2, 3]


def test_joined_keeps_ground() -> None:
    shapes = joined(STAIRS, np.array([0, 0, 0, 1]))
    assert shapely.area(shapes).tolist() == [6.0, 1.0]
