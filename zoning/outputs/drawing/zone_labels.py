"""Which labels a zone gets: number and depth on its ground, along it, or beside it with a line.

A small zone that has no room for letters gets its number alone, on its tone: the order of work
names it under its depth, and numbers set large are read where crowded words are not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd
import shapely
from shapely import Point, Polygon
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant
from zoning.outputs.drawing.frame import RULES
from zoning.outputs.drawing.labels import (
    WHITE,
    Label,
    Labels,
    box_of,
    holds_a_line,
    inner_point,
    largest_first,
    line_height_mm,
)

GUESSED_ZONE = "guessed: "  # how a caution of a zone on ground that nobody read begins
HELD_ZONE = "held up by a hazard: "  # and of one where the pan stays for a drain or a service
GUESSED_MARK = "?"


@dataclass(frozen=True, slots=True, eq=False)
class ZoneGround:
    """A zone on paper.

    Parameters
    ----------
    number
        Its number.
    depth
        Its depth in words.
    tone
        Colour of its depth, ``""`` where the legs are lifted out.
    area
        Its ground [mm].
    small
        Whether the table of zones leaves it to the order of work.
    """

    number: str
    depth: str
    tone: str
    area: BaseGeometry
    small: bool


def small_numbers(zones: pd.DataFrame) -> list[int]:
    """Return the numbers of the small zones that the order of work lists and the table does not.

    None where few zones leave room for all in the table; none where legs are lifted out, nor where
    ground is guessed.
    """
    if len(zones) <= constant("sheet_rules", "zones_a_column"):
        return []
    small = (zones["area_ha"] < constant("plan_rules", "small_zone_ha")) & (zones["depth_cm"] > 0)
    return sorted(int(zone) for zone in zones.loc[small & ~guessed_zones(zones), "zone"])


def guessed_zones(zones: pd.DataFrame) -> pd.Series:
    """Return which zones hold ground that nobody read, as their cautions tell."""
    return _told(zones, GUESSED_ZONE)


def held_zones(zones: pd.DataFrame) -> pd.Series:
    """Return which zones a hazard holds up, worked less deep than their pan or lifted out."""
    return _told(zones, HELD_ZONE)


def _told(zones: pd.DataFrame, words: str) -> pd.Series:
    if "cautions" not in zones:
        return pd.Series(data=False, index=zones.index)
    return zones["cautions"].astype(str).str.contains(words)


@dataclass(frozen=True, slots=True)
class LeftUnsaid:
    """What the labels of a drawing do not say of every zone.

    Parameters
    ----------
    without_depth
        Whether a zone has its number alone, without its depth.
    without_number
        Whether ground of a zone has no label of its own.
    """

    without_depth: bool
    without_number: bool


def label_zones(zones: Sequence[ZoneGround], labels: Labels) -> LeftUnsaid:
    """Label every zone; return what the labels leave to the tone."""
    waiting: list[tuple[Point, ZoneGround]] = []
    bare = False
    for zone in zones:
        first = len(labels.placed)
        for piece in largest_first(zone.area):
            _label_piece(piece, zone, labels, first)
        own = labels.placed[first:]
        led = _unlabelled(_off_signs(zone.area, labels), own)
        waiting += [(at, zone) for at in led]
        bare = bare or _is_bare_somewhere(zone.area, own, led)
    labels.keep_ends(anchor for anchor, _ in waiting)
    for anchor, zone in waiting:
        if zone.small:
            labels.put_beside(anchor, zone.number, "", zone.tone or WHITE)
        else:
            labels.put_beside(anchor, zone.number, zone.depth)
    return LeftUnsaid(any(zone.small for _, zone in waiting), bare)


def _off_signs(area: BaseGeometry, labels: Labels) -> BaseGeometry:
    """Return the ground that no sign covers; all of it where signs cover all."""
    left = area - shapely.union_all(labels.signs)
    return left if largest_first(left) else area


def _label_piece(ground: Polygon, zone: ZoneGround, labels: Labels, first: int) -> None:
    """Label a piece of a zone where it fits, and once more wherever that is far away.

    Near another label of the zone, the first of which is `first`, a further one adds nothing, and
    small letters serve a zone that has no label yet alone.
    """
    rest = _far_pieces(ground, labels.placed[first:])
    while rest:
        piece = rest.pop(0)
        if holds_a_line(piece) and (
            _put_on(piece, zone, labels, large=True)
            or (len(labels.placed) == first and _put_on(piece, zone, labels, large=False))
        ):
            rest = [far for each in rest for far in _far_pieces(each, labels.placed[-1:])]
            rest += _far_pieces(piece, labels.placed[-1:])


def _far_pieces(ground: BaseGeometry, placed: Sequence[Label]) -> list[Polygon]:
    """Return the pieces of `ground` that are far from labels, those that matter."""
    least = _least_mm2(joined=bool(placed))
    return [each for each in largest_first(ground - _near(placed)) if each.area >= least]


def _put_on(piece: Polygon, zone: ZoneGround, labels: Labels, *, large: bool) -> bool:
    """Place a label on its ground in two lines or along it, in large letters or in small ones."""
    inside, along = (
        constant(RULES, f"{way}_{'large' if large else 'least'}") for way in ("label", "along")
    )
    return labels.put_inside(piece, zone.number, zone.depth, zone.tone, inside) or labels.put_along(
        piece, f"{zone.number}: {zone.depth}", zone.tone, along
    )


def _near(placed: Sequence[Label]) -> BaseGeometry:
    """Return the ground that labels are near enough to."""
    return _about([Point(label.x_mm, label.y_mm) for label in placed])


def _about(spots: Sequence[Point]) -> BaseGeometry:
    return shapely.MultiPoint(spots).buffer(constant(RULES, "label_apart_mm"))


def _unlabelled(area: BaseGeometry, placed: Sequence[Label]) -> list[Point]:
    """Return where labels beside the ground must lead: to a zone that has none, and to far runs.

    A run that hangs together with labelled ground must be larger than one that lies apart.
    """
    told, near = list(map(box_of, placed)), _near(placed)
    left = [
        (run, piece.intersects(shapely.GeometryCollection(told)))
        for piece in largest_first(_opened(area, constant(RULES, "run_width_mm")))
        for run in largest_first(piece - near)
    ]
    found: list[Point] = []
    while runs := [run for run, joined in left if run.area >= _least_mm2(joined=joined)]:
        found.append(inner_point(max(runs, key=lambda run: (round(run.area, 6), run.bounds))))
        disc = _about(found[-1:])
        left = [
            (rest, joined or run.covers(found[-1]))
            for run, joined in left
            for rest in largest_first(run - disc)
        ]
    if found or placed:
        return found
    return [inner_point(piece) for piece in largest_first(area)[:1]]


def _least_mm2(*, joined: bool) -> float:
    return constant(RULES, "far_least_mm2" if joined else "run_least_mm2")


def _is_bare_somewhere(area: BaseGeometry, placed: Sequence[Label], led: Sequence[Point]) -> bool:
    """Return whether a piece of a zone, or a strip too narrow for letters, has no label."""
    pieces = _opened(area, constant(RULES, "run_width_mm"))
    strips = area - _opened(area, line_height_mm())
    told = shapely.GeometryCollection([*map(box_of, placed), *led])
    least = constant(RULES, "run_least_mm2")
    runs = [*largest_first(pieces), *largest_first(strips)]
    return any(run.area >= least and not run.intersects(told) for run in runs)


def _opened(area: BaseGeometry, width_mm: float) -> BaseGeometry:
    """Return the ground that is at least `width_mm` wide."""
    return area.buffer(-width_mm / 2).buffer(width_mm / 2)
