"""Cone resistance before and after on one depth axis, beside the two pits as columns of soil.

Before is a full line, after a broken one; both are named in words. The drawing is an SVG of
presentation attributes only, every text escaped.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from zoning.outputs.drawing.svg import element, text
from zoning.records import Pit
from zoning.review.views import Cone

WIDTH, HEIGHT = 470.0, 400.0
LEFT, TOP, FOOT, SPLIT, RIGHT = 46.0, 54.0, 386.0, 240.0, 468.0
SIZE = 15
_OPEN_PX = 14.0  # sides of a pan that is open at the top
_CLEAR_PX = 4.0  # from the foot of words to the middle of a line below them
_BEFORE, _AFTER, _PLAN = "#111111", "#9a3300", "#00224e"


@dataclass(frozen=True, slots=True)
class _Axes:
    deepest_cm: float
    hardest_mpa: float
    planned_cm: float

    def y(self, depth_cm: float) -> float:
        return TOP + (FOOT - TOP) * depth_cm / self.deepest_cm

    def x(self, mpa: float) -> float:
        return LEFT + (SPLIT - LEFT) * min(mpa, self.hardest_mpa) / self.hardest_mpa


def pair_chart(
    pits: tuple[Pit | None, Pit | None],
    cones: tuple[Cone | None, Cone | None],
    planned_cm: float | None,
    limit_mpa: float,
) -> str:
    """Return the chart of a pair, ``(before, after)`` each.

    Parameters
    ----------
    pits, cones
        The two pits and the cone stations beside them, ``None`` where there is none.
    planned_cm
        Working depth of the plan here, 0 lifted out, ``None`` where there is no plan.
    limit_mpa
        Cone index that restricts roots [MPa].
    """
    axes = _axes(pits, cones, planned_cm, limit_mpa)
    parts = [*_scales(axes), *_limit(axes, limit_mpa)]
    for cone, tone, dash in ((cones[0], _BEFORE, "none"), (cones[1], _AFTER, "8 4")):
        if cone is not None:
            parts += _curve(axes, cone, tone, dash)
    parts += _planned(axes, planned_cm)
    parts += _columns(axes, pits)
    return element(
        "svg", "".join(parts), viewBox=f"0 0 {WIDTH:g} {HEIGHT:g}", role="img",
        aria_label=chart_words(pits, cones, planned_cm), font_size=SIZE, **{"class": "chart"},
    )  # fmt: skip


def chart_words(
    pits: tuple[Pit | None, Pit | None],
    cones: tuple[Cone | None, Cone | None],
    planned_cm: float | None,
) -> str:
    """Return in words what the chart shows."""
    told = []
    for word, cone in zip(("before", "after"), cones, strict=True):
        if cone is not None:
            told.append(f"cone station {cone.name} {word} the work")
    before, after = pits
    if before is not None and before.pan_base_cm is not None:
        top = before.pan_top_cm
        known = f"to {before.pan_base_cm:g} cm, top not noted"
        told.append(
            f"pan before {known if top is None else f'{top:g} to {before.pan_base_cm:g} cm'}"
        )
    if after is not None and after.pan_base_cm is not None:
        told.append(f"pan left after the work to {after.pan_base_cm:g} cm")
    if after is not None and after.loosened_at_leg_cm is not None:
        told.append(f"loosened at a leg to {after.loosened_at_leg_cm:g} cm")
    if after is not None and after.loosened_between_cm is not None:
        told.append(f"between legs to {after.loosened_between_cm:g} cm")
    if planned_cm is not None:
        told.append(f"planned {planned_cm:g} cm" if planned_cm else "planned: legs lifted out")
    return "Cone index and pits against depth: " + ("; ".join(told) or "nothing noted yet") + "."


def _axes(
    pits: tuple[Pit | None, ...],
    cones: tuple[Cone | None, ...],
    planned_cm: float | None,
    limit_mpa: float,
) -> _Axes:
    readings = [row for cone in cones if cone for push in cone.profiles for row in push]
    depths = [depth for depth, _ in readings] + [planned_cm or 0.0, 40.0]
    for pit in pits:
        if pit is not None:
            noted = (pit.pan_base_cm, pit.loosened_at_leg_cm, pit.loosened_between_cm)
            depths += [depth for depth in noted if depth is not None]
    values = [value for _, value in readings if value is not None]
    return _Axes(
        math.ceil((max(depths) + 3) / 10) * 10.0,
        math.ceil(max([*values, limit_mpa + 1])) + 0.0,
        planned_cm or 0.0,
    )


def _scales(axes: _Axes) -> list[str]:
    box = {"fill": "#ffffff", "stroke": "#111111"}
    parts = [
        element("rect", x=LEFT, y=TOP, width=SPLIT - LEFT, height=FOOT - TOP, **box),
        element("rect", x=SPLIT + 10, y=TOP, width=RIGHT - SPLIT - 14, height=FOOT - TOP, **box),
    ]
    for depth in range(0, int(axes.deepest_cm) + 1, 10):
        y = axes.y(depth)
        parts.append(element("path", d=f"M{LEFT} {y:.1f}H{RIGHT}", stroke="#c9ccd0"))
        parts.append(text(str(depth), LEFT - 7, y + 5, SIZE, text_anchor="end"))
    step = max(1, math.ceil(axes.hardest_mpa / 8))
    parts += [
        text(str(mpa), axes.x(mpa), TOP - 7, SIZE, text_anchor="middle")
        for mpa in range(0, int(axes.hardest_mpa) + 1, step)
    ]
    middle = (TOP + FOOT) / 2
    turn = f"rotate(-90 14 {middle:.0f})"
    parts.append(text("depth, cm", 14, middle, SIZE, text_anchor="middle", transform=turn))
    parts.append(text("cone index, MPa", (LEFT + SPLIT) / 2, 17, SIZE, text_anchor="middle"))
    return parts


def _limit(axes: _Axes, limit_mpa: float) -> list[str]:
    x = axes.x(limit_mpa)
    line = element("path", d=f"M{x:.1f} {TOP}V{FOOT}", stroke="#111111", stroke_dasharray="2 3")
    words = f"limit {limit_mpa:g} MPa"
    if x > (LEFT + SPLIT) / 2:
        return [line, _backed(words, x - 4, FOOT - 8, text_anchor="end")]
    return [line, _backed(words, x + 4, FOOT - 8)]


def _curve(axes: _Axes, cone: Cone, tone: str, dash: str) -> list[str]:
    thin = [
        element("path", d=_line(axes, push), fill="none", stroke=tone, stroke_opacity=0.35,
                stroke_dasharray=dash)
        for push in cone.profiles
    ]  # fmt: skip
    mean = _mean(cone.profiles)
    thick = element(
        "path", d=_line(axes, mean), fill="none", stroke=tone, stroke_width=2.6,
        stroke_dasharray=dash,
    )  # fmt: skip
    return [*thin, thick]


def _mean(
    profiles: Sequence[Sequence[tuple[float, float | None]]],
) -> list[tuple[float, float | None]]:
    held: dict[float, list[float]] = {}
    for push in profiles:
        for depth, value in push:
            if value is not None:
                held.setdefault(depth, []).append(value)
    return [(depth, sum(values) / len(values)) for depth, values in sorted(held.items())]


def _line(axes: _Axes, push: Sequence[tuple[float, float | None]]) -> str:
    steps = [f"{axes.x(v):.1f} {axes.y(d):.1f}" for d, v in push if v is not None]
    return f"M{'L'.join(steps)}" if steps else "M0 0"


def _columns(axes: _Axes, pits: tuple[Pit | None, Pit | None]) -> list[str]:
    width = (RIGHT - SPLIT - 14) / 2
    parts = []
    for i, (word, pit) in enumerate(zip(("before", "after"), pits, strict=True)):
        left = SPLIT + 10 + i * width
        parts.append(text(word, left + 9, TOP - 7, SIZE, font_weight="bold"))
        parts += _column(axes, pit, left, width) if pit is not None else [
            text("no pit", left + 10, TOP + 24, SIZE)
        ]  # fmt: skip
    parts.append(element("path", d=f"M{SPLIT + 10 + width} {TOP}V{FOOT}", stroke="#111111"))
    return parts


def _column(axes: _Axes, pit: Pit, left: float, width: float) -> list[str]:
    parts = []
    if pit.pan_base_cm is not None or pit.pan_top_cm is not None:
        parts += _pan(axes, pit, left, width)
    elif pit.pan:
        parts.append(text("pan seen" if pit.pan == "yes" else "no pan", left + 9, TOP + 18, SIZE))
    if pit.loosened_at_leg_cm is not None:
        parts += _mark(axes, pit.loosened_at_leg_cm, left, width, "at leg", 15)
    if pit.loosened_between_cm is not None:
        parts += _mark(axes, pit.loosened_between_cm, left, width, "between", -5)
    return parts


def _pan(axes: _Axes, pit: Pit, left: float, width: float) -> list[str]:
    """Draw the pan, open at the top where its top was not noted."""
    base_cm = axes.deepest_cm if pit.pan_base_cm is None else pit.pan_base_cm
    if pit.pan_top_cm is None:
        return _open_pan(axes, base_cm, left, width)
    top, base = axes.y(min(pit.pan_top_cm, base_cm)), axes.y(base_cm)
    block = element(
        "rect", x=left + 4, y=top, width=width - 8, height=max(base - top, 2), fill="#d8cfa8",
        stroke="#6b5d20", stroke_dasharray="3 2",
    )  # fmt: skip
    return [block, _backed("pan", left + 9, (top + base) / 2 + 5)]


def _open_pan(axes: _Axes, base_cm: float, left: float, width: float) -> list[str]:
    """Draw the base of a pan whose top was not noted, and say so at the head of the column."""
    base = axes.y(base_cm)
    sides = f"v{_OPEN_PX:g}h{width - 8:.1f}v-{_OPEN_PX:g}"
    shape = element(
        "path", d=f"M{left + 4:.1f} {base - _OPEN_PX:.1f}{sides}", fill="none", stroke="#6b5d20",
        stroke_width=2, stroke_dasharray="3 2",
    )  # fmt: skip
    words = (f"pan to {base_cm:g}", "top not noted")
    return [shape, *(text(w, left + 5, TOP + 18 + 17 * i, SIZE) for i, w in enumerate(words))]


def _mark(
    axes: _Axes, depth: float, left: float, width: float, words: str, below: float
) -> list[str]:
    """Return the line of a depth with its words, `below` it or, negative, above it.

    Words that the line of the planned depth would cross keep clear of that line instead.
    """
    y, planned = axes.y(depth), axes.y(axes.planned_cm)
    foot = (planned if y + below - SIZE < planned < y + below + _CLEAR_PX else y) + below
    line = element(
        "path", d=f"M{left + 3:.1f} {y:.1f}h{width - 6:.1f}", stroke=_AFTER, stroke_width=3,
        stroke_dasharray="9 3" if below > 0 else "3 3",
    )  # fmt: skip
    return [line, _backed(f"{words} {depth:g}", left + 6, foot)]


def _planned(axes: _Axes, planned_cm: float | None) -> list[str]:
    if planned_cm is None or planned_cm <= 0:
        return []
    y = axes.y(planned_cm)
    line = element("path", d=f"M{LEFT} {y:.1f}H{RIGHT}", stroke=_PLAN, stroke_width=3)
    return [line, _backed(f"planned {planned_cm:g} cm", SPLIT - 6, y + 16, text_anchor="end")]


def _backed(words: str, x: float, y: float, **more: str) -> str:
    return text(
        words, x, y, SIZE, stroke="#ffffff", stroke_width=4, paint_order="stroke", fill="#111111",
        **more,
    )  # fmt: skip
