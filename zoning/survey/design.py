"""The first survey: stations spread over every part of the field, with transects over wheelings."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant
from zoning.survey.ground import Places, random_points
from zoning.survey.shares import shares
from zoning.survey.spread import spread_out
from zoning.survey.transects import across


@dataclass(frozen=True, slots=True, eq=False)
class Design:
    """Where stations are to stand.

    Parameters
    ----------
    xy_m
        Shape ``(n, 2)`` [m].
    part
        Name of the part each stands in, shape ``(n,)``.
    role
        ``spread`` or ``transect``, shape ``(n,)``.
    """

    xy_m: Places
    part: NDArray[np.str_]
    role: NDArray[np.str_]


def first_survey(
    ground: gpd.GeoDataFrame, parts: gpd.GeoDataFrame, count: int, seed: int
) -> Design:
    """Return `count` stations spread over the parts of a field.

    Each part gets stations by its area, but no fewer than ``part_floor``; inside a part they are
    spread evenly. Where there are wheelings, some of their stations get companions on either side,
    taken from the stations of the ground they stand on.

    Parameters
    ----------
    ground
        Rows of `zoning.survey.probing_ground`.
    parts
        Rows of the partition, for the edges of the wheelings.
    count
        Stations in all.
    seed
        The same seed gives the same places.
    """
    floor = int(constant("survey_rules", "part_floor"))
    counts = shares(ground["area_ha"].to_numpy(dtype=np.float64), count, floor)
    placed = {
        row: _placed(ground.geometry.iloc[row], int(counts[row]), seed + row)
        for row in range(len(ground))
        if ground["kind"].iloc[row] == "wheeling"
    }
    beside_xy, beside_row = _transects(ground, parts, placed, counts)
    for row in range(len(ground)):
        if row not in placed:
            left = int(counts[row]) - int((beside_row == row).sum())
            placed[row] = _placed(ground.geometry.iloc[row], left, seed + row)
    rows = np.concatenate([np.repeat(row, len(xy)) for row, xy in sorted(placed.items())])
    xy = np.vstack([xy for _, xy in sorted(placed.items())])
    names = ground["part"].to_numpy(dtype=np.str_)
    return Design(
        np.vstack([xy, beside_xy]),
        names[np.concatenate([rows, beside_row]).astype(np.int64)],
        np.repeat(np.array(["spread", "transect"]), [len(xy), len(beside_xy)]),
    )


def _placed(area: BaseGeometry, count: int, seed: int) -> Places:
    least = int(constant("survey_rules", "points_least"))
    per_station = int(constant("survey_rules", "points_per_station"))
    rng = np.random.default_rng(seed)
    points = random_points(area, max(least, per_station * count), rng)
    return points[spread_out(points, count, seed)]


def _transects(
    ground: gpd.GeoDataFrame,
    parts: gpd.GeoDataFrame,
    placed: dict[int, Places],
    counts: NDArray[np.int64],
) -> tuple[Places, NDArray[np.int64]]:
    """Return the outer places of the transects and the row of the ground each stands on.

    No part gives up stations below ``part_floor``.
    """
    total = int(counts.sum())
    floor = int(constant("survey_rules", "part_floor"))
    xy: list[Places] = []
    rows: list[int] = []
    if total < constant("survey_rules", "transect_stations"):
        return np.empty((0, 2)), np.empty(0, dtype=np.int64)
    wanted = max(1, round(total * constant("survey_rules", "transects_per_station")))
    stations = [(row, place) for row, places in sorted(placed.items()) for place in places]
    for row, place in stations:
        outer = _beside(ground, parts, row, place)
        spare = [int(counts[r]) - rows.count(r) - floor for _, r in outer]
        if len(outer) < 2 or min(spare) < 2 or len(xy) >= 2 * wanted:
            continue
        xy += [each for each, _ in outer]
        rows += [r for _, r in outer]
    return np.array(xy).reshape(-1, 2), np.array(rows, dtype=np.int64)


def _beside(
    ground: gpd.GeoDataFrame, parts: gpd.GeoDataFrame, row: int, place: Places
) -> list[tuple[Places, int]]:
    wheeling = parts.geometry[parts["part"] == ground["part"].iloc[row]].iloc[0]
    step_m = constant("survey_rules", "transect_step_m")
    anywhere = shapely.union_all(ground.geometry.to_numpy())
    found = across(place, wheeling, anywhere, step_m)
    inside = [ground.geometry.contains(shapely.Point(each)).to_numpy() for each in found]
    return [(each, int(np.argmax(held))) for each, held in zip(found, inside, strict=True)]
