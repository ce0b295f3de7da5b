"""The map of a survey: parts of the field in greys, stations by number, the walk as a line."""

from __future__ import annotations

import shapely
from shapely.geometry.base import BaseGeometry

from zoning.model import Survey
from zoning.outputs.drawing.beside import free_box
from zoning.outputs.drawing.frame import Frame, hatching
from zoning.outputs.drawing.legend import gateway_mark, legend, legend_height_mm
from zoning.outputs.drawing.svg import document, element, path, text
from zoning.outputs.places import true_north_deg

# Ground darker the more it has been driven on; the letters on it stay black.
TONES = {
    "body": "#ffffff",
    "named": "#e4e4e4",
    "headland": "#ececec",
    "wheeling": "#bdbdbd",
    "gateway": "#cfcfcf",
}
KEEP_OFF_HATCH_MM = 1.1
NUMBER_MM = 2.6
LETTER_MM = 1.85
MARK_MM = 1.3
GAP_MM = 0.4
OUTLINE_MM = 0.5  # on each side of the boundary, which no name is to break
BEST = 5


def survey_drawing(survey: Survey, width_mm: float, height_mm: float) -> str:
    """Return the map as SVG text.

    Parameters
    ----------
    survey
        The survey.
    width_mm, height_mm
        Size of the paper, legend included; the map is no taller than the field needs.
    """
    tones = _tones(survey)
    below = legend_height_mm(tones, [], width_mm)
    frame = Frame.around(survey.boundary.bounds, width_mm, height_mm - below)
    paper = element("rect", x=0, y=0, width=width_mm, height=frame.height_mm + below, fill="#fff")
    body = "".join(
        [
            *_parts(survey, frame),
            _keep_off(survey, frame),
            path(frame.on_paper(survey.boundary), fill="none", stroke="#000", stroke_width=0.6),
            _walk(survey, frame),
            *_taken(survey, frame),
            *_stations(survey, frame),
        ]
    )
    title = f"Survey of {survey.settings.field.name}"
    north_deg = true_north_deg(survey.boundary.centroid, survey.working_crs)
    key = legend(tones, [], frame, north_deg=north_deg)
    return document(paper + body + key, width_mm, frame.height_mm + below, title)


def hatched(survey: Survey) -> BaseGeometry:
    """Return the ground of the field that is hatched: to be kept off; empty where there is none."""
    return shapely.intersection(
        shapely.union_all(survey.keep_off.geometry.to_numpy()), survey.boundary
    )


def key_words(survey: Survey) -> str:
    """Return what the signs on the map mean: of those that are on it, and no others."""
    pits = survey.proposed["pit"] != ""
    start = "" if survey.start is None else ", from and to the gateway G"
    told = {
        "Dot: cone station.": not pits.all(),
        "Square: cone station and pit.": pits.any(),
        "Open circle: station or pit there already.": len(survey.taken) > 0,
        f"Dashes: the walk, in straight lines{start}.": len(survey.proposed) > 1 or bool(start),
        "Hatched: do not probe or dig there.": not hatched(survey).is_empty,
    }
    signs = " ".join(words for words, there in told.items() if there)
    return f"{signs} {order_words(survey)}".rstrip()


def order_words(survey: Survey) -> str:
    """Return by what the stations were chosen and what their numbers mean; blank for a single."""
    if len(survey.proposed) < 2:
        return ""
    if survey.first:
        return (
            "Stations are shared among the parts by area and spread evenly in each; their numbers "
            "run along the walk."
        )
    best = survey.proposed.sort_values("rank")["station"].tolist()
    return (
        "Stations stand where one more reading is most likely to change a depth, so they lie "
        "closer where the plan is less sure; their numbers run along the walk. If time is short, "
        f"begin with those worth most: {', '.join(best[:BEST])}."
    )


def _tones(survey: Survey) -> dict[str, str]:
    kinds = dict(zip(survey.parts["part"], survey.parts["kind"], strict=True))
    return {str(part): TONES[str(kind)] for part, kind in kinds.items()}


def _parts(survey: Survey, frame: Frame) -> list[str]:
    return [
        path(frame.on_paper(shape), fill=TONES[str(kind)], stroke="#777", stroke_width=0.12)
        for kind, shape in zip(survey.parts["kind"], survey.parts.geometry, strict=True)
    ]


def _keep_off(survey: Survey, frame: Frame) -> str:
    ground = frame.on_paper(hatched(survey))
    lines = hatching(ground, KEEP_OFF_HATCH_MM, rising=False)
    return path(lines, fill="none", stroke="#000", stroke_width=0.15) + path(
        ground, fill="none", stroke="#000", stroke_width=0.2
    )


def _walk(survey: Survey, frame: Frame) -> str:
    xy = [(float(x), float(y)) for x, y in shapely.get_coordinates(list(survey.proposed.geometry))]
    if survey.start is not None:
        xy = [survey.start, *xy, survey.start]
    if len(xy) < 2:
        return ""
    line = path(
        frame.on_paper(shapely.LineString(xy)),
        fill="none",
        stroke="#00429d",
        stroke_width=0.35,
        stroke_dasharray="1.6 1",
    )
    return line + (_start(survey.start, frame) if survey.start is not None else "")


def _start(start: tuple[float, float], frame: Frame) -> str:
    at = _spot(shapely.Point(start), frame)
    return gateway_mark(*at) if at else ""


def _taken(survey: Survey, frame: Frame) -> list[str]:
    spots = [_spot(shape, frame) for shape in survey.taken.geometry]
    return [
        element("circle", cx=at[0], cy=at[1], r=0.7, fill="#fff", stroke="#000", stroke_width=0.25)
        for at in spots
        if at
    ]


def _stations(survey: Survey, frame: Frame) -> list[str]:
    table = survey.proposed
    spots = [_spot(shape, frame) for shape in table.geometry]
    taken = [shapely.Point(at).buffer(MARK_MM) for at in spots if at]
    outline = frame.on_paper(survey.boundary).boundary.buffer(OUTLINE_MM)
    ground = frame.on_paper(hatched(survey))
    marks, labels = [], []
    for name, pit, at in zip(table["station"], table["pit"], spots, strict=True):
        if not at:
            continue
        x, y = at
        if pit:
            marks.append(element("rect", x=x - 1.3, y=y - 1.3, width=2.6, height=2.6, fill="#000"))
        else:
            marks.append(element("circle", cx=x, cy=y, r=1.1, fill="#000"))
        shown = f"{name} {pit}" if pit else str(name)
        size = (LETTER_MM * len(shown), NUMBER_MM)
        box = free_box(at, size, MARK_MM + GAP_MM, [outline, ground, *taken], frame.paper)
        taken.append(box)
        left, bottom = box.bounds[0], box.bounds[3]
        labels.append(text(shown, left, bottom, NUMBER_MM, stroke="#fff", stroke_width=0.8))
        labels.append(text(shown, left, bottom, NUMBER_MM, font_weight="bold"))
    return [*marks, *labels]


def _spot(shape: BaseGeometry, frame: Frame) -> tuple[float, float] | None:
    """Return a point on paper, ``None`` where it lies off the map."""
    spots = shapely.get_coordinates(frame.on_paper(shape))
    return (float(spots[0, 0]), float(spots[0, 1])) if len(spots) else None
