"""The map of a check: zones by verdict, pits and cone stations by sign, places to dig next."""

from __future__ import annotations

import re
from html import escape

import numpy as np
import pandas as pd
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from zoning.contracts import NOT_CLEARED, constant
from zoning.model.check import Check
from zoning.outputs.check.hazards import hazard_marks
from zoning.outputs.check.pegs import PIT_MM, SIGN_MM, Spot, peg_ground, peg_tips, pegs
from zoning.outputs.check.tables import zone_words
from zoning.outputs.check.words import LEFT, LETTERS, TONES, VERDICTS
from zoning.outputs.drawing.beside import covered, free_box
from zoning.outputs.drawing.frame import Frame, hatching
from zoning.outputs.drawing.labels import inner_point, largest_first, letters_on
from zoning.outputs.drawing.legend import north_mark
from zoning.outputs.drawing.pit_signs import PIT_SIGNS, pit_sign, sign_name
from zoning.outputs.drawing.svg import document, element, path, text
from zoning.outputs.places import true_north_deg
from zoning.units import as_number

RULES = "check_page_rules"
TAG_MM, LETTER_MM, TAG_GAP_MM = 2.3, 1.6, 2.2
LABEL_MM, LINE_MM = 2.6, 2.8
CONE_MM, QUIET_MM, BEFORE_MM, BESIDE_MM = 1.3, 0.75, 1.0, 2.7
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
    digs, before = _places(check.dig_next, frame), _before(check, frame)
    signs = [*_signs(check, frame), *[shapely.Point(spot).buffer(BEFORE_MM) for *_, spot in before]]
    tips = peg_tips(digs, signs, shapely.box(0, 0, frame.width_mm, frame.height_mm))
    marks = [*signs, *map(peg_ground, tips)]
    labels = _labels(check, frame, marks)
    taken = [*marks, *[ground for _, ground in labels]]
    content = "".join(
        [
            *[_ground(check, zone, frame) for zone in zones_in_order(check)],
            *hazard_marks(check, frame, marks),
            *[label for label, _ in labels],
            *pegs(check.dig_next, digs, tips),
            *[quiet_sign(name, *spot, told) for name, told, spot in before],
            *_probes(check, frame, taken),
            *_pits(check, frame, taken),
            _scale(frame, true_north_deg(check.boundary.centroid, check.working_crs)),
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


def _ground(check: Check, zone: dict[str, object], frame: Frame) -> str:
    verdict, borrowed = shown_verdict(zone)
    shape = frame.on_paper(_shape(zone))
    told = (
        f"Zone {zone['zone']}, {_depth(zone)}: {zone_words(check, zone)}. {_bounds(zone)}"
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
    depth = as_number(zone["depth_cm"])
    return f"{depth:g} cm" if depth > 0 else "lifted out"


def _bounds(zone: dict[str, object]) -> str:
    """Return the cap of the hazards about a zone and whether it is cleared, in sentences."""
    cap_cm, mark = as_number(zone["cap_cm"]), str(zone["cleared"])
    cap = f"Hazard near it: no deeper than {cap_cm:g} cm. " if cap_cm > 0 else ""
    return cap + (f"{NOT_CLEARED}. " if mark == NOT_CLEARED else "")


def _labels(check: Check, frame: Frame, signs: list[BaseGeometry]) -> list[tuple[str, Polygon]]:
    """Return number and letter of each zone that has room for them, with the ground they take."""
    marks = shapely.union_all(signs)
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
    number, depth = f"{zone['zone']}{LETTERS[verdict]}", _depth(zone)
    told = ([number, depth], [number, depth.removesuffix(" cm")], [number])
    lines = next((lines for lines in told if _reach_mm(lines) <= room), [])
    if not lines:
        return "", Polygon()
    reach = _reach_mm(lines)
    ink = letters_on(TONES[verdict])
    back = element("circle", cx=spot.x, cy=spot.y, r=reach, fill=TONES[verdict])
    first = spot.y + 0.35 * LABEL_MM - 0.5 * LINE_MM * (len(lines) - 1)
    drawn = [
        text(words, spot.x, first + i * LINE_MM, LABEL_MM, text_anchor="middle", fill=ink)
        for i, words in enumerate(lines)
    ]
    return back + "".join(drawn), spot.buffer(reach)


def _reach_mm(lines: list[str]) -> float:
    """Return how far lines of letters about a point reach from it [mm]."""
    across, down = max(LETTER_MM * len(line) for line in lines), LINE_MM * len(lines)
    return float(np.hypot(across, down)) / 2


def _signs(check: Check, frame: Frame) -> list[BaseGeometry]:
    """Return the ground of the signs of pits after the work and of cone stations [mm]."""
    places = [*_places(check.pits, frame), *_places(check.probes, frame)]
    return [shapely.Point(place).buffer(SIGN_MM) for place in places]


def before_pits(check: Check) -> pd.DataFrame:
    """Return the pits that were dug before the work."""
    pits = check.inputs.pits
    return pits[pits["phase"] == "before"] if len(pits) else pits


def _before(check: Check, frame: Frame) -> list[tuple[str, str, Spot]]:
    """Return sign, words and place of each pit before the work, beside what was dug there after."""
    held = _signs(check, frame)
    found = []
    for pit, place in zip(
        before_pits(check).to_dict("records"), _places(before_pits(check), frame), strict=True
    ):
        moves = ((0.0, 0.0), (-BESIDE_MM, 0.0), (BESIDE_MM, 0.0), (0.0, BESIDE_MM))
        spots = [(place[0] + across, place[1] + down) for across, down in moves]
        spot = min(spots, key=lambda at: round(covered(_round(at), held), 3))
        held.append(_round(spot))
        told = f"Before the work: pit {pit['pit']} {pit['date']}".rstrip()
        found.append((sign_name("before", str(pit["pan"])), told, spot))
    return found


def _round(at: Spot) -> Polygon:
    return shapely.Point(at).buffer(BEFORE_MM)


def quiet_sign(name: str, x: float, y: float, told: str = "") -> str:
    """Return a pit before the work: small and pale, so that those after it stand out."""
    title = element("title", escape(told)) if told else ""
    return element("g", title + pit_sign(name, x, y, QUIET_MM), opacity=0.6)


def _places(rows: pd.DataFrame, frame: Frame) -> list[Spot]:
    """Return where points lie on paper [mm]."""
    if rows.empty:
        return []
    edge = frame.west_m, frame.north_m
    return [
        ((x - edge[0]) * frame.mm_per_m, (edge[1] - y) * frame.mm_per_m)
        for x, y in rows[["x_m", "y_m"]].to_numpy(dtype=float)
    ]


def _pits(check: Check, frame: Frame, taken: list[BaseGeometry]) -> list[str]:
    """Return the pits, the worse verdict over the better, and named before it."""
    told = check.pits["verdict"]
    ranks = [LEFT.index(one) if one in LEFT else len(LEFT) for one in told]
    held = check.pits.iloc[np.argsort(ranks, kind="stable")]
    places = _places(held, frame)
    facts = zip(held["pit"], held["verdict"], held["reason"], strict=True)
    drawn = [
        element(
            "g",
            element("title", escape(f"Pit {pit}: {VERDICTS[verdict]}. {reason}"))
            + sign(sign_name("after", verdict=verdict), *place)
            + _tag(str(pit), place, taken),
        )
        for (pit, verdict, reason), place in zip(facts, places, strict=True)
    ]
    return drawn[::-1]


def _probes(check: Check, frame: Frame, taken: list[BaseGeometry]) -> list[str]:
    """Return the cone stations; those that a place to dig next names bear their names."""
    facts = zip(check.probes["station"], check.probes["verdict"], strict=True)
    asked = " ".join(check.dig_next["reason"])
    return [
        element(
            "g",
            element("title", escape(f"Cone station {station}: {verdict.replace('_', ' ')}"))
            + sign("cone no_pan" if verdict == "no_pan" else "cone pan", *place)
            + (_tag(str(station), place, taken, most=1.0) if _named(station, asked) else ""),
        )
        for (station, verdict), place in zip(facts, _places(check.probes, frame), strict=True)
    ]


def _named(station: object, words: str) -> bool:
    return bool(re.search(rf"station {re.escape(str(station))}(?!\w)", words))


def _tag(words: str, at: Spot, taken: list[BaseGeometry], *, most: float | None = None) -> str:
    """Return a name beside its sign; none where more than `most` of it would cover others."""
    most = constant(RULES, "tag_covers_most") if most is None else most
    box = free_box(at, (LETTER_MM * len(words), TAG_MM), TAG_GAP_MM, taken)
    if covered(box, taken) > most * box.area:
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


def _scale(frame: Frame, north_deg: float) -> str:
    """Return scale and true north in a strip below the map, where they cover nothing."""
    length_m, top = frame.scale_bar_m(), frame.height_mm
    north, y = frame.width_mm - 6, top + 9
    right = north - 8
    left = right - length_m * frame.mm_per_m
    bar = element("line", x1=left, y1=y, x2=right, y2=y, stroke="#000", stroke_width=0.8)
    return (
        bar
        + text(f"{length_m:g} m", (left + right) / 2, y - 1.4, 2.8, text_anchor="middle")
        + north_mark(north, top, north_deg)
    )
