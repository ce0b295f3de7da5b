"""Numbers of straight passes beside the field, at the end that their metres count from."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import shapely
from shapely import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant
from zoning.outputs.drawing.frame import RULES, Frame
from zoning.outputs.drawing.labels import Labels
from zoning.outputs.drawing.svg import text

_STEPS = (1, 2, 5, 10, 20, 50, 100)
_WIDTH_OF_A_LETTER = 0.66
_NEAR_MM = 0.3
_APART_MM = 0.6  # so that two numbers are not read as one


def straight(passes: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Return the first run of each straight pass, by number."""
    lines = passes[passes["laid"] != "round"].sort_values(["pass", "step"], kind="stable")
    return lines[~lines["pass"].duplicated()]


def pass_numbers(passes: gpd.GeoDataFrame, frame: Frame, labels: Labels, width_m: float) -> str:
    """Return the numbers of the first and the last straight pass and of every so many between.

    Each stands off the field where its pass, drawn out beyond its start, leaves it. A number
    without room there is left out.

    Parameters
    ----------
    passes
        ``pass, step, laid`` and lines.
    frame, labels
        Where the field lies on paper; what is there already is kept off, and these numbers too.
    width_m
        Width of the machine.
    """
    firsts = straight(passes)
    numbers = [int(number) for number in firsts["pass"]]
    apart_mm = width_m * frame.mm_per_m
    least_mm = constant(RULES, "passes_apart_mm")
    step = next((n for n in _STEPS if n * apart_mm >= least_mm), _STEPS[-1])
    lines = dict(zip(numbers, firsts.geometry, strict=True))
    wanted = [*numbers[:1], *numbers[-1:], *[number for number in numbers if number % step == 0]]
    told = []
    for number in dict.fromkeys(wanted):
        spots = _beyond(frame.on_paper(lines[number]), labels.ground)
        boxes = [_box(number, spot) for spot in spots]
        box = next((each for each in boxes if _is_free(each, labels)), None)
        if box is not None:
            labels.taken.append(box.buffer(_APART_MM))
            told.append(_drawn(number, box))
    return "".join(told)


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
    return [Point(xy[0] + way * (out_mm + times * off_mm)) for times in (1.0, 1.5, 2.0)]


def _box(number: int, spot: Point) -> Polygon:
    high = constant(RULES, "pass_number_mm")
    half = _WIDTH_OF_A_LETTER * high * len(str(number)) / 2
    return shapely.box(spot.x - half, spot.y - high / 2, spot.x + half, spot.y + high / 2)


def _is_free(box: Polygon, labels: Labels) -> bool:
    drawn = [*labels.taken, *labels.crossed, labels.ground]
    return labels.paper.covers(box) and not shapely.intersects(box, drawn).any()


def _drawn(number: int, box: Polygon) -> str:
    high, middle = constant(RULES, "pass_number_mm"), box.centroid
    return text(str(number), middle.x, middle.y + 0.36 * high, high, text_anchor="middle")
