"""A label beside a mark: the free side is taken, and what it covers is measured."""

from __future__ import annotations

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from zoning.outputs.drawing.beside import covered, free_box

AT, SIZE, GAP = (10.0, 10.0), (6.0, 2.0), 2.0
spots = st.tuples(st.floats(0, 20), st.floats(0, 20))


def test_with_room_it_stands_to_the_right_at_the_same_height() -> None:
    assert free_box(AT, SIZE, GAP, []).bounds == (12.0, 9.0, 18.0, 11.0)


def test_a_taken_side_is_left_for_the_next() -> None:
    right = shapely.box(12, 8, 20, 12)
    assert free_box(AT, SIZE, GAP, [right]).bounds == (2.0, 9.0, 8.0, 11.0)


@given(st.lists(spots, max_size=8))
def test_it_never_covers_the_mark_and_never_more_than_the_right_side_would(taken) -> None:
    discs = [shapely.Point(spot).buffer(1.5) for spot in taken]
    box = free_box(AT, SIZE, GAP, discs)
    assert box.distance(shapely.Point(AT)) >= GAP - 1e-9
    assert box.area == pytest.approx(SIZE[0] * SIZE[1])
    assert covered(box, discs) <= covered(shapely.box(12, 9, 18, 11), discs) + 1e-9


def test_what_is_covered_is_an_area() -> None:
    assert covered(shapely.box(0, 0, 2, 2), [shapely.box(1, 1, 3, 3), shapely.box(0, 0, 1, 1)]) == 2
    assert covered(shapely.box(0, 0, 2, 2), []) == 0.0
