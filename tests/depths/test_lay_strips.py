from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Polygon, box

from zoning.depths.lay_faces import faces
from zoning.depths.lay_strips import Strips, boxes


def test_numbers_and_edges_agree() -> None:
    strips = Strips(width_m=3.01, step_m=5.0, offset_m=1.3)
    number = np.arange(-40, 40)
    assert strips.strip_of(strips.edge_across(number) + 1e-6).tolist() == number.tolist()
    assert strips.step_of(strips.edge_along(number) + 1e-6).tolist() == number.tolist()


def test_whole_boxes_and_cuts_fill_the_ground() -> None:
    body = Polygon([(0, 0), (100, 20), (80, 90), (10, 60)])
    strips = Strips(4.0, 5.0, 0.7)
    found = boxes(body, strips)
    assert shapely.covers(body, found.polygons).all()
    rest = faces([body.boundary, found.cuts])
    inside = rest[shapely.contains(body, shapely.point_on_surface(rest))]
    loose = inside[~shapely.covers(shapely.union_all(found.polygons).buffer(1e-6), inside)]
    assert shapely.area(found.polygons).sum() + shapely.area(loose).sum() == pytest.approx(
        body.area
    )
    assert shapely.coverage_is_valid(np.concatenate([found.polygons, loose]))


def test_boxes_share_corners_exactly() -> None:
    found = boxes(box(-50, -50, 50, 50), Strips(3.01, 5.0, 1.234567))
    assert shapely.coverage_is_valid(found.polygons)
    assert len(found.polygons) == 33 * 18  # whole ones in 100 m, the outermost excluded


def test_nothing_left_gives_nothing() -> None:
    found = boxes(MultiPolygon(), Strips(3.0, 5.0, 0.0))
    assert len(found.polygons) == 0
    assert found.cuts.is_empty
