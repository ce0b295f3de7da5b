"""A field on paper: scale and place by hand."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from zoning.outputs.drawing.frame import Frame, hatching


def test_scale_is_set_by_the_tighter_side() -> None:
    # 200 m across on 110 mm less 5 mm each side: 0.5 mm a metre; 50 m down needs 25 + 10 mm
    frame = Frame.around((1000, 2000, 1200, 2050), 110, 100)
    assert frame.mm_per_m == pytest.approx(0.5)
    assert frame.height_mm == pytest.approx(35)


def test_north_is_up() -> None:
    frame = Frame.around((1000, 2000, 1200, 2050), 110, 100)
    moved = frame.on_paper(shapely.LineString([(1000, 2050), (1200, 2000)]))
    assert shapely.get_coordinates(moved).ravel() == pytest.approx([5, 5, 105, 30])


@given(st.floats(50, 2000), st.floats(50, 2000), st.floats(40, 200), st.floats(40, 200))
def test_the_whole_field_is_on_the_paper(
    across: float, down: float, width: float, height: float
) -> None:
    frame = Frame.around((0, 0, across, down), width, height)
    moved = frame.on_paper(shapely.box(0, 0, across, down))
    assert frame.height_mm <= height + 1e-9
    assert frame.paper.buffer(1e-6).covers(moved)
    assert moved.area == pytest.approx(across * down * frame.mm_per_m**2)


def test_what_lies_off_the_paper_is_cut() -> None:
    frame = Frame.around((0, 0, 100, 100), 50, 50)
    line = frame.on_paper(shapely.LineString([(-1000, 50), (1000, 50)]))
    assert line.bounds == pytest.approx((0, 25, 50, 25))


@pytest.mark.parametrize(("across_m", "bar_m"), [(200, 50), (450, 100), (1000, 200), (30, 5)])
def test_scale_bar_is_the_longest_round_length(across_m: float, bar_m: float) -> None:
    # A quarter of the width at most; for 200 m on 110 mm: 27.5 mm is 55 m, so 50 m
    assert Frame.around((0, 0, across_m, 10), 110, 100).scale_bar_m() == bar_m


@pytest.mark.parametrize("rising", [True, False])
def test_hatching_keeps_inside_and_keeps_its_distance(*, rising: bool) -> None:
    area = shapely.Point(20, 20).buffer(10)
    lines = hatching(area, 2.0, rising=rising)
    assert area.buffer(1e-9).covers(lines)
    # Parallel lines 2 mm apart have a length of area / 2 between them
    assert lines.length == pytest.approx(area.area / 2, rel=0.05)
    ends = shapely.get_coordinates(shapely.get_parts(lines)[3])
    slope = (ends[1, 1] - ends[0, 1]) / (ends[1, 0] - ends[0, 0])
    assert slope == pytest.approx(-1.0 if rising else 1.0)


def test_hatching_of_nothing_is_nothing() -> None:
    assert hatching(shapely.Polygon(), 2.0, rising=True).is_empty
    assert math.isclose(
        hatching(shapely.box(0, 0, 0.1, 0.1), 50, rising=True).length, 0, abs_tol=0.2
    )
