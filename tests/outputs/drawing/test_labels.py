"""Labels: none covers another, and each stands on its ground or leads to it."""

from __future__ import annotations

import math
from itertools import combinations

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, affinity

from zoning.contracts import constant
from zoning.outputs.drawing.labels import (
    Labels,
    box_of,
    holds_a_line,
    inner_point,
    label_size_mm,
    largest_first,
    letters_on,
)

PAPER = shapely.box(0, 0, 180, 120)
LEAST, LEAST_ALONG = 0.65, 0.5


def test_a_label_on_roomy_ground_has_the_largest_letters() -> None:
    labels = Labels(PAPER)
    ground = shapely.box(20, 20, 80, 60)
    assert labels.put_inside(ground, "3", "32.5 cm", "#00224e", LEAST)
    (label,) = labels.placed
    assert label.size == constant("drawing_rules", "label_most")
    assert label.anchor is None
    assert ground.covers(box_of(label))


def test_a_small_ground_gets_a_small_label_and_a_smaller_one_none() -> None:
    labels = Labels(PAPER)
    side = label_size_mm("3", "32.5 cm", 0.7)[0] + 0.5
    assert labels.put_inside(shapely.box(0, 0, side, side), "3", "32.5 cm", "#fee838", LEAST)
    assert 0.65 <= labels.placed[0].size < 0.8
    assert not labels.put_inside(shapely.box(50, 50, 55, 53), "4", "30 cm", "#fee838", LEAST)


def test_a_label_keeps_off_what_must_stay_free() -> None:
    labels = Labels(PAPER)
    line = shapely.LineString([(50, 0), (50, 120)]).buffer(1)
    labels.keep_sign(line)
    assert labels.put_inside(shapely.box(20, 20, 80, 60), "3", "30 cm", "#fee838", LEAST)
    assert not box_of(labels.placed[0]).intersects(line)


def test_no_label_on_its_ground_hides_a_hazard() -> None:
    crowded = Labels(PAPER)
    lines = shapely.MultiLineString([[(x, 0), (x, 120)] for x in range(0, 180, 6)]).buffer(0.8)
    crowded.keep_clear(lines)
    assert not crowded.put_inside(shapely.box(20, 20, 80, 60), "3", "32.5 cm", "#00224e", LEAST)
    assert not crowded.put_along(
        shapely.box(20, 20, 80, 23.2), "3: 32.5 cm", "#00224e", LEAST_ALONG
    )
    roomy = Labels(PAPER)
    roomy.keep_clear(shapely.LineString([(50, 0), (50, 120)]).buffer(0.8))
    assert roomy.put_inside(shapely.box(20, 20, 80, 60), "3", "32.5 cm", "#00224e", LEAST)
    roomy.put_beside(shapely.Point(50, 80), "4", "lifted")
    for label in roomy.placed:
        assert not box_of(label).intersects(roomy.crossed[0])


def test_a_line_to_its_ground_crosses_no_other_label() -> None:
    labels = Labels(PAPER)
    assert labels.put_along(shapely.box(60, 50.5, 120, 54), "7: 32.5 cm", "#00224e", LEAST_ALONG)
    labels.keep_sign(shapely.box(0, 57, 180, 120))
    labels.put_beside(Point(90, 60), "8", "30 cm")  # straight up would be nearest
    along, beside = labels.placed
    line = shapely.LineString([(beside.x_mm, beside.y_mm), beside.anchor])
    assert not line.intersects(box_of(along).buffer(-0.2))


@pytest.mark.parametrize("angle", [0, 23, 67, 90, 135, 180])
def test_a_label_lies_along_a_narrow_strip(angle: float) -> None:
    strip = affinity.rotate(shapely.box(40, 58, 140, 61.2), angle)
    labels = Labels(shapely.box(-100, -100, 300, 300))
    assert not labels.put_inside(strip, "7", "32.5 cm", "#00224e", LEAST)
    assert labels.put_along(strip, "7: 32.5 cm", "#00224e", LEAST_ALONG)
    (label,) = labels.placed
    assert strip.buffer(1e-9).covers(box_of(label))
    assert -90 <= label.turned_deg < 90  # never upside down
    assert abs(math.sin(math.radians(label.turned_deg - angle))) < 1e-6


def test_a_label_follows_a_bent_band() -> None:
    # a headland round three sides of a field: too narrow for two lines, bent for one along it all
    band = shapely.box(10, 10, 170, 110) - shapely.box(16, 16, 164, 111)
    labels = Labels(PAPER)
    assert not labels.put_inside(band, "1", "42.5 cm", "#00224e", LEAST)
    assert labels.put_along(band, "1: 42.5 cm", "#00224e", LEAST_ALONG)
    assert band.covers(box_of(labels.placed[0]))


@pytest.mark.parametrize(("width", "holds"), [(1.5, False), (2.6, True)])
def test_a_strip_holds_a_line_if_it_is_as_wide(*, width: float, holds: bool) -> None:
    # 4.2 mm by 0.5 and the space above and below: 2.3 mm
    assert holds_a_line(shapely.box(40, 58, 140, 58 + width)) is holds


