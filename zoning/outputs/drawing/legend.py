"""Signs of a drawing and their legend: depths, hazards, gateways, scale."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from shapely import MultiLineString
from shapely.geometry.base import BaseGeometry

from zoning.contracts import NOT_CLEARED, constant
from zoning.outputs.drawing.frame import RULES, Frame, hatching
from zoning.outputs.drawing.svg import element, path, text
from zoning.outputs.guessed import FAR

GUESSED = "guessed: not read"
GAP = "gap: lift, turn"
NUMBERED = "pass, at 0 m"
POINT = " point"
SIGN_RADIUS_MM = 2.4  # of the ground that a sign at a point covers
SWATCH_MM = 56.0
PINNED_MM = 86.0
TONE_MM = 3.5
SIGN_MM = 37.0
SIZE_MM = 2.9
ARROW_MM = 11.0
SCALE_MM = 68.0
_SPOT_MM = 0.01  # length of a line with round ends that shows as a spot


def hazard_mark(kind: str, shape: BaseGeometry) -> str:
    """Return a hazard on paper: its line, and where it lies at a point the sign of that."""
    return line_mark(kind, shape) + point_marks(kind, shape)


def line_mark(kind: str, shape: BaseGeometry) -> str:
    """Return the lines of a hazard: a drain in dashes, a service with ticks, others plain."""
    casing = path(shape, fill="none", stroke="#fff", stroke_width=1.3)
    if kind == "drain":
        dashes = path(
            shape, fill="none", stroke="#000", stroke_width=0.6, stroke_dasharray="2.4 1.2"
        )
        return casing + dashes
    line = path(shape, fill="none", stroke="#000", stroke_width=0.6)
    if kind == "service":
        line += path(_ticks(shape), fill="none", stroke="#000", stroke_width=0.45)
    return casing + line


def spots_of(shape: BaseGeometry) -> list[shapely.Point]:
    """Return the points of a hazard."""
    parts = shapely.get_parts(shape)
    return [part for part in parts if isinstance(part, shapely.Point) and not part.is_empty]


def point_marks(kind: str, shape: BaseGeometry) -> str:
    """Return the signs of the points of a hazard: an obstacle's triangle, else its first letter."""
    if kind == "obstacle":
        return "".join(_triangle(spot.x, spot.y) for spot in spots_of(shape))
    return "".join(_lettered(kind[0].upper(), spot.x, spot.y) for spot in spots_of(shape))


def _lettered(letter: str, x: float, y: float) -> str:
    box = element(
        "rect", x=x - 1.9, y=y - 1.9, width=3.8, height=3.8, fill="#000", stroke="#fff",
        stroke_width=0.4,
    )  # fmt: skip
    return box + text(letter, x, y + 1.1, 3.2, text_anchor="middle", fill="#fff",
                      font_weight="bold")  # fmt: skip


def guessed_ground(area: BaseGeometry) -> str:
    """Return the outline of ground that nobody read, in dots."""
    white = path(area, fill="none", stroke="#fff", stroke_width=1.1)
    dots = {"stroke_dasharray": "0.9 0.9"}
    return white + path(area, fill="none", stroke="#000", stroke_width=0.7, **dots)


def far_ground(area: BaseGeometry) -> str:
    """Return scattered dots on ground without a station near, edged so that all tones show them."""
    spots = _scattered(area, constant(RULES, "far_dots_mm"))
    white = path(spots, fill="none", stroke="#fff", stroke_width=1.3, stroke_linecap="round")
    black = path(spots, fill="none", stroke="#000", stroke_width=0.8, stroke_linecap="round")
    return white + black


