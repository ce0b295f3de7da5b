"""Fields and checks shared by the tests of passes and zones."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import strategies as st
from shapely import MultiPolygon, Point, Polygon, box

ORIGIN = np.array([500_000.0, 5_500_000.0])


def placed(*shapes: Polygon) -> MultiPolygon:
    """Return shapes drawn about the origin as a field somewhere in a UTM zone."""
    return MultiPolygon([shapely.transform(shape, lambda xy: xy + ORIGIN) for shape in shapes])


def rectangle(width: float, height: float) -> MultiPolygon:
    return placed(box(0, 0, width, height))


@st.composite
def fields(draw: st.DrawFn) -> MultiPolygon:
    """Star-shaped fields of about 0.3 to 6 ha with up to two ponds, some with a second polygon."""
    n = draw(st.integers(4, 12))
    radius = [draw(st.floats(40, 140)) for _ in range(n)]
    turn = draw(st.floats(0, 1))
    angle = [2 * math.pi * (i + turn) / n for i in range(n)]
    field = Polygon(
        [(r * math.cos(a), r * math.sin(a)) for r, a in zip(radius, angle, strict=True)]
    )
    for _ in range(draw(st.integers(0, 2))):
        x, y, r = draw(st.floats(-60, 60)), draw(st.floats(-60, 60)), draw(st.floats(1, 18))
        field = field.difference(Point(x, y).buffer(r, quad_segs=3))
    parts = list(shapely.get_parts(field))
    if draw(st.booleans()):
        parts.append(box(200, -40, 200 + draw(st.floats(3, 60)), 50))
    return placed(*parts)


def assert_covers(shapes: np.ndarray, boundary: MultiPolygon) -> None:
    """Assert that polygons are an exact partition of the boundary."""
    assert (shapely.get_type_id(shapes) == shapely.GeometryType.POLYGON).all()
    assert shapely.is_valid(shapes).all()
    assert shapely.coverage_is_valid(shapes)
    assert shapely.area(shapes).sum() == pytest.approx(boundary.area, rel=1e-9)
    union = shapely.coverage_union_all(shapes)
    assert union.symmetric_difference(boundary).area <= 2e-8 * boundary.length
