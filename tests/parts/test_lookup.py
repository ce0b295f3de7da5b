from __future__ import annotations

import numpy as np
import shapely
from parts.part_fields import RECTANGLE, divided, layer
from shapely import LineString, Point, box

from zoning.model.settings import WheelingsSection
from zoning.parts import part_of

HERE = np.array([500_000.0, 5_500_000.0])


def parts_of_a_field():
    return divided(
        gateways=layer(Point(0, 150)), named=layer(box(150, 250, 200, 300), area=["pad"]),
        lines=layer(LineString([(100, -10), (100, 310)])), headland_width_m=24.0,
        wheelings=WheelingsSection(width_m=4.0),
    )[0]  # fmt: skip


def names(*places: tuple[float, float]) -> list[str]:
    return part_of(parts_of_a_field(), HERE + np.array(places)).tolist()


def test_places_inside() -> None:
    places = [(50, 150), (100, 150), (100, 5), (5, 150), (199, 299), (190, 100)]
    assert names(*places) == ["body", "wheeling", "wheeling", "gateway", "pad", "headland"]


def test_edges_go_to_the_higher_part() -> None:
    assert names((24, 100), (98, 150), (98, 10), (150, 270)) == [
        "headland",
        "wheeling",
        "wheeling",
        "pad",
    ]


def test_of_two_named_areas_the_smaller_has_the_edge() -> None:
    parts, _ = divided(named=layer(box(0, 0, 100, 100), box(100, 0, 130, 40), area=["a", "b"]))
    assert part_of(parts, HERE + np.array([[100.0, 20.0]])).tolist() == ["b"]


def test_places_outside_go_to_the_nearest_part() -> None:
    assert names((-3, 150), (100, 310), (205, 295), (205, 100)) == [
        "gateway",
        "wheeling",
        "pad",
        "headland",
    ]


def test_each_place_lies_in_the_part_named() -> None:
    parts = parts_of_a_field()
    xy = HERE + np.random.default_rng(2).uniform([0, 0], [200, 300], (3000, 2))
    shape = dict(zip(parts["part"], parts.geometry, strict=True))
    found = part_of(parts, xy)
    inside = [
        shape[name].intersects(point) for name, point in zip(found, shapely.points(xy), strict=True)
    ]
    assert all(inside)
    assert RECTANGLE.area == sum(one.area for one in shape.values())


def test_no_places_no_names() -> None:
    assert part_of(parts_of_a_field(), np.empty((0, 2))).tolist() == []
