"""Numbers of passes at the end that their metres count from.

Those of straight passes stand beside the field, those of rounds on them.
"""

from __future__ import annotations

from collections.abc import Mapping

import geopandas as gpd
import numpy as np
import shapely
from shapely import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant
from zoning.outputs.drawing.frame import RULES, Frame
from zoning.outputs.drawing.labels import WHITE, Labels, letters_mm
from zoning.outputs.drawing.svg import path, text

_STEPS = (1, 2, 5, 10, 20, 50, 100)
_NEAR_MM = 0.3
_APART_MM = 0.6  # so that two numbers are not read as one


def pass_numbers(passes: gpd.GeoDataFrame, frame: Frame, labels: Labels, width_m: float) -> str:
    """Return the numbers of passes, each off all that is drawn; one without room is left out.

    Of straight passes the first, the last and every so many between are told, where they, drawn out
    beyond their start, leave the field. Of rounds that start side by side the outermost and the
    innermost are told.

    Parameters
    ----------
    passes
        ``pass, step, laid`` and lines.
    frame, labels
        Where the field lies on paper; what is there already is kept off, and these numbers too.
    width_m
        Width of the machine.
    """
    order = passes.sort_values(["pass", "step"], kind="stable")
    firsts = order[~order["pass"].duplicated()]
    lines = {
        laid: dict(zip(held["pass"].astype(int), held.geometry, strict=True))
        for laid, held in firsts.groupby(firsts["laid"] == "round")
    }
    on_rounds = _of_rounds(lines.get(True, {}), frame, labels)
    return on_rounds + _of_straight(lines.get(False, {}), frame, labels, width_m * frame.mm_per_m)


def _of_rounds(lines: Mapping[int, BaseGeometry], frame: Frame, labels: Labels) -> str:
    """Return the numbers of rounds on their starts, black on white."""
    starts = {
        number: Point(shapely.get_coordinates(frame.on_paper(line))[0])
        for number, line in lines.items()
    }
    told = ""
    for number, start in starts.items():
        beside = [starts[each] for each in (number - 1, number + 1) if each in starts]
        near = [start.distance(each) < constant(RULES, "passes_apart_mm") for each in beside]
        box = _box(number, start)
        if near.count(True) < 2 and _is_free(box, labels):
            labels.taken.append(box.buffer(_APART_MM))
            told += path(box.buffer(_APART_MM / 2), fill=WHITE) + _drawn(number, box)
    return told


def _of_straight(
    lines: Mapping[int, BaseGeometry], frame: Frame, labels: Labels, apart_mm: float
) -> str:
    """Return the numbers of straight passes, `apart_mm` from each other, clear of the outline."""
    least_mm = constant(RULES, "passes_apart_mm")
    step = next((n for n in _STEPS if n * apart_mm >= least_mm), _STEPS[-1])
    told, numbers = "", list(lines)
    wanted = [*numbers[:1], *numbers[-1:], *[number for number in numbers if number % step == 0]]
    for number in dict.fromkeys(wanted):
        spots = _beyond(frame.on_paper(lines[number]), labels.ground)
        boxes = [_box(number, spot) for spot in spots]
        box = next((each for each in boxes if _is_free(each, labels, labels.ground)), None)
        if box is not None:
            labels.taken.append(box.buffer(_APART_MM))
            told += _drawn(number, box)
    return told


def _beyond(line: BaseGeometry, field: BaseGeometry) -> list[Point]:
    """Return places off the field that a line reaches when it is drawn out over its start."""
    xy = shapely.get_coordinates(line)[:2]
    if len(xy) < 2 or (xy[0] == xy[1]).all():
        return []
    way = (xy[0] - xy[1]) / np.hypot(*(xy[0] - xy[1]))
    far_mm = float(np.hypot(*np.ptp(np.array(field.bounds).reshape(2, 2), axis=0)))
    inside = shapely.intersection(field, LineString([xy[0], xy[0] + way * far_mm]))
    own = [part for part in shapely.get_parts(inside) if part.distance(Point(xy[0])) < _NEAR_MM]
    out_mm = max((part.length for part in own), default=0.0)
    off_mm = constant(RULES, "pass_off_mm")
    return [Point(xy[0] + way * (out_mm + times * off_mm)) for times in (1.0, 1.5, 2.0, 3.0, 4.0)]


def _box(number: int, spot: Point) -> Polygon:
    high = constant(RULES, "pass_number_mm")
    half = letters_mm(str(number), high) / 2
    return shapely.box(spot.x - half, spot.y - high / 2, spot.x + half, spot.y + high / 2)


def _is_free(box: Polygon, labels: Labels, *also: BaseGeometry) -> bool:
    """Return whether a number lies on nothing that is there, and clear of hazards and of `also`."""
    beside = shapely.distance(box, [*labels.crossed, *also])
    on_it = shapely.intersects(box, labels.taken)
    return labels.paper.covers(box) and not on_it.any() and bool((beside >= _APART_MM).all())


def _drawn(number: int, box: Polygon) -> str:
    high, middle = constant(RULES, "pass_number_mm"), box.centroid
    return text(str(number), middle.x, middle.y + 0.36 * high, high, text_anchor="middle")
