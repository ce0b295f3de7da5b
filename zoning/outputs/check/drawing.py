"""The map of a check: zones by verdict, pits and cone stations by sign, places to dig next."""

from __future__ import annotations

from html import escape

import geopandas as gpd
import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from zoning.contracts import NOT_CLEARED, constant
from zoning.model.check import Check
from zoning.outputs.check.hazards import hazard_marks
from zoning.outputs.check.words import LETTERS, TONES, VERDICTS
from zoning.outputs.drawing.beside import covered, free_box
from zoning.outputs.drawing.frame import Frame, hatching
from zoning.outputs.drawing.labels import inner_point, largest_first, letters_on
from zoning.outputs.drawing.pit_signs import PIT_SIGNS, pit_sign, sign_name
from zoning.outputs.drawing.svg import document, element, path, text

RULES = "check_page_rules"
TAG_MM, LETTER_MM, TAG_GAP_MM = 2.3, 1.6, 2.2
SIGN_MM, LABEL_MM, LINE_MM = 1.8, 2.6, 2.8
PIT_MM, CONE_MM, PEG_MM = 1.3, 1.3, 2.2
STRIP_MM = 13.0
CONES = {"cone no_pan": "cone: no pan", "cone pan": "cone: still a pan"}
SIGNS = {name: sign.words for name, sign in PIT_SIGNS.items()} | CONES


def check_drawing(check: Check, width_mm: float, height_mm: float) -> str:
    """Return the map of a check as SVG text; its key is `check.key`.

    Parameters
    ----------
    check
        The check.
    width_mm, height_mm
        Size of the paper; signs and letters keep their size, so that on small paper they stand
        out more and lie closer.
    """
    frame = Frame.around(check.boundary.bounds, width_mm, height_mm - STRIP_MM)
    labels = _labels(check, frame)
    content = "".join(
        [
            *[_ground(zone, frame) for zone in zones_in_order(check)],
            *hazard_marks(check, frame),
            *[label for label, _ in labels],
            *_probes(check, frame),
            *_pits(check, frame, [ground for _, ground in labels]),
            *_digs(check, frame),
            _scale(frame),
        ]
    )
    title = f"{check.settings.field.name}: what the pits show, north up"
    return document(content, width_mm, frame.height_mm + STRIP_MM, title)


def zones_in_order(check: Check) -> list[dict[str, object]]:
    """Return the zones as rows, by number."""
    return [
        {str(k): v for k, v in row.items()}
        for row in check.zones.sort_values("zone").to_dict("records")
    ]


def shown_verdict(zone: dict[str, object]) -> tuple[str, bool]:
    """Return the verdict that a zone is toned by, and whether it is that of all of its depth."""
    own, depth = str(zone["verdict"]), str(zone["depth_verdict"])
    if own == "cannot_tell" and depth != "cannot_tell":
        return depth, True
    return own, False


def _ground(zone: dict[str, object], frame: Frame) -> str:
    verdict, borrowed = shown_verdict(zone)
    shape = frame.on_paper(_shape(zone))
    told = (
        f"Zone {zone['zone']}, {_depth(zone)}: {VERDICTS[str(zone['verdict'])]}. {_bounds(zone)}"
        f"Pits: {zone['pits']}. All ground at this depth: {VERDICTS[str(zone['depth_verdict'])]}."
    )
    area = path(shape, fill=TONES[verdict], stroke="#14171a", stroke_width=0.25)
    lines = ""
    if verdict in ("lifted_out", "held"):
        rising = verdict == "lifted_out"
        hatch = hatching(shape, constant("drawing_rules", "hatch_mm"), rising=rising)
        lines = path(hatch, fill="none", stroke="#8a8f94", stroke_width=0.15)
    elif borrowed:
        lines = borrowed_mark(shape)
    return element("g", element("title", escape(told)) + area + lines) if area else ""


def borrowed_mark(shape: BaseGeometry) -> str:
    """Return the pale lines on ground whose verdict is that of all ground of its depth."""
    hatch = hatching(shape, constant(RULES, "borrowed_mm"), rising=False)
    return path(hatch, fill="none", stroke="#fff", stroke_width=0.25, stroke_opacity=0.75)


def _shape(zone: dict[str, object]) -> BaseGeometry:
    shape = zone["geometry"]
    if not isinstance(shape, BaseGeometry):
        raise TypeError("a zone has no outline")
    return shape


def _depth(zone: dict[str, object]) -> str:
    depth = float(str(zone["depth_cm"]))
    return f"{depth:g} cm" if depth > 0 else "lifted out"


def _bounds(zone: dict[str, object]) -> str:
    """Return the cap of the hazards about a zone and whether it is cleared, in sentences."""
    cap_cm, mark = float(str(zone["cap_cm"])), str(zone["cleared"])
    cap = f"Hazard near it: no deeper than {cap_cm:g} cm. " if cap_cm > 0 else ""
    return cap + (f"{NOT_CLEARED}. " if mark == NOT_CLEARED else "")


def _labels(check: Check, frame: Frame) -> list[tuple[str, Polygon]]:
    """Return number and letter of each zone that has room for them, with the ground they take."""
    marks = shapely.union_all(_marks(check, frame))
    lines = frame.on_paper(shapely.union_all(check.hazards.geometry.to_numpy()))
    crossed = shapely.union(marks, shapely.buffer(lines, LABEL_MM / 2))
    found = [_label(zone, frame, crossed) for zone in zones_in_order(check)]
    return [(label, ground) for label, ground in found if label]


