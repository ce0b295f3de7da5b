"""The key of the map of a check: a list beside the drawing, so that its words keep their size."""

from __future__ import annotations

from html import escape

import shapely

from zoning.model.check import Check
from zoning.outputs.check.drawing import (
    SIGNS,
    before_pits,
    borrowed_mark,
    quiet_sign,
    shown_verdict,
    sign,
    zones_in_order,
)
from zoning.outputs.check.hazards import hazard_words
from zoning.outputs.check.pegs import PEG_MM
from zoning.outputs.check.words import GROUND, LETTERS, TONES, VERDICTS
from zoning.outputs.drawing.frame import hatching
from zoning.outputs.drawing.legend import hazard_mark
from zoning.outputs.drawing.pit_signs import sign_name
from zoning.outputs.drawing.plan import tagged_hazards
from zoning.outputs.drawing.svg import FONT, element, path, text

NUMBER = (
    "number of the zone with the letter of its verdict; below it, where there is room, the planned "
    "depth in cm"
)
WIDE_MM, HIGH_MM = 7.0, 5.4


def check_key(check: Check) -> str:
    """Return what the map has to explain, as an HTML list: tones, signs and hazards met."""
    lines = "".join(
        f"<li>{_picture(name, _borrowed_tone(check))}<span>{escape(words)}</span></li>"
        for name, words in _entries(check)
    )
    return f'<ul class="key">{lines}</ul>'


def _entries(check: Check) -> list[tuple[str, str]]:
    zones = zones_in_order(check)
    tones = {shown_verdict(zone)[0] for zone in zones}
    met = {sign_name("after", verdict=verdict) for verdict in check.pits["verdict"]}
    met |= {sign_name("before", str(pan)) for pan in before_pits(check).get("pan", ())}
    met |= {"dig"} if len(check.dig_next) else set()
    met |= {"cone no_pan" if v == "no_pan" else "cone pan" for v in check.probes["verdict"]}
    borrowed = _borrowed_tone(check)
    return [
        *[(name, f"{LETTERS[name]} {_ground(name)}".strip()) for name in GROUND if name in tones],
        *([("borrowed", "few pits here: as all ground of its depth")] if borrowed else []),
        ("number", NUMBER),
        *[(f"sign {name}", words) for name, words in SIGNS.items() if name in met],
        *[
            (f"hazard {hazard.kind}", hazard_words(hazard, check))
            for hazard in tagged_hazards(check.hazards)
        ],
    ]


def _ground(verdict: str) -> str:
    """Return a verdict in words, with why there is none where there is none."""
    why = {"cannot_tell": ": too few pits, or they do not agree", "held": ": a pan may stay"}
    return f"{VERDICTS[verdict]}{why.get(verdict, '')}"


def _borrowed_tone(check: Check) -> str:
    """Return the first tone of ground judged by all of its depth; nothing where there is none."""
    told = [verdict for verdict, borrowed in map(shown_verdict, zones_in_order(check)) if borrowed]
    return TONES[told[0]] if told else ""


def _picture(name: str, borrowed: str) -> str:
    return element(
        "svg", _swatch(name, borrowed), viewBox=f"0 0 {WIDE_MM:g} {HIGH_MM:g}", aria_hidden="true",
        font_family=FONT,
    )  # fmt: skip


def _swatch(name: str, borrowed: str) -> str:
    middle, y = WIDE_MM / 2, HIGH_MM / 2
    if name.startswith("sign "):
        drawn = quiet_sign if name in ("sign before", "sign pan") else sign
        return drawn(name.removeprefix("sign "), middle, y + (PEG_MM if name == "sign dig" else 0))
    if name.startswith("hazard "):
        kind = name.removeprefix("hazard ")
        spot, line = shapely.Point(middle, y), shapely.LineString([(0.5, y), (WIDE_MM - 0.5, y)])
        return hazard_mark(kind, spot if kind == "obstacle" else line)
    if name == "number":
        return text("12R", middle, y + 0.9, 2.6, text_anchor="middle")
    box = shapely.box(0.5, 0.7, WIDE_MM - 0.5, HIGH_MM - 0.7)
    tone = borrowed if name == "borrowed" else TONES[name]
    area = path(box, fill=tone, stroke="#14171a", stroke_width=0.25)
    if name in ("lifted_out", "held"):
        hatch = hatching(box, 1.1, rising=name == "lifted_out")
        return area + path(hatch, stroke="#8a8f94", stroke_width=0.15)
    return area + borrowed_mark(box) if name == "borrowed" else area
