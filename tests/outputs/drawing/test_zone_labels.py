"""What each zone is labelled with: number and depth where they fit, else a number on its tone."""

from __future__ import annotations

from itertools import combinations, pairwise

import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, Polygon

from zoning.outputs.drawing.labels import Label, Labels, box_of
from zoning.outputs.drawing.zone_labels import (
    LeftUnsaid,
    ZoneGround,
    label_zones,
    small_numbers,
)

PAPER = shapely.box(0, 0, 180, 120)
WIDE = shapely.box(20, 20, 80, 60)


def zone(area: shapely.Geometry, number: int = 1, *, small: bool = False) -> ZoneGround:
    return ZoneGround(str(number), "37.5 cm", "#00224e", area, small)


def labelled(*zones: ZoneGround) -> tuple[list[Label], LeftUnsaid]:
    labels = Labels(PAPER)
    left = label_zones(zones, labels)
    return labels.placed, left


def test_a_roomy_zone_has_number_and_depth_and_leaves_nothing_unsaid() -> None:
    (label,), left = labelled(zone(WIDE, small=True))
    assert (label.head, label.foot, label.anchor) == ("1", "37.5 cm", None)
    assert left == LeftUnsaid(without_depth=False, without_number=False)


def test_a_small_zone_without_room_has_its_number_on_its_tone() -> None:
    sliver = shapely.box(90, 20, 91, 40)
    (label,), left = labelled(zone(sliver, 7, small=True))
    assert (label.head, label.foot, label.behind) == ("7", "", "#00224e")
    assert left == LeftUnsaid(without_depth=True, without_number=False)
    (label,), left = labelled(zone(sliver, 7))
    assert (label.head, label.foot, label.behind) == ("7", "37.5 cm", "#ffffff")
    assert not left.without_depth


def test_a_narrow_strip_is_written_along_in_larger_letters_than_two_lines_would_have() -> None:
    (label,), _ = labelled(zone(shapely.box(20, 20, 27.5, 90)))
    assert (label.head, label.foot) == ("1: 37.5 cm", "")
    assert label.size >= 0.6


def test_a_line_to_a_zone_never_ends_under_the_tag_of_a_hazard() -> None:
    labels = Labels(shapely.box(0, 0, 180, 120))
    labels.put_tags({"H1": Point(90, 50), "H2": Point(90, 62)})
    tags = [box_of(label) for label in labels.placed]
    hidden = tags[0].centroid.buffer(0.5)  # the middle of its zone, where the line would end
    at_tag = shapely.box(hidden.bounds[0], 20, hidden.bounds[2], 2 * hidden.centroid.y - 20)
    label_zones([zone(at_tag, 7, small=True)], labels)
    *_, label = labels.placed
    end = Point(label.anchor or (0, 0)).buffer(0.6)  # the dot as drawn
    assert at_tag.intersects(end.centroid)
    assert not any(end.intersects(box_of(each)) for each in labels.placed)
    for tag, anchor in zip(tags, [(90, 50), (90, 62)], strict=True):
        assert not any(box_of(each).intersects(Point(anchor).buffer(0.6)) for each in labels.placed)
        assert not tag.intersects(box_of(label))


def test_a_zone_that_a_sign_covers_is_led_to_all_the_same() -> None:
    labels = Labels(PAPER)
    labels.keep_sign(Point(50, 50).buffer(5))
    label_zones([zone(Point(50, 50).buffer(2), 4)], labels)
    assert [label.head for label in labels.placed] == ["4"]


def test_small_letters_are_not_repeated_near_a_label_of_the_zone() -> None:
    beside = shapely.box(81, 20, 83.6, 60)  # holds the smallest line of text only
    (label,), left = labelled(zone(shapely.union_all([WIDE, beside])))
    assert label.foot == "37.5 cm"
    assert left.without_number
    (alone,), _ = labelled(zone(beside))
    assert alone.head == "1: 37.5 cm"


