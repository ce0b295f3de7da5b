from __future__ import annotations

import numpy as np
import pytest
from parts.part_fields import RECTANGLE, at
from shapely import Point, box

from zoning.parts.layers import KINDS, apart, listed, precedence


def test_precedence_runs_from_named_to_body() -> None:
    assert sorted(KINDS, key=precedence) == ["named", "gateway", "wheeling", "headland", "body"]


def test_ground_apart_from_the_field() -> None:
    shapes = np.array(
        [at(box(0, 0, 1, 1)), at(box(-5, 0, 0, 9)), at(Point(5, 5)), at(Point(1, 1).buffer(0))]
    )
    assert apart(shapes, RECTANGLE).tolist() == [False, True, True, True]


@pytest.mark.parametrize(
    ("things", "text"), [([1], "1"), ([1, 2], "1 and 2"), (["a", "b", "c"], "a, b and c")]
)
def test_lists_read_well(things: list[object], text: str) -> None:
    assert listed(things) == text
