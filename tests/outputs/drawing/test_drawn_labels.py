"""Labels as drawn: letters over everything else, lines beneath, nothing runs through letters."""

from __future__ import annotations

import re

import pytest
import shapely
from shapely import Point, affinity

from zoning.outputs.drawing.drawn_labels import all_drawn, drawn
from zoning.outputs.drawing.labels import Labels

PAPER = shapely.box(0, 0, 180, 120)
LEAST, LEAST_ALONG = 0.65, 0.5


def test_lines_lie_beneath_every_label() -> None:
    labels = Labels(PAPER)
    labels.put_beside(Point(90, 60), "7", "25 cm")
    (label,) = labels.placed
    assert "<line" not in drawn(label)
    assert all_drawn(labels).index("<line") < all_drawn(labels).index("<text")
    assert "<path" in drawn(label)


def test_signs_lie_over_lines_and_beneath_letters() -> None:
    labels = Labels(PAPER)
    labels.put_beside(Point(90, 60), "7", "25 cm")
    svg = all_drawn(labels, "<sign/>")
    assert svg.index("<line") < svg.index("<sign/>") < svg.index("<text")


@pytest.mark.parametrize("angle", [0.0, 30.0, 90.0])
def test_a_label_along_a_strip_is_turned_with_it(angle: float) -> None:
    labels = Labels(shapely.box(-100, -100, 300, 300))
    strip = affinity.rotate(shapely.box(40, 58, 140, 61.2), angle)
    labels.put_along(strip, "7: 32.5 cm", "#00224e", LEAST_ALONG)
    assert ("rotate(" in drawn(labels.placed[0])) is (angle != 0)


def test_neither_passes_nor_hatching_run_through_letters() -> None:
    for tone, behind in (("", "#ffffff"), ("#fee838", "#fee838")):
        labels = Labels(PAPER)
        labels.put_inside(shapely.box(20, 20, 80, 60), "1", "30 cm", tone, LEAST)
        assert re.search(f'<path[^>]* fill="{behind}"[^>]*/><text', drawn(labels.placed[0]))


def test_a_line_to_a_zone_ends_in_a_dot_and_one_to_a_hazard_does_not() -> None:
    labels = Labels(PAPER)
    labels.put_beside(Point(90, 60), "7", "", "#00224e")
    labels.put_beside(Point(40, 60), "8", "25 cm")
    labels.put_tags({"H1": Point(20, 20)})
    assert all_drawn(labels).count("<circle") == 2
