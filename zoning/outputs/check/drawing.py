"""The map of a check: zones by verdict, pits and cone stations by sign, places to dig next."""

from __future__ import annotations

from html import escape

import geopandas as gpd
import shapely
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant
from zoning.model.check import Check
from zoning.outputs.check.words import GROUND, LETTERS, TONES, VERDICTS
from zoning.outputs.drawing.frame import Frame, hatching
from zoning.outputs.drawing.labels import inner_point, largest_first, letters_on
from zoning.outputs.drawing.legend import hazard_mark
from zoning.outputs.drawing.svg import document, element, path, text

RULES = "check_page_rules"
SIGNS = {
    "reached": "pit: reached",
    "too_deep": "pit: reached, too deep",
    "leg_only": "pit: at the leg only",
    "not_reached": "pit: not reached",
    "leg_passed": "pit: between not seen",
    "not_judged": "pit: not judged",
    "no_pan": "cone: no pan",
    "pan": "cone: still a pan",
    "dig": "dig here next",
}


def check_drawing(check: Check) -> str:
    """Return the map of a check as SVG text, legend included."""
    width = constant(RULES, "map_width_mm")
    frame = Frame.around(check.boundary.bounds, width, constant(RULES, "map_height_mm"))
    content = "".join(
        [
            *[_ground(zone, frame) for zone in _zones(check)],
            *_hazards(check, frame),
            *[_label(zone, frame) for zone in _zones(check)],
            *_probes(check, frame),
            *_pits(check, frame),
            *_digs(check, frame),
            _scale(frame),
            _legend(check, frame.height_mm),
        ]
    )
    height = frame.height_mm + constant(RULES, "legend_mm") * (_rows(check) + 1)
    title = f"{check.settings.field.name}: what the pits show, north up"
    return document(content, width, height, title)


def _zones(check: Check) -> list[dict[str, object]]:
    return [
        {str(k): v for k, v in row.items()}
        for row in check.zones.sort_values("zone").to_dict("records")
    ]


def _shown(zone: dict[str, object]) -> tuple[str, bool]:
    """Return the verdict that a zone is toned by, and whether it is that of all of its depth."""
    own, depth = str(zone["verdict"]), str(zone["depth_verdict"])
    if own == "cannot_tell" and depth != "cannot_tell":
        return depth, True
    return own, False


def _ground(zone: dict[str, object], frame: Frame) -> str:
    verdict, borrowed = _shown(zone)
    shape = frame.on_paper(_shape(zone))
    told = (
        f"Zone {zone['zone']}, {_depth(zone)}: {VERDICTS[str(zone['verdict'])]}. "
        f"Pits: {zone['pits']}. All ground at this depth: {VERDICTS[str(zone['depth_verdict'])]}."
    )
    area = path(shape, fill=TONES[verdict], stroke="#14171a", stroke_width=0.25)
    lines = ""
    if verdict == "lifted_out":
        hatch = hatching(shape, constant("drawing_rules", "hatch_mm"), rising=True)
        lines = path(hatch, fill="none", stroke="#8a8f94", stroke_width=0.15)
    elif borrowed:
        hatch = hatching(shape, constant("drawing_rules", "hatch_mm"), rising=False)
        lines = path(hatch, fill="none", stroke="#fff", stroke_width=0.5)
    return element("g", element("title", escape(told)) + area + lines) if area else ""


def _hazards(check: Check, frame: Frame) -> list[str]:
    """Return the hazards where they lie in the field or near it: whoever digs must see them."""
    near = check.boundary.buffer(constant(RULES, "hazard_beyond_mm") / frame.mm_per_m)
    shapes = shapely.intersection(check.hazards.geometry.to_numpy(), near)
    kinds = check.hazards["kind"].to_numpy(dtype=str)
    return [
        element(
            "g",
            element("title", f"{kind.capitalize()}: keep off with the spade")
            + hazard_mark(kind, frame.on_paper(shapely.union_all(shapes[kinds == kind]))),
        )
        for kind in sorted(set(kinds[~shapely.is_empty(shapes)].tolist()))
    ]


