from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import Point, Polygon, box

from zoning.depths.lay_faces import faces
from zoning.depths.lay_rounds import (
    cut_evenly,
    cuts,
    inset,
    loops,
    round_count,
    rounds_of,
    sampled,
    without_necks,
)

SQUARE = box(0, 0, 100, 100)


@pytest.mark.parametrize(
    ("width", "headland", "count"), [(5, 0, 0), (5, 5, 1), (5, 5.1, 2), (3, 24, 8), (0.3, 0.9, 3)]
)
def test_rounds_cover_the_headland(width: float, headland: float, count: int) -> None:
    assert round_count(width, headland) == count


def test_inset_of_a_square_and_of_its_hole() -> None:
    holed = SQUARE.difference(box(40, 40, 60, 60))
    assert inset(holed, 10, round_obstacles=False).area == pytest.approx(80**2)
    about = 20**2 + 4 * 20 * 10 + math.pi * 100
    assert inset(holed, 10, round_obstacles=True).area == pytest.approx(80**2 - about, rel=2e-3)
    assert inset(holed, 0, round_obstacles=False).area == pytest.approx(100**2)


def test_middle_lines_of_a_square() -> None:
    rounds = rounds_of(SQUARE, width_m=5, count=3, step_m=5, round_obstacles=False)
    assert [one.tracks[0].line.length for one in rounds] == pytest.approx([380, 340, 300])
    assert [one.region.area for one in rounds] == pytest.approx([1900, 1700, 1500])


def test_loops_begin_at_the_left_whatever_the_ring_began_with() -> None:
    turned = Polygon([(100, 100), (0, 100), (0, 0), (100, 0)])
    assert [line.coords[0] for line in loops(turned)] == [(0.0, 0.0)]
    assert loops(turned)[0].equals_exact(loops(SQUARE)[0])
    assert loops(turned)[0].coords[1] == (100.0, 0.0)


def test_a_pond_on_the_way_parts_the_round() -> None:
    pond = SQUARE.difference(Point(50, 9).buffer(4, quad_segs=64))
    first, second = rounds_of(pond, width_m=5, count=2, step_m=5, round_obstacles=False)
    assert [track.line.length for track in first.tracks] == pytest.approx([380])
    chord = 2 * math.sqrt(4**2 - 1.5**2)  # the second round runs 1.5 m from the pond's middle
    assert [track.line.length for track in second.tracks] == pytest.approx([340 - chord], abs=0.01)


def test_steps_are_even() -> None:
    track = cut_evenly(loops(SQUARE)[0], 7.0)
    assert track.steps == 57  # 400 / 7 = 57.1
    assert np.allclose(np.diff(track.cuts_m), 400 / 57)
    assert track.between(3, 5).length == pytest.approx(3 * 400 / 57)


def test_cuts_give_ground_to_the_nearest_step() -> None:
    (first,) = rounds_of(SQUARE, width_m=5, count=1, step_m=5, round_obstacles=False)
    samples = sampled(first.tracks, 5.0)
    found = faces([first.region.boundary, cuts(samples, first.region)])
    ground = found[shapely.contains(first.region, shapely.point_on_surface(found))]
    assert len(ground) == 76
    assert shapely.area(ground).sum() == pytest.approx(1900)
    straight = shapely.area(ground)[np.abs(shapely.area(ground) - 25) < 1e-6]
    assert len(straight) >= 76 - 8


def test_a_strip_little_wider_than_the_machine_is_driven_once() -> None:
    strip = box(0, 0, 200, 5.2)
    (first,) = rounds_of(strip, width_m=5, count=1, step_m=5, round_obstacles=False)
    assert [track.line.length for track in first.tracks] == pytest.approx([200 - 5.2])


def test_a_strip_of_two_widths_is_driven_up_and_down() -> None:
    strip = box(0, 0, 200, 10)
    (first,) = rounds_of(strip, width_m=5, count=1, step_m=5, round_obstacles=False)
    assert [track.line.length for track in first.tracks] == pytest.approx([2 * (195 + 5)])


def test_wide_ground_is_left_whole() -> None:
    shape = Polygon([(0, 0), (90, 10), (60, 40), (10, 80)])
    assert without_necks(shape, 5.0) is shape


def test_a_neck_between_two_squares_has_one_line_and_no_film() -> None:
    field = box(0, 0, 60, 60).union(box(60, 27, 160, 33)).union(box(160, 0, 220, 60))
    (first,) = rounds_of(field, width_m=5, count=1, step_m=5, round_obstacles=False)
    rings = [track.line for track in first.tracks if track.line.is_ring]
    assert sorted(line.length for line in rings) == pytest.approx([220, 220], abs=3)
    (neck,) = [track.line for track in first.tracks if not track.line.is_ring]
    assert neck.bounds[1] > 29
    assert neck.bounds[3] < 31
    assert neck.length > 85
