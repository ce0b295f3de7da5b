from __future__ import annotations

import numpy as np
import pytest
import shapely
from depths.lay_fields import ORIGIN, placed, rectangle
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Polygon, affinity, box

from zoning.depths.lay_frame import (
    HeadingFrame,
    default_heading,
    line_between,
    node_grid_m,
    on_grid,
    places_along,
)


def test_the_longest_side_gives_the_heading() -> None:
    assert default_heading(rectangle(60, 300)) == pytest.approx(0.0)
    assert default_heading(rectangle(300, 60)) == pytest.approx(90.0)


def test_small_bends_do_not_break_a_long_side() -> None:
    bent = placed(Polygon([(0, 0), (0, 100), (0.4, 150), (0, 300), (200, 300), (200, 0)]))
    assert default_heading(bent) == pytest.approx(0.0, abs=0.01)


def test_a_side_begun_in_its_middle_is_one_side() -> None:
    field = placed(Polygon([(0, 100), (0, 160), (150, 160), (150, 0), (0, 0)]))
    assert default_heading(field) == pytest.approx(0.0)


def test_the_larger_of_two_polygons_counts() -> None:
    assert default_heading(placed(box(0, 0, 100, 20), box(200, 0, 230, 250))) == pytest.approx(0.0)


@settings(max_examples=40, deadline=None)
@given(turn=st.floats(-360, 360))
def test_the_heading_turns_with_the_field(turn: float) -> None:
    field = affinity.rotate(rectangle(60, 300), -turn, origin=tuple(ORIGIN))
    off = (default_heading(field) - turn + 90.0) % 180.0 - 90.0
    assert off == pytest.approx(0.0, abs=1e-5)
    assert 0.0 <= default_heading(field) < 180.0  # both long sides alike: northwards


@settings(max_examples=40, deadline=None)
@given(turn=st.floats(0, 360))
def test_the_field_lies_on_the_right_of_its_longest_side(turn: float) -> None:
    wedge = placed(Polygon([(0, 0), (0, 300), (60, 290), (60, 0)]))
    field = affinity.rotate(wedge, -turn, origin=tuple(ORIGIN))
    off = (default_heading(field) - turn + 180.0) % 360.0 - 180.0
    assert off == pytest.approx(0.0, abs=1e-5)
    other_way = shapely.MultiPolygon([part.reverse() for part in field.geoms])
    assert default_heading(other_way) == pytest.approx(default_heading(field), abs=1e-5)


@given(heading=st.floats(-360, 720), x=st.floats(-1e3, 1e3), y=st.floats(-1e3, 1e3))
def test_axes_are_undone_and_keep_lengths(heading: float, x: float, y: float) -> None:
    frame = HeadingFrame(ORIGIN[0], ORIGIN[1], heading)
    xy = ORIGIN + np.array([[x, y]])
    along, across = frame.along_across(xy)
    assert np.hypot(along, across) == pytest.approx(np.hypot(x, y), abs=1e-6)
    assert np.allclose(frame.xy(along, across), xy, atol=1e-6)
    assert np.allclose(frame.outward(frame.inward(xy)), xy, atol=1e-6)


def test_grid_points_stay_where_they_are() -> None:
    values = np.random.default_rng(0).uniform(-2000, 2000, 500)
    once = on_grid(values)
    assert np.array_equal(on_grid(once), once)
    assert np.abs(once - values).max() <= node_grid_m() / 2


def test_a_stretch_of_a_line() -> None:
    line = line_between(placed(box(0, 0, 10, 10)).geoms[0].exterior, 5.0, 15.0)
    assert line.length == pytest.approx(10.0)
    assert line_between(line, 3.0, 3.0).length == 0.0


def test_places_along_a_line_agree_with_shapely() -> None:
    line = LineString(np.random.default_rng(4).uniform(0, 100, (30, 2)))
    where = np.linspace(0, line.length, 57)
    expected = shapely.get_coordinates(shapely.line_interpolate_point(line, where))
    assert np.allclose(places_along(line, where), expected, atol=1e-9)
