"""Numbers of passes stand at the start of their pass, on nothing drawn; rounds in the field."""

from __future__ import annotations

import re
from itertools import combinations

import geopandas as gpd
import pytest
import shapely
from shapely import LineString, Point, box

from zoning.contracts import constant
from zoning.outputs.drawing.frame import Frame
from zoning.outputs.drawing.labels import Labels
from zoning.outputs.drawing.pass_numbers import pass_numbers

FIELD = box(0, 0, 300, 200)


def passes(width_m: float) -> gpd.GeoDataFrame:
    """Return a round and straight passes from west to east, 20 m off both sides."""
    count = int(160 / width_m)
    lines = [LineString([(20, 20 + width_m * (i + 0.5)), (280, 20 + width_m * (i + 0.5))])
             for i in range(count)]  # fmt: skip
    rows = {"pass": range(1, count + 2), "step": 1, "laid": ["round"] + ["straight"] * count}
    return gpd.GeoDataFrame(rows, geometry=[LineString([(5, 5), (295, 5)]), *lines])


@pytest.mark.parametrize("width_m", [2.0, 4.0, 10.0])
def test_first_last_and_some_between_stand_beside_their_start(width_m: float) -> None:
    frame = Frame.around(FIELD.bounds, 186, 130)
    labels = Labels(frame.paper, frame.on_paper(FIELD))
    driven = passes(width_m)
    found = numbered(pass_numbers(driven, frame, labels, width_m))
    assert {1, 2, len(driven)} <= set(found)
    assert len(found) > 4
    west = frame.on_paper(FIELD).bounds[0]
    for number, spot in found.items():
        start = frame.on_paper(driven.geometry[number - 1]).coords[0]
        assert spot.y == pytest.approx(start[1], abs=1.0)
        assert spot.x == pytest.approx(start[0], abs=0.01) if number == 1 else spot.x > west - 4
        assert labels.ground.covers(spot) == (number == 1)  # a round is numbered on its ground
    for one, other in combinations(labels.taken, 2):
        assert not one.intersects(other)


def numbered(svg: str) -> dict[int, Point]:
    """Return the numbers of a drawing with the places of their letters."""
    texts = re.findall(r'<text x="([\d.]+)" y="([\d.]+)"[^>]*>(\d+)<', svg)
    return {int(number): Point(float(x), float(y)) for x, y, number in texts}


@pytest.mark.parametrize("width_m", [2.0, 4.0, 9.0])
def test_rounds_are_numbered_at_their_starts(
    width_m: float,
) -> None:
    frame = Frame.around(FIELD.bounds, 186, 130)
    labels = Labels(frame.paper, frame.on_paper(FIELD))
    count = int(60 / width_m)
    loops = [FIELD.buffer(-width_m * (i + 0.5)).exterior for i in range(count)]
    rows = {"pass": range(1, count + 1), "step": 1, "laid": "round"}
    driven = gpd.GeoDataFrame(rows, geometry=[LineString(loop.coords) for loop in loops])
    found = numbered(pass_numbers(driven, frame, labels, width_m))
    all_of_them = width_m * frame.mm_per_m * 2**0.5 > constant("drawing_rules", "passes_apart_mm")
    assert set(found) == (set(driven["pass"]) if all_of_them else {1, count})
    for number, spot in found.items():
        start = Point(frame.on_paper(driven.geometry[number - 1]).coords[0])
        assert spot.distance(start) < 1.0


def test_outermost_and_innermost_round_are_numbered_in_each_part_of_a_field() -> None:
    fields = [box(0, 0, 300, 90), box(0, 110, 300, 200)]
    frame = Frame.around((0, 0, 300, 200), 186, 130)
    labels = Labels(frame.paper, frame.on_paper(shapely.union_all(fields)))
    loops = [field.buffer(-2 - 4 * i).exterior for field in fields for i in range(6)]
    driven = gpd.GeoDataFrame({"pass": range(1, 13), "step": 1, "laid": "round"},
                              geometry=[LineString(loop.coords) for loop in loops])  # fmt: skip
    assert set(numbered(pass_numbers(driven, frame, labels, 4.0))) == {1, 6, 7, 12}


def test_a_number_stands_clear_of_an_outline_that_its_pass_runs_along() -> None:
    """A pass that leaves the field at a slant is near its edge for a while."""
    slanted = shapely.Polygon([(0, 0), (300, 0), (300, 200), (30, 200)])
    frame = Frame.around(slanted.bounds, 186, 130)
    labels = Labels(frame.paper, frame.on_paper(slanted))
    line = LineString([(20, 100), (75, 190)])
    driven = gpd.GeoDataFrame({"pass": [1], "step": 1, "laid": "straight"}, geometry=[line])
    spot = numbered(pass_numbers(driven, frame, labels, 4.0))[1]
    digit = shapely.box(spot.x - 0.6, spot.y - 1.5, spot.x + 0.6, spot.y)
    assert digit.distance(labels.ground) > 0.35 + 0.2  # half of the outline, and white beside it


def test_a_number_without_room_is_left_out() -> None:
    frame = Frame.around(FIELD.bounds, 186, 130)
    labels = Labels(frame.paper, frame.on_paper(FIELD), taken=[frame.paper])
    assert pass_numbers(passes(4.0), frame, labels, 4.0) == ""
