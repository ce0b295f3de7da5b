"""The chart of ridge against speed: trial runs, the fit that never rises, and the pits."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from html import escape
from itertools import chain

import numpy as np
import pandas as pd

from zoning.contracts import constant
from zoning.model.check import JUDGED, Check
from zoning.outputs.drawing.svg import document, element, text

RULES = "check_page_rules"
WIDTH, HEIGHT = 110.0, 86.0
LEFT, RIGHT, TOP, BOTTOM = 15.0, 3.0, 4.0, 22.0
SIZE = 3.6


@dataclass(frozen=True, slots=True)
class _Axes:
    """From speed and ridge to paper."""

    speed_to_km_h: float
    ridge_to_cm: float

    def x(self, speed_km_h: float) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * speed_km_h / self.speed_to_km_h

    def y(self, ridge_cm: float) -> float:
        return HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * ridge_cm / self.ridge_to_cm


def _counted(check: Check) -> pd.DataFrame:
    """Return the pits with a ridge and a speed, as the advice goes by them."""
    known = check.pits["ridge_cm"].notna() & check.pits["speed_km_h"].notna()
    counts = check.pits["pit"].isin(check.steady) & check.pits["verdict"].isin(JUDGED)
    return check.pits[known & counts]


def ridge_chart(check: Check) -> str:
    """Return the chart as SVG text; nothing where neither runs nor pits say anything."""
    pits = _counted(check)
    runs = check.ridge.runs
    if not len(pits) and not len(runs):
        return ""
    speeds = [*runs["speed_km_h"], *pits["speed_km_h"], check.settings.machine.speed_km_h]
    ridges = [*runs["ridge_cm"], *pits["ridge_cm"], constant("check_rules", "ridge_uneven_cm")]
    axes = _Axes(np.ceil(max(speeds) / 2) * 2 + 2, np.ceil(max(ridges) / 2) * 2 + 2)
    layers = (_bands(check, axes), _grid(axes), _fit(check, axes), _pits(check, axes))
    above = (_runs(check, axes), _marks(check, axes), _key(check))
    content = "".join(chain(*layers, *above))
    return document(content, WIDTH, HEIGHT, "Ridge between legs against speed")


def _bands(check: Check, axes: _Axes) -> Iterator[str]:
    even, uneven = check.ridge.wanted_cm, constant("check_rules", "ridge_uneven_cm")
    inner = WIDTH - LEFT - RIGHT
    for low, high, fill, words in (
        (0.0, even, "#f6eeb4", "even"),
        (uneven, axes.ridge_to_cm, "#dcdde0", "uneven"),
    ):
        top, bottom = axes.y(high), axes.y(low)
        yield element("rect", x=LEFT, y=top, width=inner, height=bottom - top, fill=fill)
        yield text(words, LEFT + 1.5, top + 4.2, SIZE, fill="#4a5056")


def _grid(axes: _Axes) -> Iterator[str]:
    for speed in np.arange(0, axes.speed_to_km_h + 0.1, 2):
        x = axes.x(float(speed))
        yield element(
            "line", x1=x, y1=axes.y(0), x2=x, y2=axes.y(0) + 1.2, stroke="#000", stroke_width=0.25
        )
        yield text(f"{speed:g}", x, axes.y(0) + 5.0, SIZE, text_anchor="middle")
    for ridge in np.arange(0, axes.ridge_to_cm + 0.1, 2):
        y = axes.y(float(ridge))
        yield element(
            "line", x1=LEFT, y1=y, x2=WIDTH - RIGHT, y2=y, stroke="#b9bdc1", stroke_width=0.15
        )
        yield text(f"{ridge:g}", LEFT - 1.6, y + 1.2, SIZE, text_anchor="end")
    yield text("speed, km/h", (LEFT + WIDTH - RIGHT) / 2, HEIGHT - 11.6, SIZE, text_anchor="middle")
    middle = (TOP + HEIGHT - BOTTOM) / 2
    yield text(
        "ridge between legs, cm", 4.5, middle, SIZE, text_anchor="middle",
        transform=f"rotate(-90 4.5 {middle:g})",
    )  # fmt: skip


def _fit(check: Check, axes: _Axes) -> Iterator[str]:
    speeds = check.ridge.speeds
    if len(speeds) < 2:
        return
    facts = zip(speeds["speed_km_h"], speeds["fitted_cm"], strict=True)
    points = " ".join(f"{axes.x(s):.2f},{axes.y(r):.2f}" for s, r in facts)
    yield element("polyline", points=points, fill="none", stroke="#000", stroke_width=0.5)


def _runs(check: Check, axes: _Axes) -> Iterator[str]:
    runs = check.ridge.runs
    facts = zip(runs["run"], runs["speed_km_h"], runs["ridge_cm"], runs["surface"], strict=True)
    for run, speed, ridge, surface in facts:
        told = f"Run {run}: {speed:g} km/h, ridge {ridge:g} cm, surface {surface or 'not noted'}"
        yield element(
            "g", element("title", escape(told)) + _run(axes.x(speed), axes.y(ridge), surface)
        )
        yield text(str(run)[:12], axes.x(speed) + 2.4, axes.y(ridge) - 1.6, SIZE)


def _run(x: float, y: float, surface: str) -> str:
    """Return the sign of a run: a disc; a square where the surface was left heaved or cloddy."""
    if surface in ("heaved", "cloddy"):
        return element("rect", x=x - 1.5, y=y - 1.5, width=3, height=3, fill="#00224e")
    return element("circle", cx=x, cy=y, r=1.6, fill="#00224e")


def _pits(check: Check, axes: _Axes) -> Iterator[str]:
    columns = ("pit", "speed_km_h", "ridge_cm", "moisture")
    own = _counted(check)
    for pit, speed, ridge, moisture in zip(*(own[c] for c in columns), strict=True):
        wet = ", soil plastic" if moisture == "plastic" else ""
        told = element("title", escape(f"Pit {pit}: {speed:g} km/h, ridge {ridge:g} cm{wet}"))
        ring = element(
            "circle", cx=axes.x(speed), cy=axes.y(ridge), r=1.2, fill="none",
            stroke="#8a1c00", stroke_width=0.5,
        )  # fmt: skip
        yield element("g", told + ring)
        if wet:
            yield text("P", axes.x(speed) + 1.9, axes.y(ridge) + 1.3, SIZE, font_weight="bold")


def _marks(check: Check, axes: _Axes) -> Iterator[str]:
    """Draw the slowest even speed, and the speed of the settings with its allowance."""
    if not len(check.ridge.speeds):
        return
    own = check.settings.machine.speed_km_h
    x, y = axes.x(own), axes.y(check.ridge_allowance_cm)
    yield element(
        "line", x1=x, y1=axes.y(0), x2=x, y2=y, stroke="#000", stroke_width=0.4,
        stroke_dasharray="1.6 1.2",
    )  # fmt: skip
    told = f"plan, {own:g} km/h: {check.ridge_allowance_cm:g} cm"
    right = x > (LEFT + WIDTH - RIGHT) / 2
    side, anchor = (-1.2, "end") if right else (1.2, "start")
    yield text(told, x + side, axes.y(0) - 1.4, SIZE, text_anchor=anchor)
    slowest = check.ridge.slowest_even_km_h
    if slowest is not None:
        x = axes.x(slowest)
        yield element("path", d=f"M{x:.2f} {axes.y(0):.2f}l-1.8 3h3.6z", fill="#000")


def _key(check: Check) -> Iterator[str]:
    """Explain the signs that were drawn, in two lines."""
    y, x = HEIGHT - 1.2, LEFT + 1
    if len(check.ridge.runs):
        yield element("circle", cx=x, cy=y - 6.3, r=1.6, fill="#00224e")
        yield text("trial run (square: surface not level)", x + 3.4, y - 5, SIZE)
    ring = {"fill": "none", "stroke": "#8a1c00"}
    yield element("circle", cx=x, cy=y - 1.3, r=1.4, stroke_width=0.5, **ring)
    yield text("pit", x + 3.4, y, SIZE)
    if check.ridge.slowest_even_km_h is not None:
        yield element("path", d=f"M{x + 18:g} {y - 2.8:g}l-1.8 3h3.6z", fill="#000")
        yield text("slowest even speed", x + 21.4, y, SIZE)
    if (_counted(check)["moisture"] == "plastic").any():
        yield text("P: plastic soil", x + 60, y, SIZE)
