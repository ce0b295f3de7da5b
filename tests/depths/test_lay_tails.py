from __future__ import annotations

import pytest
from shapely import LineString, Point, Polygon, box

from zoning.depths.lay_tails import long_axis, spine, tails


def test_long_axis_ends_half_a_width_short() -> None:
    line = long_axis(box(0, 0, 40, 4))
    assert sorted(line.coords) == [pytest.approx((2.0, 2.0)), pytest.approx((38.0, 2.0))]


def test_a_straight_strip_has_a_straight_spine() -> None:
    assert len(spine(box(0, 0, 40, 4), 4.0).coords) == 2


def test_a_bent_strip_has_a_spine_up_its_middle() -> None:
    bend = LineString([(0, 0), (50, 0), (50, 40), (0, 40)])
    strip = bend.buffer(2.0, cap_style="flat", join_style="mitre")
    line = spine(strip, 4.0)
    assert line.length == pytest.approx(bend.length, rel=0.06)
    assert line.hausdorff_distance(bend) < 2.9  # the ends run into a corner


def test_ground_near_the_lines_has_no_tail() -> None:
    assert tails(box(0, 0, 50, 5), [LineString([(0, 2.5), (50, 2.5)])], 5.0, 5.0) == []


def test_each_far_part_gets_a_line_in_order() -> None:
    region = box(0, 0, 20, 5).union(box(60, 0, 90, 4)).union(box(-40, 0, -20, 4))
    lines = tails(region, [LineString([(0, 2.5), (20, 2.5)])], 5.0, 5.0)
    assert [line.coords[0][0] for line in lines] == [pytest.approx(-38.0), pytest.approx(62.0)]


def test_tails_that_branch_are_all_reached() -> None:
    star = Polygon(
        [(-2, 0), (2, 0), (2, 40), (40, 80), (37, 83), (0, 45), (-37, 83), (-40, 80), (-2, 40)]
    )
    lines = tails(star, [], 4.0, 5.0)
    for tip in ((0, 4), (36, 79), (-36, 79)):
        assert min(line.distance(Point(tip)) for line in lines) < 6.0


def test_slivers_are_left_to_their_neighbours() -> None:
    assert tails(box(0, 0, 2, 1), [], 5.0, 5.0) == []
