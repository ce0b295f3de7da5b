from __future__ import annotations

import numpy as np
from parts.part_fields import RECTANGLE, at
from shapely import Point, box

from zoning.parts.layers import KINDS, apart, precedence


def test_precedence_runs_from_named_to_body() -> None:
    assert sorted(KINDS, key=precedence) == ["named", "gateway", "wheeling", "headland", "body"]


def test_ground_apart_from_the_field() -> None:
    shapes = np.array(
        [at(box(0, 0, 1, 1)), at(box(-5, 0, 0, 9)), at(Point(5, 5)), at(Point(1, 1).buffer(0))]
    )
    assert apart(shapes, RECTANGLE).tolist() == [False, True, True, True]
