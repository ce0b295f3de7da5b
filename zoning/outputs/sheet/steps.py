"""The order of work: which zones are worked at which setting, straight passes first, headland last.

That order is common practice: ground of the headland is turned on until the rest is done.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from shapely import LinearRing, LineString, MultiLineString, MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant
from zoning.units import as_number, compass

Floats = NDArray[np.float64]

_RULES = "sheet_rules"
_SAME_PLACE_M = 0.01
_ALONG = np.linspace(0.0, 1.0, 25)  # places along a round where it is looked at
_CUT = " A pass that a gap cuts goes on beyond it as another, with a 0 m of its own."


@dataclass(frozen=True, slots=True)
class Setting:
    """The zones worked at one depth in one stage of the work.

    Parameters
    ----------
    depth_cm
        Working depth [cm].
    zones
        Their numbers.
    """

    depth_cm: float
    zones: tuple[int, ...]

    def listed(self, marked: Collection[int] = (), mark: str = "") -> str:
        """Return the numbers, three and more in a row as a range; `marked` ones with `mark`."""
        told = {
            int(each.partition("–")[0]): each
            for each in ranges([zone for zone in self.zones if zone not in marked])
        }
        told |= {zone: f"{zone}{mark}" for zone in self.zones if zone in marked}
        return ", ".join(told[first] for first in sorted(told))


@dataclass(frozen=True, slots=True)
class Stages:
    """The settings of the straight passes, and those of the headland rounds that follow them."""

    straight: tuple[Setting, ...]
    headland: tuple[Setting, ...]


def work_stages(zones: gpd.GeoDataFrame, passes: gpd.GeoDataFrame) -> Stages:
    """Return which zones are worked at which depth, stage by stage, the shallowest first.

    Parameters
    ----------
    zones
        ``zone, depth_cm`` and geometry.
    passes
        ``pass, laid, depth_cm`` and lines. A zone belongs to the stage of the runs whose middle
        lies in it, which may be both; where some are of its depth to theirs alone, since a pass
        that is narrow for a stretch may run beside its own ground there. One that holds no middle
        belongs to the straight passes.
    """
    rounds = headland_rounds(passes)
    lines = passes.geometry.to_numpy()
    middles = shapely.line_interpolate_point(lines, 0.5, normalized=True)
    of_run, of_zone = zones.sindex.query(middles, predicate="intersects")
    planned, run_cm = (frame["depth_cm"].to_numpy(np.float64) for frame in (zones, passes))
    own = planned[of_zone] == run_cm[of_run]
    told = own | ~np.isin(of_zone, of_zone[own])
    of_run, of_zone = of_run[told], of_zone[told]
    turned = passes["pass"].isin(rounds).to_numpy()[of_run]
    in_rounds, straight = set(of_zone[turned]), set(of_zone[~turned])
    straight |= set(range(len(zones))) - in_rounds
    return Stages(_settings(zones, straight), _settings(zones, in_rounds))


def _settings(zones: pd.DataFrame, rows: set[int]) -> tuple[Setting, ...]:
    held = zones.iloc[sorted(rows)]
    held = held[held["depth_cm"] > 0]
    return tuple(
        Setting(as_number(depth), tuple(sorted(int(zone) for zone in alike["zone"])))
        for depth, alike in held.groupby("depth_cm", sort=True)
    )


def headland_rounds(passes: pd.DataFrame) -> frozenset[int]:
    """Return the numbers of the passes laid as rounds, whatever part lies beneath them.

    The innermost round may run in the body for most of its length: it is a round all the same.
    """
    return frozenset(passes.loc[passes["laid"] == "round", "pass"].astype(int))


def how_counted(passes: gpd.GeoDataFrame, boundary: BaseGeometry | None = None) -> str:
    """Return how passes and metres along them are counted, as far as the passes agree on it.

    Rounds about gaps in `boundary` are told apart from those along the edge of the field.
    """
    rounds = headland_rounds(passes)
    turned = passes["pass"].isin(rounds)
    lines, loops = _lines(passes[~turned]), _lines(passes[turned])
    gaps = shapely.get_parts(MultiPolygon() if boundary is None else boundary)
    rings = [ring for part in gaps for ring in part.interiors]
    about = _about_gaps(loops, rings, boundary)
    told = [f"headland rounds {_span(rounds)}{about.which}"] if rounds else []
    told += [f"straight passes {_counted(lines)}"] if len(lines) else []
    if not told:
        return ""
    words = f"In depth_passes.csv: {', '.join(told)}."
    words += _CUT if rings and len(lines) else ""
    way = _heading(lines)
    from_where = [] if way is None else [f"from the {compass(-way)} end of every straight pass"]
    from_where += [_rounds_begin(loops, about)] if rounds else []
    if not from_where:
        return words
    return (
        f"{words} Metres count {', and '.join(from_where)}; if driven the other way, read its rows "
        "from the last up."
    )


def begin_with(
    passes: gpd.GeoDataFrame, gateways: BaseGeometry, depths_cm: Sequence[float] = ()
) -> str:
    """Return with which straight pass to begin: of the outermost two the one farther from gateways.

    Where one depth is worked after another, `depths_cm` [cm], each begins with the first pass from
    that side that has it; a depth on next to no metres is told with them. Passes lifted out all the
    way are none to begin with. Nothing is told where there is one pass.
    """
    deepest = passes.groupby("pass")["depth_cm"].transform("max")
    worked = passes[(deepest > 0) & (passes["laid"] != "round")]
    lines = _lines(worked)
    if len(lines) < 2:
        return ""
    outer = lines.iloc[[0, -1]]
    near_m = [_off_m(line, gateways, _across(lines)) for line in outer]
    own = int(near_m[1] > near_m[0] + _SAME_PLACE_M)
    alike = abs(near_m[0] - near_m[1]) <= _SAME_PLACE_M
    away = "" if alike else ", away from the gateway"
    side = compass(_across(lines) * (1 - 2 * own))
    if len(depths_cm) < 2:
        return f" Begin with pass {outer.index[own]} on the {side} side{away}."
    first: dict[str, list[str]] = {}
    for depth_cm in depths_cm:
        runs = worked[worked["depth_cm"] == depth_cm]
        if len(runs):
            number = int(runs["pass"].max() if own else runs["pass"].min())
            all_m = float(runs.geometry.length.sum())
            few = f" ({all_m:.0f} m in all)" if all_m < constant(_RULES, "few_metres_m") else ""
            first.setdefault(f"pass {number}{few}", []).append(f"{depth_cm:g}")
    told = "; ".join(f"{', '.join(cm)} cm with {begun}" for begun, cm in first.items())
    return f" Begin each depth with its first pass from the {side} side{away}: {told}."


def _off_m(line: LineString, gateways: BaseGeometry, across: Floats) -> float:
    """Return how far off a pass, lengthened without end, the nearest gateway lies; 0 without one.

    The outermost pass may be short and lie at the other end of the side that the gateway is on. A
    gateway is the ground about it: 0 m off a pass that crosses it.
    """
    middle = shapely.get_coordinates(line.centroid)[0]
    unit = across / np.hypot(*across)
    grounds = [own for own in shapely.get_parts(gateways) if not own.is_empty]
    sides = [(shapely.get_coordinates(own) - middle) @ unit for own in grounds]
    return min((max(0.0, float(m.min()), -float(m.max())) for m in sides), default=0.0)


def _lines(passes: gpd.GeoDataFrame) -> pd.Series:
    """Return the middle line of each pass from its start to its end, by number in order."""
    order = passes.sort_values(["pass", "step"], kind="stable")
    numbers = order["pass"].to_numpy(dtype=np.int64)
    vertices, run = shapely.get_coordinates(order.geometry.to_numpy(), return_index=True)
    held = np.unique(numbers)
    lines = [LineString(vertices[numbers[run] == number]) for number in held]
    return pd.Series(lines, index=held, dtype=object)


def _ends(lines: pd.Series) -> tuple[Floats, Floats]:
    """Return the places where the lines start and where they end [m], shape (passes, 2)."""
    starts, ends = (shapely.get_point(lines.to_numpy(), at) for at in (0, -1))
    return shapely.get_coordinates(starts), shapely.get_coordinates(ends)


def _heading(lines: pd.Series) -> Floats | None:
    """Return the direction that straight passes run in; nothing where they do not agree on it."""
    starts, ends = _ends(lines)
    way = (ends - starts).sum(axis=0)
    return way if len(lines) and bool(((ends - starts) @ way > 0).all()) else None


def _across(lines: pd.Series) -> Floats:
    """Return the direction from the last straight pass to the first, square to how they run.

    On a field with a slant or a bend that is the side they lie on; their middles may lie askew.
    Passes that do not agree on how they run, or lie in one row, are told apart by their middles.
    """
    starts, ends = _ends(lines)
    middles, way = starts + ends, _heading(lines)
    apart = np.asarray(middles[0] - middles[-1], dtype=np.float64)
    if way is None:
        return apart
    square = np.array([-way[1], way[0]]) / np.hypot(*way)
    on_it = float(apart @ square)
    return square * on_it if abs(on_it) > _SAME_PLACE_M else apart


@dataclass(frozen=True, slots=True)
class _About:
    """The rounds about gaps in the field, by number, and what a gap is called."""

    rounds: frozenset[int] = frozenset()
    gap: str = ""

    @property
    def which(self) -> str:
        told = ", ".join(ranges(sorted(self.rounds)))
        return f" ({told} about {self.gap})" if told else ""


def _about_gaps(
    loops: pd.Series, rings: Sequence[LinearRing], boundary: BaseGeometry | None
) -> _About:
    """Return the rounds that for most of their way lie nearer to a gap than to the edge."""
    if not rings or boundary is None:
        return _About()
    edge = MultiLineString([part.exterior for part in shapely.get_parts(boundary)])
    inner = MultiLineString(list(rings))
    held = set()
    for number, line in loops.items():
        spots = shapely.line_interpolate_point(line, _ALONG, normalized=True)
        nearer = shapely.distance(spots, inner) < shapely.distance(spots, edge)
        held |= {int(str(number))} if nearer.mean() > 0.5 else set()
    return _About(frozenset(held), "the gap" if len(rings) == 1 else "gaps")


def _rounds_begin(lines: pd.Series, about: _About) -> str:
    """Return which way round and from where the metres of the rounds count."""
    told: dict[tuple[str, bool], list[int]] = {}
    for number, line in lines.items():
        own = int(str(number))
        told.setdefault((_start_of(line), own in about.rounds), []).append(own)
    if len(told) == 1:
        return f"{next(iter(told))[0]} of every round"
    most = sorted(told, key=lambda where: (-len(told[where]), told[where][0]))[
        : int(constant(_RULES, "round_starts_told"))
    ]
    edge = len(lines) - len(about.rounds)
    words = []
    for start, inside in most:
        held = told[start, inside]
        which = f"round{'s' * (len(held) > 1)} {', '.join(ranges(held))}"
        if about.rounds and len(held) == (len(about.rounds) if inside else edge):
            which = f"every round {f'about {about.gap}' if inside else 'along the edge'}"
        words.append(f"{start} of {which}")
    words += ["of the other rounds as start_lon and start_lat show"] * (len(told) > len(most))
    return ", ".join(words)


def _start_of(line: LineString) -> str:
    """Return from where the metres of a round count, and which way round where it closes.

    The corner is named by where it points, square to the line from one side to the other. So the
    four corners of a rectangle have four names, however it lies and however long it is. Where
    there is no corner to see, the number of the pass on the map shows the place.
    """
    start, end = shapely.get_coordinates(line)[[0, -1]]
    hull: BaseGeometry = line.convex_hull
    if math.dist(start, end) > _SAME_PLACE_M or not isinstance(hull, Polygon):
        return f"from the {compass(start - end)} end"
    turning = "anticlockwise" if shapely.is_ccw(shapely.linearrings(line.coords)) else "clockwise"
    at, round_m = hull.exterior.project(Point(start)), hull.length
    reach_m = constant(_RULES, "corner_side_share") * round_m
    near = [hull.exterior.interpolate((at + by) % round_m) for by in (-reach_m, reach_m)]
    one, two = shapely.get_coordinates(near) - start
    bend_deg = 180.0 - math.degrees(math.acos(max(-1.0, float(one @ two) / reach_m**2)))
    square = np.array([two[1] - one[1], one[0] - two[0]])
    outward = square * np.sign(square @ (start - shapely.get_coordinates(hull.centroid)[0]))
    corner = bend_deg >= constant(_RULES, "corner_bend_deg")
    where = "corner" if corner else "side (numbered on the map)"
    return f"{turning} from the {compass(outward)} {where}"


def _counted(lines: pd.Series) -> str:
    """Return the numbers of passes, with the sides of the field that the outermost lie on."""
    numbers = [int(number) for number in lines.index]
    if len(numbers) < 2:
        return _span(numbers)
    way = _across(lines)
    return f"{numbers[0]} ({compass(way)} side) to {numbers[-1]} ({compass(-way)} side)"


def _span(numbers: Iterable[int]) -> str:
    held = sorted(numbers)
    return str(held[0]) if len(held) == 1 else f"{held[0]} to {held[-1]}"


def ranges(numbers: Sequence[int]) -> Iterator[str]:
    """Yield numbers, three and more in a row as their first and last."""
    rank = np.array(numbers) - np.arange(len(numbers))
    for first in sorted(set(rank.tolist())):
        held = [number for number, at in zip(numbers, rank, strict=True) if at == first]
        yield from [f"{held[0]}–{held[-1]}"] if len(held) > 2 else map(str, held)
