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
from shapely.geometry.base import BaseGeometry

from zoning.units import as_number

_HEADLAND = "headland"
_COMPASS = (
    "north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west",
)  # fmt: skip


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
            for each in _ranges([zone for zone in self.zones if zone not in marked])
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
        ``pass, part, from_m, to_m`` and lines. A zone belongs to the stage of the runs whose middle
        lies in it, which may be both; one that holds no such middle to the straight passes.
    """
    rounds = headland_rounds(passes)
    lines = passes.geometry.to_numpy()
    middles = shapely.line_interpolate_point(lines, 0.5, normalized=True)
    of_run, of_zone = zones.sindex.query(middles, predicate="intersects")
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
    """Return the numbers of the passes that run in the headland for most of their length."""
    length = (passes["to_m"] - passes["from_m"]).astype(float)
    inside = length.where(passes["part"] == _HEADLAND, 0.0)
    share = inside.groupby(passes["pass"]).sum() / length.groupby(passes["pass"]).sum()
    return frozenset(int(number) for number in share.index[share > 0.5])


def how_counted(passes: gpd.GeoDataFrame) -> str:
    """Return how passes and metres along them are counted, as far as the passes agree on it."""
    rounds = headland_rounds(passes)
    numbers = sorted(set(passes["pass"].astype(int)) - rounds)
    starts, ends = _ends(passes[passes["pass"].isin(numbers)])
    told = [f"headland rounds {_span(rounds)}"] if rounds else []
    told += [f"straight passes {_counted(numbers, starts + ends)}"] if numbers else []
    if not told:
        return ""
    words = f"In depth_passes.csv: {', '.join(told)}."
    way = (ends - starts).sum(axis=0)
    if not numbers or not bool(((ends - starts) @ way > 0).all()):
        return words
    return (
        f"{words} Metres count from the {_compass(-way)} end of every straight pass; if driven "
        "back, read its rows from the last up."
    )


def begin_with(
    passes: gpd.GeoDataFrame, gateways: BaseGeometry, first_cm: float | None = None
) -> str:
    """Return with which straight pass to begin: of the outermost two the one farther from gateways.

    Where one depth is worked after another, the first of them is `first_cm` and it begins with the
    first pass from that side that has it [cm]. Passes lifted out all the way are none to begin
    with. Nothing is told where there is one pass.
    """
    deepest = passes.groupby("pass")["depth_cm"].max()
    numbers = sorted(set(deepest.index[deepest > 0].astype(int)) - headland_rounds(passes))
    if len(numbers) < 2:
        return ""
    outer = numbers[0], numbers[-1]
    lines = [passes[passes["pass"] == number].geometry.union_all() for number in outer]
    near_m = [0.0 if gateways.is_empty else line.distance(gateways) for line in lines]
    own = int(near_m[1] > near_m[0])
    middles = shapely.get_coordinates(shapely.centroid(lines))
    away = "" if near_m[0] == near_m[1] else ", away from the gateway"
    side = _compass(middles[own] - middles[1 - own])
    if first_cm is None:
        return f" Begin with pass {outer[own]} on the {side} side{away}."
    having = sorted(set(numbers) & set(passes.loc[passes["depth_cm"] == first_cm, "pass"]))
    first = f", the first with pass {having[-own]}" if having else ""
    return f" Begin each depth on the {side} side{away}{first}."


def _ends(passes: gpd.GeoDataFrame) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return start and end of each pass in order [m], shape (passes, 2)."""
    order = passes.sort_values(["pass", "step"], kind="stable")
    first, last = (~order["pass"].duplicated(keep=keep) for keep in ("first", "last"))
    starts = shapely.get_point(order[first].geometry.to_numpy(), 0)
    ends = shapely.get_point(order[last].geometry.to_numpy(), -1)
    return shapely.get_coordinates(starts), shapely.get_coordinates(ends)


def _counted(numbers: Sequence[int], middles: NDArray[np.float64]) -> str:
    """Return the numbers of passes, with the sides of the field that the outermost lie on."""
    if len(numbers) < 2:
        return _span(numbers)
    way = middles[0] - middles[-1]
    return f"{numbers[0]} ({_compass(way)} side) to {numbers[-1]} ({_compass(-way)} side)"


def _compass(way: NDArray[np.float64]) -> str:
    """Return the point of the compass that a direction (east, north) is nearest to."""
    turn_deg = math.degrees(math.atan2(way[0], way[1]))
    return _COMPASS[round(turn_deg / 45.0) % 8]


def _span(numbers: Iterable[int]) -> str:
    held = sorted(numbers)
    return str(held[0]) if len(held) == 1 else f"{held[0]} to {held[-1]}"


def _ranges(numbers: Sequence[int]) -> Iterator[str]:
    """Yield numbers, three and more in a row as their first and last."""
    rank = np.array(numbers) - np.arange(len(numbers))
    for first in sorted(set(rank.tolist())):
        held = [number for number, at in zip(numbers, rank, strict=True) if at == first]
        yield from [f"{held[0]}–{held[-1]}"] if len(held) > 2 else map(str, held)