def _scattered(area: BaseGeometry, apart_mm: float) -> BaseGeometry:
    """Return spots within `area`, on one grid for the whole paper so that no two ever touch."""
    step = apart_mm / math.sqrt(2.0)
    west, south, east, north = (np.array(area.bounds) / step).round()
    column, row = np.meshgrid(np.arange(west, east + 1), np.arange(south, north + 1))
    even = (column + row) % 2 == 0
    spots = shapely.points(step * column[even], step * row[even])
    inside = spots[shapely.contains(area, spots)]
    xy = shapely.get_coordinates(inside if len(inside) else area.representative_point())
    return MultiLineString([[(x, y), (x + _SPOT_MM, y)] for x, y in xy.tolist()])


def guessed_mark(x: float, y: float) -> str:
    """Return the sign of ground that nobody read: a white box with a question mark."""
    box = element(
        "rect", x=x - 1.9, y=y - 1.9, width=3.8, height=3.8, fill="#fff", stroke="#000",
        stroke_width=0.45,
    )  # fmt: skip
    return box + text("?", x, y + 1.2, 3.4, text_anchor="middle", font_weight="bold")


def gateway_mark(x: float, y: float) -> str:
    """Return the sign of a gateway: a white disc with a G."""
    disc = element("circle", cx=x, cy=y, r=2.1, fill="#fff", stroke="#000", stroke_width=0.45)
    return disc + text("G", x, y + 1.05, 3.0, text_anchor="middle", font_weight="bold")


def legend_height_mm(tones: Mapping[str, str], signs: Sequence[str], width_mm: float) -> float:
    """Return the height of the legend of these tones and signs."""
    return constant(RULES, "legend_line_mm") * (
        _lines(len(tones), _swatch_mm(tones), width_mm - ARROW_MM)
        + _lines(len(signs), SIGN_MM, width_mm - SCALE_MM)
        + 0.4
    )


def legend(
    tones: Mapping[str, str], signs: Sequence[str], frame: Frame, *, north_deg: float = 0.0
) -> str:
    """Return the legend below the map: tones with their words, signs, scale and north.

    A tone without colour is drawn as ground where the legs are lifted out. The arrow is turned by
    `north_deg` clockwise, so that it shows true north where the map lies by the grid.
    """
    line = constant(RULES, "legend_line_mm")
    top = frame.height_mm + 0.4 * line
    swatches = [_swatch(tone, words) if tone else _lifted(words) for words, tone in tones.items()]
    below = top + line * _lines(len(swatches), _swatch_mm(tones), frame.width_mm - ARROW_MM)
    return (
        _laid(swatches, _swatch_mm(tones), frame.width_mm - ARROW_MM, top)
        + _laid([_sign(sign) for sign in signs], SIGN_MM, frame.width_mm - SCALE_MM, below)
        + _scale(frame, below)
        + north_mark(frame.width_mm - ARROW_MM / 2, top, north_deg)
    )


def _swatch_mm(tones: Mapping[str, str]) -> float:
    return PINNED_MM if any("pin" in words for words in tones) else SWATCH_MM