def quarters() -> list[ZoneGround]:
    """Return a square field on 120 mm of paper in four zones, each split by bands of its neighbour.

    Wheelings cut each quarter in strips, and the stepped edge of zone 1 leaves a tongue far off.
    """
    west, north = shapely.box(20, 2, 80, 58), shapely.box(80, 2, 140, 58)
    bands = [shapely.box(20, y, 80, y + 2) for y in (20, 38)]
    tongue = shapely.box(80, 2, 140, 8)
    return [
        zone(shapely.union_all([west.difference(shapely.union_all(bands)), tongue])),
        zone(shapely.union_all([north.difference(tongue), *bands]), 2),
        zone(shapely.box(20, 58, 80, 118), 3),
        zone(shapely.box(80, 58, 140, 118), 4),
    ]


def test_each_zone_of_a_small_square_field_has_one_label_in_large_letters() -> None:
    placed, _ = labelled(*quarters())
    assert [label.head.partition(":")[0] for label in placed] == ["1", "2", "3", "4"]
    assert all(label.anchor is None for label in placed)
    letters = [label.size * (4.2 if label.foot else 3.0) for label in placed]
    assert min(letters) >= 3.0


def test_small_letters_serve_a_zone_without_a_label_alone() -> None:
    far = shapely.box(165, 20, 167.6, 60)  # holds the smallest line of text only
    first, more = labelled(zone(shapely.union_all([WIDE, far])))[0]
    assert (first.anchor, first.foot) == (None, "37.5 cm")
    assert far.covers(Point(more.anchor or (0, 0)))


@pytest.mark.parametrize(("deep", "labels"), [(2.0, 1), (8.0, 2)])
def test_ground_that_hangs_together_is_led_to_where_it_goes_on_for_long(
    deep: float, labels: int
) -> None:
    arm = shapely.box(80, 20, 176, 20 + deep)
    assert len(labelled(zone(shapely.union_all([shapely.box(20, 20, 80, 34), arm])))[0]) == labels


@pytest.mark.parametrize(("width", "bare"), [(1.5, True), (20.0, False)])
def test_a_strip_that_joins_its_zone_is_left_to_its_tone(*, width: float, bare: bool) -> None:
    joined = shapely.union_all([WIDE, shapely.box(80, 20, 110, 20 + width)])
    assert labelled(zone(joined))[1].without_number is bare


def test_small_zones_are_named_where_the_table_leaves_them_out() -> None:
    zones = pd.DataFrame(
        {
            "zone": range(1, 15),
            "area_ha": [0.01, 0.01, *[1.0] * 12],
            "depth_cm": [0.0, *[30.0] * 13],
        }
    )
    assert small_numbers(zones) == [2]  # where legs are lifted the table tells it
    assert small_numbers(zones.head(12)) == []


@st.composite
def strips(draw: st.DrawFn) -> list[ZoneGround]:
    """Return up to 40 strips beside each other, as wheelings and passes cut a field."""
    widths = draw(st.lists(st.sampled_from([0.8, 2.0, 3.0, 6.0, 12.0]), min_size=2, max_size=40))
    edges = [20.0]
    for width in widths:
        edges.append(edges[-1] + width)
    shrink = min(1.0, 140.0 / (edges[-1] - 20.0))
    cuts = [20.0 + (edge - 20.0) * shrink for edge in edges]
    shapes: list[Polygon] = [shapely.box(a, 15, b, 105) for a, b in pairwise(cuts)]
    return [zone(shape, i, small=shape.area < 90) for i, shape in enumerate(shapes, 1)]


@settings(max_examples=20, deadline=None)
@given(strips())
def test_no_label_covers_another_and_each_zone_has_one(zones: list[ZoneGround]) -> None:
    placed, _ = labelled(*zones)
    boxes = [box_of(label) for label in placed]
    assert not any(a.intersects(b) for a, b in combinations(boxes, 2))
    assert {label.head.partition(":")[0] for label in placed} == {each.number for each in zones}
    ground = {each.number: each.area for each in zones}
    for label, box in zip(placed, boxes, strict=True):
        own = ground[label.head.partition(":")[0]]
        at = shapely.Point(label.anchor) if label.anchor else box
        assert own.buffer(1e-9).covers(at)
