"""Numbers of passes stand off the field, at the start of their pass, on nothing drawn."""

from __future__ import annotations

import re
from itertools import combinations

import geopandas as gpd
import pytest
import shapely
from shapely import LineString, box

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
    found = re.findall(r'<text x="([\d.]+)" y="([\d.]+)"[^>]*>(\d+)<',
                       pass_numbers(driven, frame, labels, width_m))  # fmt: skip
    numbers = [int(number) for _, _, number in found]
    assert {2, len(driven)} <= set(numbers)
    assert 1 not in numbers  # a round
    assert len(numbers) > 3
    west = frame.on_paper(FIELD).bounds[0]
    for x, y, number in found:
        start = frame.on_paper(driven.geometry[int(number) - 1]).coords[0]
        assert west - 4 < float(x) < west
        assert float(y) == pytest.approx(start[1], abs=1.0)
    for one, other in combinations(labels.taken, 2):
        assert not one.intersects(other)
    assert not shapely.intersects(labels.ground, labels.taken).any()


def test_a_number_without_room_is_left_out() -> None:
    frame = Frame.around(FIELD.bounds, 186, 130)
    labels = Labels(frame.paper, frame.on_paper(FIELD), taken=[frame.paper])
    assert pass_numbers(passes(4.0), frame, labels, 4.0) == ""