def _shape(zone: dict[str, object]) -> BaseGeometry:
    shape = zone["geometry"]
    if not isinstance(shape, BaseGeometry):
        raise TypeError("a zone has no outline")
    return shape


def _depth(zone: dict[str, object]) -> str:
    depth = float(str(zone["depth_cm"]))
    return f"{depth:g} cm" if depth > 0 else "lifted out"


def _label(zone: dict[str, object], frame: Frame) -> str:
    """Return number and letter of a zone where its ground has room for them."""
    parts = largest_first(frame.on_paper(_shape(zone)))
    if not parts:
        return ""
    spot = inner_point(parts[0])
    room = float(shapely.distance(spot, parts[0].exterior))
    if room < constant(RULES, "label_room_mm"):
        return ""
    verdict, _ = _shown(zone)
    ink = letters_on(TONES[verdict])
    back = element("circle", cx=spot.x, cy=spot.y, r=2.6, fill=TONES[verdict])
    words = f"{zone['zone']}{LETTERS[verdict]}"
    return back + text(words, spot.x, spot.y + 0.9, 2.6, text_anchor="middle", fill=ink)


def _places(rows: gpd.GeoDataFrame, frame: Frame) -> list[tuple[float, float]]:
    """Return where points lie on paper [mm]."""
    edge = frame.west_m, frame.north_m
    return [
        ((x - edge[0]) * frame.mm_per_m, (edge[1] - y) * frame.mm_per_m)
        for x, y in rows[["x_m", "y_m"]].to_numpy(dtype=float)
    ]


def _pits(check: Check, frame: Frame) -> list[str]:
    facts = zip(check.pits["pit"], check.pits["verdict"], check.pits["reason"], strict=True)
    return [
        element(
            "g",
            element("title", escape(f"Pit {pit}: {VERDICTS[verdict]}. {reason}"))
            + sign(verdict, *place)
            + _tag(str(pit), *place),
        )
        for (pit, verdict, reason), place in zip(facts, _places(check.pits, frame), strict=True)
    ]


def _probes(check: Check, frame: Frame) -> list[str]:
    facts = zip(check.probes["station"], check.probes["verdict"], strict=True)
    return [
        element(
            "g",
            element("title", escape(f"Cone station {station}: {verdict.replace('_', ' ')}"))
            + sign("no_pan" if verdict == "no_pan" else "pan", *place),
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
            + text(str(order), place[0], place[1] + 0.85, 2.4, text_anchor="middle", fill="#fff"),
        )
        for (order, reason), place in zip(facts, _places(check.dig_next, frame), strict=True)
    ]


def _tag(words: str, x: float, y: float) -> str:
    halo = text(words, x + 2.2, y + 0.8, 2.3, fill="#fff", stroke="#fff", stroke_width=0.7)
    return halo + text(words, x + 2.2, y + 0.8, 2.3)


def sign(name: str, x: float, y: float) -> str:
    """Return the sign of a pit, a cone station or a place to dig; shapes tell them apart."""
    if name == "dig":
        return _poly(x, y, "M0 -2.6l2.6 2.6l-2.6 2.6l-2.6 -2.6z", fill="#8a1c00", stroke="#fff")
    if name in ("pan", "no_pan"):
        fill = "#000" if name == "pan" else "#fff"
        return _poly(x, y, "M0 -1.3l1.2 2.1h-2.4z", fill=fill, stroke="#000")
    ground, edge = ("#000", "#fff") if name == "reached" else ("#fff", "#000")
    disc = element("circle", cx=x, cy=y, r=1.6, fill=ground, stroke=edge, stroke_width=0.35)
    return disc + (
        _poly(x, y, _INNER[name], fill=_FILLS[name], stroke="#000") if name in _INNER else ""
    )


