from __future__ import annotations

import math

import pytest
from parts.part_fields import area_m2, codes, divided, layer
from shapely import LineString, Point, box


def test_points_lines_and_areas_as_gateways() -> None:
    gates = layer(Point(100, 150), LineString([(0, 20), (0, 30)]), box(190, 290, 210, 310))
    parts, notices = divided(gateways=gates, gateway_radius_m=8.0)
    disc, bar, drawn = math.pi * 64, math.pi * 32 + 10 * 8, 10 * 10
    assert area_m2(parts, "gateway") == pytest.approx(disc + bar + drawn, rel=2e-3)
    assert notices == ()


def test_a_gateway_across_the_road_still_reaches_the_field() -> None:
    parts, notices = divided(gateways=layer(Point(-6, 150)), gateway_radius_m=20.0)
    assert 0 < area_m2(parts, "gateway") < math.pi * 400 / 2
    assert notices == ()


def test_a_gateway_away_from_the_field_is_told() -> None:
    parts, notices = divided(gateways=layer(Point(-120, 150)), gateway_radius_m=20.0)
    assert parts["part"].tolist() == ["body"]
    assert codes(notices) == ["gateway-off-field"]
    assert "120 m from the field" in notices[0].text


def test_areas_of_one_name_are_one_part() -> None:
    areas = layer(box(0, 0, 20, 20), box(10, 10, 40, 40), box(100, 100, 120, 120), area=["pad"] * 3)
    parts, notices = divided(named=areas)
    assert area_m2(parts, "pad") == pytest.approx(400 + 900 - 100 + 400)
    assert notices == ()


def test_of_two_areas_the_smaller_keeps_the_ground() -> None:
    for order in (1, -1):
        shapes = [box(0, 0, 100, 100), box(90, 90, 120, 120)][::order]
        parts, notices = divided(named=layer(*shapes, area=["hollow", "pad"][::order]))
        assert area_m2(parts, "pad") == pytest.approx(900)
        assert area_m2(parts, "hollow") == pytest.approx(10_000 - 100)
        assert codes(notices) == ["areas-overlap"]
        assert "100 m2" in notices[0].text


def test_areas_are_cut_at_the_outline() -> None:
    parts, notices = divided(
        named=layer(box(-50, -50, 50, 50), box(500, 0, 510, 10), area=["a", "b"])
    )
    assert area_m2(parts, "a") == pytest.approx(2500)
    assert codes(notices) == ["area-outside"]
    assert "b" in notices[0].text


def test_an_area_with_the_name_of_a_part_is_ground_of_it() -> None:
    area = layer(box(50, 50, 100, 100), area=["headland"])
    parts, notices = divided(named=area, headland_width_m=20.0)
    assert parts["part"].tolist() == ["body", "headland"]
    assert area_m2(parts, "headland") == pytest.approx(200 * 300 - 160 * 260 + 2500)
    assert codes(notices) == ["area-joins-part"]


def test_a_body_drawn_over_the_headland_is_body() -> None:
    area = layer(box(0, 0, 50, 50), area=["body"])
    parts, _ = divided(named=area, headland_width_m=20.0)
    assert area_m2(parts, "body") == pytest.approx(160 * 260 + 50 * 50 - 30 * 30)