def test_a_strip_too_narrow_to_read_gets_no_label() -> None:
    assert not Labels(PAPER).put_along(
        shapely.box(40, 58, 140, 59), "7: 32.5 cm", "#00224e", LEAST_ALONG
    )


def test_a_label_beside_its_ground_leads_to_it() -> None:
    labels = Labels(PAPER)
    labels.put_beside(Point(90, 60), "7", "25 cm")
    (label,) = labels.placed
    assert label.anchor == (90, 60)


@settings(max_examples=30)
@given(st.lists(st.tuples(st.integers(0, 170), st.integers(0, 110)), min_size=2, max_size=25))
def test_no_label_covers_another(places: list[tuple[int, int]]) -> None:
    labels = Labels(PAPER)
    for number, (x, y) in enumerate(places, 1):
        if not labels.put_inside(shapely.box(x, y, x + 9, y + 7), str(number), "30 cm", "", LEAST):
            labels.put_beside(Point(x + 4, y + 3), str(number), "30 cm")
    assert len(labels.placed) == len(places)
    boxes = [box_of(label) for label in labels.placed]
    assert not any(a.intersects(b) for a, b in combinations(boxes, 2))
    assert all(
        PAPER.covers(box) for box, label in zip(boxes, labels.placed, strict=True) if label.anchor
    )


def test_a_full_paper_loses_no_label() -> None:
    labels = Labels(shapely.box(0, 0, 5, 5))
    labels.put_beside(Point(2, 2), "12345", "30 cm")
    assert [label.head for label in labels.placed] == ["12345"]


def test_letters_stand_out_on_their_ground() -> None:
    # WCAG 2 contrast of black and white on the ends of the scale
    assert letters_on("#00224e") == "#fff"
    assert letters_on("#fee838") == "#000"
    assert letters_on("#ffffff") == "#000"


def test_a_number_alone_stands_large_on_its_tone() -> None:
    labels = Labels(PAPER)
    labels.put_beside(Point(90, 60), "7", "", "#00224e")
    labels.put_beside(Point(40, 60), "8", "25 cm")
    alone, told = labels.placed
    assert alone.size > told.size
    assert (alone.behind, alone.colour) == ("#00224e", "#fff")
    assert (told.behind, told.colour) == ("#ffffff", "#000")
    assert box_of(alone).area < box_of(told).area / 2


def test_letters_no_smaller_than_asked_for() -> None:
    strip = shapely.box(40, 58, 140, 61)
    assert Labels(PAPER).put_along(strip, "7: 32.5 cm", "#00224e", 0.5)
    assert not Labels(PAPER).put_along(strip, "7: 32.5 cm", "#00224e", 0.7)
    assert not Labels(PAPER).put_inside(shapely.box(0, 0, 12, 7), "7", "32.5 cm", "#00224e", 0.9)


def corner(*anchors: tuple[float, float]) -> Labels:
    labels = Labels(PAPER, shapely.box(20, 20, 160, 100))
    for number, at in enumerate(anchors, 1):
        labels.put_beside(Point(at), str(number), "")
    return labels


def test_numbers_of_a_crowded_corner_stand_off_the_field_without_crossing_lines() -> None:
    spots = [(22 + 4 * across, 22 + 3 * down) for across in range(3) for down in range(3)]
    placed = corner(*spots).placed
    assert not any(shapely.box(20, 20, 160, 100).intersects(box_of(each)) for each in placed)
    lines = [shapely.LineString([(e.x_mm, e.y_mm), e.anchor or (0, 0)]) for e in placed]
    assert not any(a.crosses(b) for a, b in combinations(lines, 2))


def test_no_line_runs_over_a_sign() -> None:
    labels = Labels(PAPER, shapely.box(20, 20, 160, 100))
    gateway = Point(20, 60).buffer(2.4)
    labels.keep_sign(gateway)
    labels.put_beside(Point(24, 60), "1", "")
    (label,) = labels.placed
    line = shapely.LineString([(label.x_mm, label.y_mm), label.anchor or (0, 0)])
    assert not line.intersects(gateway)


def test_a_number_far_from_the_edge_and_a_tag_stand_near_what_they_name() -> None:
    labels = corner((90, 60))
    labels.put_tags({"H1": Point(30, 60)})
    for label in labels.placed:
        assert math.dist((label.x_mm, label.y_mm), label.anchor or (0, 0)) < 8
        assert labels.ground.contains(box_of(label))


def test_pieces_by_size() -> None:
    small, large = shapely.box(0, 0, 1, 1), shapely.box(5, 5, 9, 9)
    found = largest_first(shapely.union_all([small, large]))
    assert [area.normalize() for area in found] == [large.normalize(), small.normalize()]
    assert list(largest_first(shapely.LineString([(0, 0), (1, 1)]))) == []


def test_inner_point_is_farthest_from_the_edge() -> None:
    at = inner_point(shapely.box(0, 0, 10, 10))
    assert at.distance(Point(5, 5)) < 0.05