_INNER = {
    "too_deep": "M0 1.3l-0.9 -1.5h1.8z",
    "leg_only": "M-1.6 0a1.6 1.6 0 0 0 3.2 0z",
    "leg_passed": "M-1.6 0a1.6 1.6 0 0 0 3.2 0z",
    "not_reached": "M-0.9 -0.9l1.8 1.8M-0.9 0.9l1.8 -1.8",
}
_FILLS = {"too_deep": "#000", "leg_only": "#000", "leg_passed": "#b9bdc1", "not_reached": "none"}


def _poly(x: float, y: float, d: str, *, fill: str, stroke: str) -> str:
    return element(
        "path",
        d=d,
        transform=f"translate({x:.2f} {y:.2f})",
        fill=fill,
        stroke=stroke,
        stroke_width=0.35,
    )


def _entries(check: Check) -> list[tuple[str, str]]:
    """Return what the legend has to explain: tones met, signs met."""
    tones = {_shown(zone)[0] for zone in _zones(check)}
    met = {*check.pits["verdict"], *(["dig"] if len(check.dig_next) else [])}
    met |= {"no_pan" if v == "no_pan" else "pan" for v in check.probes["verdict"]}
    borrowed = any(_shown(zone)[1] for zone in _zones(check))
    return [
        ("number", "number of the zone"),
        *[(name, f"{LETTERS[name]} {VERDICTS[name]}".strip()) for name in GROUND if name in tones],
        *([("borrowed", "few pits here: as all of its depth")] if borrowed else []),
        *[(f"sign {name}", words) for name, words in SIGNS.items() if name in met],
        *[(f"hazard {kind}", kind) for kind in sorted(set(check.hazards["kind"].astype(str)))],
    ]


def _rows(check: Check) -> int:
    return -(-len(_entries(check)) // int(constant(RULES, "legend_columns")))


def _legend(check: Check, top_mm: float) -> str:
    line, columns = constant(RULES, "legend_mm"), int(constant(RULES, "legend_columns"))
    column = constant(RULES, "map_width_mm") / columns
    drawn = []
    for number, (name, words) in enumerate(_entries(check)):
        x, y = 3 + column * (number % columns), top_mm + line * (number // columns + 0.6)
        drawn.append(_swatch(name, x, y) + text(words, x + 7, y + 1.0, 2.8))
    return "".join(drawn)


def _swatch(name: str, x: float, y: float) -> str:
    if name.startswith("sign "):
        return sign(name.removeprefix("sign "), x + 2.5, y)
    if name.startswith("hazard "):
        kind = name.removeprefix("hazard ")
        spot, line = shapely.Point(x + 2.5, y), shapely.LineString([(x, y), (x + 5, y)])
        return hazard_mark(kind, spot if kind == "obstacle" else line)
    if name == "number":
        return text("12", x + 2.5, y + 0.9, 2.6, text_anchor="middle")
    box = shapely.box(x, y - 1.7, x + 5, y + 1.7)
    tone = "#b9bdc1" if name == "borrowed" else TONES[name]
    area = path(box, fill=tone, stroke="#14171a", stroke_width=0.25)
    if name == "lifted_out":
        return area + path(hatching(box, 1.1, rising=True), stroke="#8a8f94", stroke_width=0.15)
    if name == "borrowed":
        return area + path(hatching(box, 1.1, rising=False), stroke="#fff", stroke_width=0.5)
    return area


def _scale(frame: Frame) -> str:
    length_m = frame.scale_bar_m()
    right, y = frame.width_mm - 6, frame.height_mm - 3
    left = right - length_m * frame.mm_per_m
    bar = element("line", x1=left, y1=y, x2=right, y2=y, stroke="#000", stroke_width=0.8)
    arrow = element("path", d=f"M{right:g} 4l2.4 7l-2.4 -1.6l-2.4 1.6z", fill="#000")
    return (
        bar
        + text(f"{length_m:g} m", (left + right) / 2, y - 1.4, 2.8, text_anchor="middle")
        + arrow
        + text("N", right, 15, 3.6, text_anchor="middle", font_weight="bold")
    )