def _lines(count: int, each_mm: float, width_mm: float) -> int:
    return max(1, math.ceil(count / max(1, int(width_mm // each_mm))))


def _laid(entries: Sequence[str], each_mm: float, width_mm: float, top: float) -> str:
    a_line = max(1, int(width_mm // each_mm))
    line = constant(RULES, "legend_line_mm")
    return "".join(
        element(
            "g",
            entry,
            transform=f"translate({each_mm * (i % a_line):g} {top + line * (i // a_line):g})",
        )
        for i, entry in enumerate(entries)
    )


def _caption(words: str, size_mm: float = SIZE_MM) -> str:
    return text(words, 9.5, 3.2 if size_mm > SIZE_MM else 3.0, size_mm)


def _swatch(tone: str, words: str) -> str:
    box = element(
        "rect", x=1, y=0.2, width=7, height=3.8, fill=tone, stroke="#000", stroke_width=0.25
    )
    return box + _caption(words, TONE_MM)


def _lifted(words: str) -> str:
    box = shapely.box(1, 0.2, 8, 4)
    lines = hatching(box, constant(RULES, "hatch_mm"), rising=True)
    edge = path(box, fill="#fff", stroke="#000", stroke_width=0.25)
    lifted = path(lines, fill="none", stroke="#000", stroke_width=0.15)
    return edge + lifted + _caption(words, TONE_MM)


def _sign(sign: str) -> str:
    if sign == "gateway":
        return gateway_mark(4.5, 2.0) + _caption(sign)
    if sign == NOT_CLEARED:
        bold = text("NC", 4.5, 3.1, SIZE_MM, text_anchor="middle", font_weight="bold")
        return bold + _caption(f"{sign} at this depth")
    if sign == GUESSED:
        return guessed_mark(4.5, 2.0) + _caption(sign)
    if sign == NUMBERED:
        return text("5", 4.5, 3.0, constant(RULES, "pass_number_mm")) + _caption(sign)
    if sign in (FAR, GAP):
        box = shapely.box(1, 0.3, 8, 3.9)
        edge = path(box, fill="#fff", stroke="#000", stroke_width=0.7)
        thin = path(box, fill="none", stroke="#000", stroke_width=0.2) + far_ground(box)
        return (thin if sign == FAR else edge) + _caption(sign)
    spot = sign == "obstacle" or sign.endswith(POINT)
    at = shapely.Point(4.5, 2.2) if spot else shapely.LineString([(1, 2), (8, 2)])
    return hazard_mark(sign.removesuffix(POINT), at) + _caption(f"{sign} (H)")


def _scale(frame: Frame, top: float) -> str:
    length_m = frame.scale_bar_m()
    length = length_m * frame.mm_per_m
    right = frame.width_mm - ARROW_MM - 5.0
    left = right - length
    half = left + length / 2
    return "".join(
        [
            element(
                "rect",
                x=left,
                y=top + 0.4,
                width=length,
                height=1.2,
                fill="#fff",
                stroke="#000",
                stroke_width=0.2,
            ),
            element("rect", x=left, y=top + 0.4, width=length / 2, height=1.2, fill="#000"),
            text("0", left, top + 4.6, SIZE_MM, text_anchor="middle"),
            text(f"{length_m / 2:g}", half, top + 4.6, SIZE_MM, text_anchor="middle"),
            text(f"{length_m:g} m", right, top + 4.6, SIZE_MM, text_anchor="middle"),
        ]
    )


def north_mark(x: float, top: float, turn_deg: float) -> str:
    """Return an arrow with its tip at `x`, `top` turned clockwise, and an upright N below [mm]."""
    turn = {"transform": f"rotate({turn_deg:.1f} {x:g} {top + 3.5:g})"} if turn_deg else {}
    arrow = element("path", d=f"M{x:g} {top:g}l2.4 7l-2.4 -1.6l-2.4 1.6z", fill="#000", **turn)
    return arrow + text("N", x, top + 10.6, 4.0, text_anchor="middle", font_weight="bold")


def _triangle(x: float, y: float) -> str:
    outline = f"M{x:.2f} {y - 1.9:.2f}l1.9 3.2h-3.8z"
    mark = element("path", d=outline, fill="#000", stroke="#fff", stroke_width=0.4)
    return mark + text("!", x, y + 0.95, 2.2, text_anchor="middle", fill="#fff", font_weight="bold")


def _ticks(shape: BaseGeometry) -> BaseGeometry:
    """Return short strokes across each line, every 3 mm."""
    strokes = []
    for line in shapely.get_parts(shape):
        if line.geom_type != "LineString":
            continue
        for number in range(int(line.length // 3.0) + 1):
            along = min(number * 3.0 + 1.0, line.length)
            a = shapely.line_interpolate_point(line, max(along - 0.5, 0.0))
            b = shapely.line_interpolate_point(line, min(along + 0.5, line.length))
            dx, dy = b.x - a.x, b.y - a.y
            x, y = (a.x + b.x) / 2, (a.y + b.y) / 2
            strokes.append([(x - dy, y + dx), (x + dy, y - dx)])
    return shapely.MultiLineString(strokes)
