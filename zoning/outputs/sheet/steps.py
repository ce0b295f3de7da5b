"""The order of work: which zones are worked at which setting, straight passes first, headland last.

That order is common practice: ground of the headland is turned on until the rest is done.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

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

    @property
    def listed(self) -> str:
        """The numbers, three and more in a row as a range."""
        return ", ".join(_ranges(self.zones))


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
        Setting(float(str(depth)), tuple(sorted(int(zone) for zone in alike["zone"])))
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
    side = _side(starts + ends)
    told += [f"straight passes {_span(numbers)}{side}"] if numbers else []
    way = (ends - starts).sum(axis=0)
    if not numbers or not bool(((ends - starts) @ way > 0).all()):
        return f"{_capital(', then '.join(told))}." if told else ""
    return (
        f"{_capital(', then '.join(told))}. Metres count from the {_compass(-way)} end of every "
        "straight pass; if driven back, read its rows from the last up."
    )


def _ends(passes: gpd.GeoDataFrame) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return start and end of each pass in order [m], shape (passes, 2)."""
    order = passes.sort_values(["pass", "step"], kind="stable")
    first, last = (~order["pass"].duplicated(keep=keep) for keep in ("first", "last"))
    starts = shapely.get_point(order[first].geometry.to_numpy(), 0)
    ends = shapely.get_point(order[last].geometry.to_numpy(), -1)
    return shapely.get_coordinates(starts), shapely.get_coordinates(ends)


def _side(middles: NDArray[np.float64]) -> str:
    """Return on which side of the field the straight passes begin."""
    return f" from the {_compass(middles[0] - middles[-1])} side on" if len(middles) > 1 else ""


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


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
