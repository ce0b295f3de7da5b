from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from parts.part_fields import area_m2, codes, divided, field
from shapely import Polygon, box

from zoning.parts.headland import core

HOLED = field(box(0, 0, 200, 300).difference(box(80, 130, 120, 170)))


def test_holes_have_no_headland_unless_asked() -> None:
    parts, _ = divided(HOLED, headland_width_m=24.0)
    assert area_m2(parts, "headland") == pytest.approx(200 * 300 - 152 * 252)
    parts, _ = divided(HOLED, headland_width_m=24.0, headland_round_obstacles=True)
    about = 4 * 40 * 24 + math.pi * 24**2
    assert area_m2(parts, "headland") == pytest.approx(200 * 300 - 152 * 252 + about, rel=1e-3)


def test_each_polygon_has_its_own_headland() -> None:
    parts, _ = divided(field(box(0, 0, 100, 100), box(104, 0, 204, 100)), headland_width_m=10.0)
    assert area_m2(parts, "body") == pytest.approx(2 * 80 * 80)


def test_a_polygon_in_the_hole_of_another_keeps_its_own_headland() -> None:
    ring = box(0, 0, 300, 300).difference(box(100, 100, 200, 200))
    parts, _ = divided(field(ring, box(120, 120, 180, 180)), headland_width_m=20.0)
    island = box(500_120, 5_500_120, 500_180, 5_500_180)
    body = parts.geometry[parts["part"] == "body"].iloc[0]
    assert body.intersection(island).area == pytest.approx(20 * 20)


def test_the_headland_lies_within_its_width_of_the_outline() -> None:
    boundary = field(Polygon([(0, 0), (180, 20), (150, 130), (90, 60), (20, 160)]))
    parts, _ = divided(boundary, headland_width_m=15.0)
    xy = np.random.default_rng(5).uniform([0, 0], [180, 160], (3000, 2))
    xy += np.array([500_000, 5_500_000])
    points = shapely.points(xy)
    points = points[shapely.contains(boundary, points)]
    distance = shapely.distance(points, boundary.boundary)
    clear = np.abs(distance - 15.0) > 0.15  # arcs and the buffer's tolerance of 1 %
    body = shapely.intersects(parts.geometry[parts["part"] == "body"].iloc[0], points)
    assert (body == (distance > 15.0))[clear].all()


def test_a_band_wider_than_the_field_is_told() -> None:
    parts, notices = divided(headland_width_m=150.0)
    assert parts["part"].tolist() == ["headland"]
    assert codes(notices) == ["headland-fills-field"]
    assert notices[0].level == "caution"


def test_a_lobe_that_is_all_headland_is_told() -> None:
    lobed = field(box(0, 0, 200, 200).union(box(200, 80, 300, 110)))
    parts, notices = divided(lobed, headland_width_m=24.0)
    assert codes(notices) == ["headland-fills-lobes"]
    assert "1 narrow part of the field" in notices[0].text
    assert area_m2(parts, "body") == pytest.approx(152 * 152, rel=0.02)


def test_corners_are_not_told_of_as_lobes() -> None:
    sharp = field(Polygon([(0, 0), (300, 0), (150, 150)]))
    assert divided(sharp, headland_width_m=12.0)[1] == ()


def test_core_without_a_width_is_the_field() -> None:
    assert core(HOLED, 0.0, round_obstacles=True).equals(HOLED)
