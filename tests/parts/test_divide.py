from __future__ import annotations

import json
import math

import jsonschema
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from open_parcels import SAMPLE, parcel
from parts.part_fields import (
    EAST,
    NORTH,
    area_m2,
    at,
    codes,
    divided,
    field,
    layer,
)
from shapely import LineString, MultiPolygon, Point, Polygon, affinity, box

from zoning.contracts import shared
from zoning.model.settings import WheelingsSection

LINE = WheelingsSection(width_m=4.0, lines="wheelings.geojson")


def test_a_field_without_areas_is_all_body() -> None:
    parts, notices = divided()
    assert parts["part"].tolist() == ["body"]
    assert parts["area_ha"].tolist() == pytest.approx([6.0])
    assert notices == ()


def test_headland_and_body_of_a_rectangle() -> None:
    parts, notices = divided(headland_width_m=24.0)
    assert area_m2(parts, "body") == pytest.approx(152 * 252)
    assert area_m2(parts, "headland") == pytest.approx(200 * 300 - 152 * 252)
    assert notices == ()


def test_a_wheeling_drawn_through_the_headland_outranks_it() -> None:
    line = layer(LineString([(100, -10), (100, 310)]))
    parts, _ = divided(lines=line, headland_width_m=24.0, wheelings=LINE)
    assert area_m2(parts, "wheeling") == pytest.approx(4 * 300)
    assert area_m2(parts, "body") == pytest.approx(152 * 252 - 4 * 252)


@pytest.mark.parametrize(
    ("north_m", "name", "told"),
    [(150, "wet hollow", True), (29, "wet hollow", False), (150, "body", False)],
)
def test_a_named_area_that_takes_a_good_share_of_the_wheelings_is_told(
    north_m: float, name: str, told: bool
) -> None:
    line = layer(LineString([(100, -10), (100, 310)]))
    area = layer(box(0, 0, 200, north_m), area=[name])
    parts, notices = divided(lines=line, named=area, wheelings=LINE)
    assert area_m2(parts, "wheeling") == pytest.approx(4 * (300 - north_m))
    words = "0.06 ha of the wheelings lie in the named area wet hollow and count as wet hollow"
    assert [each.text.startswith(words) for each in notices if "takes" in each.code] == [
        True
    ] * told


def test_a_wheeling_by_rule_ends_at_the_headland() -> None:
    rule = WheelingsSection(width_m=4.0, spacing_m=40.0, offset_m=20.0)
    parts, _ = divided(headland_width_m=24.0, wheelings=rule)
    # Middles at 20, 60, 100, 140 and 180 m; the body spans 24 to 176 m across.
    assert area_m2(parts, "wheeling") == pytest.approx(3 * 4 * 252)


def test_a_gateway_in_the_headland_is_gateway() -> None:
    parts, _ = divided(gateways=layer(Point(0, 150)), gateway_radius_m=20.0, headland_width_m=24.0)
    half_disc = math.pi * 20**2 / 2
    assert area_m2(parts, "gateway") == pytest.approx(half_disc, rel=2e-3)
    assert area_m2(parts, "body") == pytest.approx(152 * 252)


def test_a_gateway_outranks_the_wheeling_that_leads_to_it() -> None:
    line = layer(LineString([(0, 150), (200, 150)]))
    parts, _ = divided(
        lines=line, gateways=layer(box(-5, 140, 10, 160)), headland_width_m=24.0, wheelings=LINE
    )
    assert area_m2(parts, "gateway") == pytest.approx(10 * 20)
    assert area_m2(parts, "wheeling") == pytest.approx(4 * 190)


def test_a_named_area_outranks_all() -> None:
    parts, _ = divided(
        named=layer(box(0, 100, 200, 200), area=["wet hollow"]), gateways=layer(Point(0, 150)),
        lines=layer(LineString([(100, 0), (100, 300)])), headland_width_m=24.0, wheelings=LINE,
    )  # fmt: skip
    assert area_m2(parts, "wet hollow") == pytest.approx(200 * 100)
    assert area_m2(parts, "wheeling") == pytest.approx(4 * 200)
    assert "gateway" not in set(parts["part"])
    assert parts["part"].tolist() == ["body", "headland", "wheeling", "wet hollow"]
    assert parts["kind"].tolist() == ["body", "headland", "wheeling", "named"]


def test_rows_follow_the_schema() -> None:
    parts, _ = divided(named=layer(box(0, 0, 50, 50), area=["clamp"]), headland_width_m=24.0)
    schema = json.loads(shared("schemas", "parts.schema.json").read_text(encoding="utf-8"))
    for row, shape in zip(
        parts.drop(columns="geometry").to_dict("records"), parts.geometry, strict=True
    ):
        jsonschema.validate(row | {"geometry": shape.geom_type}, schema)


