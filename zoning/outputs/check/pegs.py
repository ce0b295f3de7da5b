"""The pegs of the map of a check: where to dig next, set so that they cover no sign."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

import numpy as np
import pandas as pd
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from zoning.outputs.drawing.beside import covered
from zoning.outputs.drawing.pit_signs import PEG, outline, pit_sign
from zoning.outputs.drawing.svg import element, text

Spot = tuple[float, float]
PIT_MM, PEG_MM, SIGN_MM = 1.3, 2.2, 1.8
_HALF_MM, _HIGH_MM = 1.95, 4.16
_AWAY_MM = (2.6, 4.0, 5.5, 7.0, 9.0)
_TURNS = 12


def peg_ground(tip: Spot) -> Polygon:
    """Return what a peg covers whose tip stands at a place [mm]."""
    x, y = tip
    return shapely.box(x - _HALF_MM, y - _HIGH_MM, x + _HALF_MM, y)


def peg_tips(places: Sequence[Spot], taken: Sequence[BaseGeometry], paper: Polygon) -> list[Spot]:
    """Return where the tip of each peg stands: at its place, or beside it where a sign is [mm].

    Parameters
    ----------
    places
        Where to dig.
    taken
        What may not be covered.
    paper
        Ground of the drawing; no peg leaves it.
    """
    held = list(taken)
    tips = []
    for place in places:
        tip = _beside(place, held, paper)
        held.append(peg_ground(tip))
        tips.append(tip)
    return tips


def _beside(place: Spot, taken: Sequence[BaseGeometry], paper: Polygon) -> Spot:
    turns = 2 * np.pi * np.arange(_TURNS) / _TURNS - np.pi / 2
    rings = [(r * np.cos(turn), r * np.sin(turn)) for r in _AWAY_MM for turn in turns]
    moves = [(0.0, 0.0), (0.0, -SIGN_MM), *rings]
    spots = [(place[0] + float(across), place[1] + float(down)) for across, down in moves]
    inside = [spot for spot in spots if paper.covers(peg_ground(spot))] or [place]
    return min(inside, key=lambda spot: round(covered(peg_ground(spot), taken), 3))


def pegs(dig_next: pd.DataFrame, places: Sequence[Spot], tips: Sequence[Spot]) -> list[str]:
    """Return the pegs with their numbers, each tied to its place where it stands beside it."""
    facts = zip(dig_next["order"], dig_next["reason"], places, tips, strict=True)
    return [_peg(str(order), str(reason), place, tip) for order, reason, place, tip in facts]


def _peg(order: str, reason: str, place: Spot, tip: Spot) -> str:
    tie = element(
        "path", d=outline((place, tip), 0.0, 0.0, 1.0), fill="none", stroke=PEG, stroke_width=0.4
    )
    number = text(order, tip[0], tip[1] - PEG_MM + 0.3, 2.4, text_anchor="middle", fill="#fff")
    title = element("title", escape(f"Dig next {order}: {reason}"))
    return element(
        "g", title + ("" if tip == place else tie) + pit_sign("dig", *tip, PIT_MM) + number
    )
