from __future__ import annotations

import defusedxml.ElementTree
import pytest
import shapely
from shapely import Point, Polygon

from zoning.outputs.drawing.svg import document, element, path, text


def test_attributes_are_escaped_and_numbers_are_short() -> None:
    made = element("rect", x=1.23456, y=-0.0, width=10.0, stroke_width=0.5, fill='"<&')
    assert made == '<rect x="1.23" y="0" width="10" stroke-width="0.5" fill="&quot;&lt;&amp;"/>'


def test_text_of_a_user_cannot_become_markup() -> None:
    made = document(text("</text><script>x</script>", 0, 0, 3), 10, 10, "<b>&")
    root = defusedxml.ElementTree.fromstring(made)
    space = "{http://www.w3.org/2000/svg}"
    assert [child.tag for child in root] == [f"{space}title", f"{space}text"]
    assert root.find(f"{space}text").text == "</text><script>x</script>"
    assert root.attrib["aria-label"] == "<b>&"


def test_no_styles_and_no_ids() -> None:
    made = document(path(Point(5, 5).buffer(2), fill="#fff"), 10, 10, "A")
    assert not {"style", "id", "class"} & {
        key for e in defusedxml.ElementTree.fromstring(made).iter() for key in e.attrib
    }


def test_holes_and_several_pieces_are_one_path() -> None:
    ring = shapely.box(0, 0, 10, 10) - shapely.box(2, 2, 4, 4)
    made = path(shapely.union_all([ring, shapely.box(20, 0, 30, 10)]), fill="#000")
    assert made.count("<path") == 1
    assert made.count("M") == made.count("Z") == 3


@pytest.mark.parametrize("shape", [Polygon(), Point(1, 1), shapely.GeometryCollection()])
def test_nothing_to_draw_is_nothing(shape: shapely.geometry.base.BaseGeometry) -> None:
    assert path(shape) == ""


def test_lines_stay_open() -> None:
    assert (
        path(shapely.LineString([(0, 0), (1.005, 2)])) == '<path d="M0 0L1 2" fill-rule="evenodd"/>'
    )
