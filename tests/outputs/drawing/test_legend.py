from __future__ import annotations

import re

import pytest
import shapely
import shapely.affinity

from zoning.outputs.drawing.frame import Frame
from zoning.outputs.drawing.legend import (
    far_ground,
    gateway_mark,
    hazard_mark,
    legend,
    legend_height_mm,
)

FRAME = Frame.around((0, 0, 200, 100), 186, 120)
LINE = shapely.LineString([(0, 0), (12, 0)])


def test_tones_stand_beside_their_words() -> None:
    made = legend({"30 cm | 11.8 in": "#fee838", "legs lifted out": ""}, [], FRAME)
    assert "30 cm | 11.8 in" in made
    assert 'fill="#fee838"' in made
    assert "legs lifted out" in made
    assert ">N<" in made


def test_depths_and_pins_are_larger_than_the_signs() -> None:
    made = legend({"30 cm | 11.8 in | pin 7 (assumed) | NC": "#fee838"}, ["drain"], FRAME)
    depth, sign = (
        float(re.search(rf'font-size="([\d.]+)"[^>]*>{words}', made)[1])
        for words in ("30 cm", "drain")
    )
    assert depth > sign >= 2.8  # 8 point
    lines = [legend_height_mm({f"{i} cm | pin {i}": "#000" for i in range(n)}, [], 186)
             for n in (2, 3)]  # fmt: skip
    assert lines[0] < lines[1]  # two beside each other


@pytest.mark.parametrize("north_deg", [-2.4, 0.0, 1.2])
def test_the_arrow_is_turned_to_true_north_and_its_letter_stays_upright(north_deg: float) -> None:
    made = legend({"30 cm": "#fee838"}, [], FRAME, north_deg=north_deg)
    turns = re.findall(r'fill="#000" transform="rotate\(([\d.-]+) ', made)
    assert turns == ([f"{north_deg}"] if north_deg else [])
    assert re.search(r"<text[^>]*rotate[^>]*>N<", made) is None


def test_only_signs_that_are_used_are_explained() -> None:
    made = legend({"30 cm": "#fee838"}, ["drain", "NOT CLEARED"], FRAME)
    assert "drain" in made
    assert "NOT CLEARED at this depth" in made
    assert "gateway" not in made
    assert "lifted" not in made


def test_scale_bar_has_its_length() -> None:
    # 200 m on 186 mm less 10: 0.88 mm a metre; a quarter of the width is 52.8 m: 50 m, 44 mm
    made = legend({"30 cm": "#fee838"}, [], FRAME)
    assert 'width="44"' in made
    assert ">50 m<" in made


def test_more_entries_need_more_lines() -> None:
    few = legend_height_mm({"30 cm": "#000"}, [], 186)
    assert few < legend_height_mm({f"{i} cm": "#000" for i in range(12)}, [], 186)
    assert few < legend_height_mm({"30 cm": "#000"}, ["drain"] * 10, 186)


@pytest.mark.parametrize(
    ("kind", "sign"), [("drain", "stroke-dasharray"), ("service", "L"), ("obstacle", "stroke")]
)
def test_each_kind_of_line_has_its_own_look(kind: str, sign: str) -> None:
    others = {
        hazard_mark(other, LINE) for other in ("drain", "service", "obstacle") if other != kind
    }
    assert sign in hazard_mark(kind, LINE)
    assert hazard_mark(kind, LINE) not in others


def test_service_ticks_cross_the_line_every_three_millimetres() -> None:
    # 12 mm: ticks at 1, 4, 7, 10 and at the end
    assert hazard_mark("service", LINE).split("<path")[-1].count("M") == 5


def test_a_point_is_marked_whatever_its_kind() -> None:
    for kind, own in (("drain", ">D<"), ("service", ">S<"), ("obstacle", ">!<")):
        assert own in hazard_mark(kind, shapely.Point(3, 3))
        assert own in hazard_mark(kind, shapely.MultiPoint([(3, 3), (9, 3)]))


@pytest.mark.parametrize("turn_deg", [0.0, 17.0, 44.0, 45.0, 46.0, 90.0])
def test_dots_of_ground_without_a_station_near_never_touch(turn_deg: float) -> None:
    strip = shapely.affinity.rotate(shapely.box(50, 50, 54, 120), turn_deg)
    drawn = far_ground(strip) + far_ground(shapely.box(20, 20, 20.5, 20.5))  # a dot all the same
    at = re.findall(r"M([\d.]+) ([\d.]+)L", drawn)
    spots = shapely.points(sorted({(float(x), float(y)) for x, y in at}))
    assert len(spots) > 10
    assert shapely.dwithin(shapely.union(strip, shapely.box(20, 20, 20.5, 20.5)), spots, 0.01).all()
    apart = [one.distance(other) for i, one in enumerate(spots) for other in spots[:i]]
    assert min(apart) > 3.4


def test_gateway_is_a_letter_on_a_disc() -> None:
    assert ">G<" in gateway_mark(10, 10)
