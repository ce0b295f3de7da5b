from __future__ import annotations

from dataclasses import replace

import pyproj
import pytest
from defusedxml import ElementTree
from shapely import Point, box
from survey_drawn import EAST, NORTH, drawn_survey

from zoning.outputs.drawing.frame import Frame
from zoning.outputs.survey.drawing import LETTER_MM, key_words, order_words, survey_drawing

SVG = "{http://www.w3.org/2000/svg}"


def texts(svg: str) -> list[str]:
    return [each.text or "" for each in ElementTree.fromstring(svg).iter(f"{SVG}text")]


def test_every_station_and_pit_is_named() -> None:
    shown = texts(survey_drawing(drawn_survey(), 180, 200))
    for name in ("S01", "S02 P01", "S03", "body", "headland"):
        assert name in shown


def test_pits_are_squares_and_stations_already_there_are_open_circles() -> None:
    root = ElementTree.fromstring(survey_drawing(drawn_survey(taken=5), 180, 200))
    circles = list(root.iter(f"{SVG}circle"))
    assert sum(c.get("r") == "0.7" for c in circles) == 5
    assert sum(c.get("r") == "1.1" for c in circles) == 2
    squares = [r for r in root.iter(f"{SVG}rect") if r.get("width") == "2.6"]
    assert len(squares) == 1


def test_the_key_names_what_is_on_the_map_and_no_more() -> None:
    full = key_words(drawn_survey(taken=2))
    for word in (
        "Dot",
        "Square",
        "Open circle",
        "Dashes",
        "gateway G",
        "Hatched: do not probe or dig",
    ):
        assert word in full
    drawn = drawn_survey()
    beyond = drawn.keep_off.translate(5000)
    for keep_off in (drawn.keep_off.iloc[:0], drawn.keep_off.set_geometry(beyond)):
        proposed = drawn.proposed.assign(pit="").iloc[:1]
        bare = replace(drawn, keep_off=keep_off, proposed=proposed, start=None)
        assert key_words(bare) == "Dot: cone station."


def test_what_the_order_and_the_numbers_mean_stands_below_the_map() -> None:
    later, first = drawn_survey(taken=2), drawn_survey()
    assert "worth most: S02, S01, S03." in order_words(later)
    assert "numbers run along the walk" in order_words(later)
    assert "spread evenly" in order_words(first)
    assert "worth" not in order_words(first)
    for survey in (later, first):
        assert key_words(survey).endswith(order_words(survey))


@pytest.mark.parametrize("name", ["<script>", "A & B", 'the "long" one'])
def test_names_are_text_only(name: str) -> None:
    assert f"Survey of {name}" in survey_drawing_title(name)


def survey_drawing_title(name: str) -> str:
    root = ElementTree.fromstring(survey_drawing(drawn_survey(name=name), 100, 100))
    return str(root.findtext(f"{SVG}title"))


def test_a_start_off_the_map_breaks_nothing() -> None:
    far = replace(drawn_survey(), start=(EAST - 5000.0, NORTH))
    assert "S01" in texts(survey_drawing(far, 180, 200))
    assert "S01" in texts(survey_drawing(replace(far, start=None), 180, 200))


def test_labels_of_stations_close_together_stay_apart() -> None:
    survey = drawn_survey()
    close = [Point(EAST + 60 + 3 * i, NORTH + 80) for i in range(3)]
    root = ElementTree.fromstring(
        survey_drawing(replace(survey, proposed=survey.proposed.set_geometry(close)), 180, 200)
    )
    bold = [t for t in root.iter(f"{SVG}text") if t.get("font-weight") == "bold"]
    boxes = [
        box(x, y - 2.6, x + 1.85 * len(t.text or ""), y)
        for t in bold
        if (t.text or "").startswith("S0")
        for x, y in [(float(t.get("x", "0")), float(t.get("y", "0")))]
    ]
    assert len(boxes) == 3
    for i, one in enumerate(boxes):
        assert all(one.intersection(other).area < 0.1 for other in boxes[i + 1 :])


def test_names_stay_on_the_paper_and_break_no_boundary() -> None:
    survey = drawn_survey()
    east = survey.boundary.bounds[2]
    moved = survey.proposed.assign(pit="P02").set_geometry(
        [Point(east - 1.0 - 0.5 * i, shape.y) for i, shape in enumerate(survey.proposed.geometry)],
        crs=survey.proposed.crs,
    )
    narrow = replace(survey, proposed=moved)
    svg = survey_drawing(narrow, 60, 120)
    frame = Frame.around(survey.boundary.bounds, 60, 100)
    for each in ElementTree.fromstring(svg).iter(f"{SVG}text"):
        if (each.text or "").endswith(" P02"):
            left = float(each.attrib["x"])
            right = left + LETTER_MM * len(each.text or "")
            assert left >= 0
            assert right <= min(60.0, frame.on_paper(survey.boundary).bounds[2])


def test_the_arrow_shows_true_north() -> None:
    """The convergence of the grid by PROJ."""
    survey = drawn_survey()
    at = survey.boundary.centroid
    lonlat = pyproj.Transformer.from_crs(survey.working_crs, "EPSG:4326", always_xy=True)
    found = pyproj.Proj(survey.working_crs).get_factors(*lonlat.transform(at.x, at.y))
    assert abs(found.meridian_convergence) > 0.1
    assert f"rotate({-found.meridian_convergence:.1f} " in survey_drawing(survey, 180, 200)