def test_the_order_of_rows_does_not_matter() -> None:
    shapes, names = (
        [box(10, 10, 90, 90), box(50, 50, 70, 70), box(60, 60, 200, 200)],
        ["a", "b", "c"],
    )
    one, _ = divided(named=layer(*shapes, area=names), headland_width_m=12.0)
    two, _ = divided(named=layer(*shapes[::-1], area=names[::-1]), headland_width_m=12.0)
    assert shapely.equals(one.geometry.to_numpy(), two.geometry.to_numpy()).all()
    assert one.drop(columns="geometry").equals(two.drop(columns="geometry"))


def test_the_crs_is_kept() -> None:
    parts, _ = divided(gateways=layer(Point(0, 150)).set_crs(32630))
    assert parts.crs.to_epsg() == 32630


@st.composite
def rough_fields(draw: st.DrawFn) -> MultiPolygon:
    n = draw(st.integers(3, 10))
    radius = [draw(st.floats(20, 150)) for _ in range(n)]
    ring = [
        (r * math.cos(2 * math.pi * i / n), r * math.sin(2 * math.pi * i / n))
        for i, r in enumerate(radius)
    ]
    shape = Polygon(ring).difference(
        Point(draw(st.floats(-40, 40)), 10).buffer(draw(st.floats(1, 15)))
    )
    more = [box(170, -30, 170 + draw(st.floats(2, 80)), 60)] if draw(st.booleans()) else []
    return field(*shapely.get_parts(shape), *more)


@settings(max_examples=40, deadline=None)
@given(boundary=rough_fields(), data=st.data())
def test_any_field_is_divided_exactly(boundary: MultiPolygon, data: st.DataObject) -> None:
    place = st.tuples(st.floats(-150, 250), st.floats(-150, 150))
    number = st.floats(1, 60)
    named = [
        Point(data.draw(place)).buffer(data.draw(number))
        for _ in range(data.draw(st.integers(0, 3)))
    ]
    lines = [
        LineString([data.draw(place), data.draw(place)])
        for _ in range(data.draw(st.integers(0, 2)))
    ]
    drawn = bool(lines)
    rule = WheelingsSection(width_m=3.0, spacing_m=None if drawn else data.draw(st.floats(4, 40)))
    divided(  # asserts the partition
        boundary, named=layer(*named, area=["a", "b", "c"][: len(named)]), lines=layer(*lines),
        gateways=layer(Point(data.draw(place))), gateway_radius_m=data.draw(number),
        headland_width_m=data.draw(st.floats(0, 60)), wheelings=rule,
        headland_round_obstacles=data.draw(st.booleans()),
        heading_deg=data.draw(st.floats(-180, 180)),
    )  # fmt: skip


@settings(max_examples=15, deadline=None)
@given(turn=st.floats(-180, 180), east=st.floats(-9e4, 9e4))
def test_parts_move_and_turn_with_the_field(turn: float, east: float) -> None:
    shape = Polygon([(0, 0), (180, 20), (150, 130), (90, 90), (20, 160)])
    rule = WheelingsSection(width_m=3.0, spacing_m=21.0, offset_m=7.0)

    def areas(angle: float, shift: float) -> np.ndarray:
        moved = affinity.translate(affinity.rotate(shape, -angle, origin=(0, 0)), shift, 0)
        gate = affinity.translate(affinity.rotate(Point(0, 0), -angle, origin=(0, 0)), shift, 0)
        parts, _ = divided(
            field(moved), gateways=layer(gate), wheelings=rule, headland_width_m=12.0,
            heading_deg=30.0 + angle,
        )  # fmt: skip
        return parts["area_ha"].to_numpy() * 1e4

    assert np.allclose(areas(0.0, 0.0), areas(turn, east), atol=0.5)


@pytest.mark.parametrize("name", SAMPLE)
def test_real_parcels_are_divided_exactly(name: str) -> None:
    """Real parcels (see `open_parcels` for the source): parts cover each of them once."""
    boundary = affinity.translate(parcel(name).boundary, -EAST, -NORTH)
    ring = boundary.geoms[0].exterior
    west, south, east, north = boundary.bounds
    parts, _ = divided(
        MultiPolygon([at(part) for part in boundary.geoms]),
        gateways=layer(ring.interpolate(0.3, normalized=True)),
        named=layer(LineString([(west, south), (east, north)]).buffer(4), area=["old track"]),
        wheelings=WheelingsSection(width_m=3.0, spacing_m=24.0, offset_m=12.0),
        headland_width_m=18.0, headland_round_obstacles=True, heading_deg=17.0,
    )  # fmt: skip
    assert {"headland", "gateway"} <= set(parts["part"])


def test_nothing_given_as_wheelings_is_told() -> None:
    _, notices = divided(wheelings=WheelingsSection(width_m=3.0))
    assert codes(notices) == ["wheelings-not-placed"]