def _label(zone: dict[str, object], frame: Frame, crossed: BaseGeometry) -> tuple[str, Polygon]:
    parts = largest_first(shapely.difference(frame.on_paper(_shape(zone)), crossed))
    if not parts:
        return "", Polygon()
    spot = inner_point(parts[0])
    room = float(shapely.distance(spot, parts[0].boundary))
    verdict, _ = shown_verdict(zone)
    lines = [f"{zone['zone']}{LETTERS[verdict]}", _depth(zone)]
    lines = lines if _reach_mm(lines) <= room else lines[:1]
    reach = _reach_mm(lines)
    if room < reach:
        return "", Polygon()
    ink = letters_on(TONES[verdict])
    back = element("circle", cx=spot.x, cy=spot.y, r=reach, fill=TONES[verdict])
    first = spot.y + 0.35 * LABEL_MM - 0.5 * LINE_MM * (len(lines) - 1)
    told = [
        text(words, spot.x, first + i * LINE_MM, LABEL_MM, text_anchor="middle", fill=ink)
        for i, words in enumerate(lines)
    ]
    return back + "".join(told), spot.buffer(reach)


def _reach_mm(lines: list[str]) -> float:
    """Return how far lines of letters about a point reach from it [mm]."""
    across, down = max(LETTER_MM * len(line) for line in lines), LINE_MM * len(lines)
    return float(np.hypot(across, down)) / 2


def _marks(check: Check, frame: Frame) -> list[BaseGeometry]:
    """Return the ground of the signs of pits, cone stations and places to dig [mm]."""
    places = [*_places(check.pits, frame), *_places(check.probes, frame)]
    pegs = [shapely.Point(x, y - PEG_MM) for x, y in _places(check.dig_next, frame)]
    signs = [shapely.Point(place).buffer(SIGN_MM) for place in places]
    return [*signs, *[peg.buffer(PEG_MM) for peg in pegs]]


def _places(rows: gpd.GeoDataFrame, frame: Frame) -> list[tuple[float, float]]:
    """Return where points lie on paper [mm]."""
    edge = frame.west_m, frame.north_m
    return [
        ((x - edge[0]) * frame.mm_per_m, (edge[1] - y) * frame.mm_per_m)
        for x, y in rows[["x_m", "y_m"]].to_numpy(dtype=float)
    ]


def _pits(check: Check, frame: Frame, labels: list[Polygon]) -> list[str]:
    places = _places(check.pits, frame)
    facts = zip(check.pits["pit"], check.pits["verdict"], check.pits["reason"], strict=True)
    taken = [*_marks(check, frame), *labels]
    return [
        element(
            "g",
            element("title", escape(f"Pit {pit}: {VERDICTS[verdict]}. {reason}"))
            + sign(sign_name("after", verdict=verdict), *place)
            + _tag(str(pit), place, taken),
        )
        for (pit, verdict, reason), place in zip(facts, places, strict=True)
    ]


def _probes(check: Check, frame: Frame) -> list[str]:
    facts = zip(check.probes["station"], check.probes["verdict"], strict=True)
    return [
        element(
            "g",
            element("title", escape(f"Cone station {station}: {verdict.replace('_', ' ')}"))
            + sign("cone no_pan" if verdict == "no_pan" else "cone pan", *place),
        )
        for (station, verdict), place in zip(facts, _places(check.probes, frame), strict=True)
    ]


def _digs(check: Check, frame: Frame) -> list[str]:
    facts = zip(check.dig_next["order"], check.dig_next["reason"], strict=True)
    return [
        element(
            "g",
            element("title", escape(f"Dig next {order}: {reason}"))
            + sign("dig", *place)
            + text(
                str(order),
                place[0],
                place[1] - PEG_MM + 0.3,
                2.4,
                text_anchor="middle",
                fill="#fff",
            ),
        )
        for (order, reason), place in zip(facts, _places(check.dig_next, frame), strict=True)
    ]


def _tag(words: str, at: tuple[float, float], taken: list[BaseGeometry]) -> str:
    """Return the name of a pit beside its sign; none where it would only cover others."""
    box = free_box(at, (LETTER_MM * len(words), TAG_MM), TAG_GAP_MM, taken)
    if covered(box, taken) > constant(RULES, "tag_covers_most") * box.area:
        return ""
    taken.append(box)
    left, low = (
        box.bounds[0],
        at[1] + 0.8 if box.bounds[1] < at[1] < box.bounds[3] else box.bounds[3],
    )
    halo = text(words, left, low, TAG_MM, fill="#fff", stroke="#fff", stroke_width=0.7)
    return halo + text(words, left, low, TAG_MM)


def sign(name: str, x: float, y: float) -> str:
    """Return the sign of a pit, a cone station or a place to dig; shapes tell them apart."""
    if name not in CONES:
        return pit_sign(name, x, y, PIT_MM)
    fill = "#000" if name == "cone pan" else "#fff"
    disc = element("circle", cx=x, cy=y, r=CONE_MM, fill=fill, stroke="#000", stroke_width=0.35)
    return element("circle", cx=x, cy=y, r=CONE_MM + 0.4, fill="#fff") + disc


def _scale(frame: Frame) -> str:
    """Return scale and north in a strip below the map, where they cover nothing."""
    length_m, top = frame.scale_bar_m(), frame.height_mm
    north, y = frame.width_mm - 6, top + 9
    right = north - 8
    left = right - length_m * frame.mm_per_m
    bar = element("line", x1=left, y1=y, x2=right, y2=y, stroke="#000", stroke_width=0.8)
    arrow = element("path", d=f"M{north:g} {top:g}l2.4 7l-2.4 -1.6l-2.4 1.6z", fill="#000")
    return (
        bar
        + text(f"{length_m:g} m", (left + right) / 2, y - 1.4, 2.8, text_anchor="middle")
        + arrow
        + text("N", north, top + 11, 3.6, text_anchor="middle", font_weight="bold")
    )
