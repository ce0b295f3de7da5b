"""Random places over all parts of a field, the small parts not forgotten."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from zoning.survey.ground import Places, random_points
from zoning.survey.shares import shares
from zoning.units import M2_PER_HA

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Scattered:
    """Places, the part each lies in, and the ground it stands for.

    Parameters
    ----------
    xy_m
        Shape ``(n, 2)`` [m].
    part
        Name of the part, shape ``(n,)``.
    area_ha
        Area of the part over the number of places in it, shape ``(n,)``.
    """

    xy_m: Places
    part: NDArray[np.str_]
    area_ha: Floats


def even_m(area_ha: float, count: int) -> float:
    """Return the distance between neighbours of a square grid of `count` places [m]."""
    return float(np.sqrt(area_ha * M2_PER_HA / count))


def apart_from(places: Scattered, taken_m: Places, apart_m: float) -> Scattered:
    """Return those of `places` that lie `apart_m` or more from each of `taken_m`; else all."""
    gap_m = cKDTree(taken_m).query(places.xy_m)[0]
    free = np.asarray(gap_m >= apart_m)
    if not free.any():
        return places
    return Scattered(places.xy_m[free], places.part[free], places.area_ha[free])


def scattered(ground: gpd.GeoDataFrame, count: int, least: int, seed: int) -> Scattered:
    """Return `count` random places: by the area of the parts, at least `least` in each.

    Parameters
    ----------
    ground
        ``part, area_ha, geometry``; the places lie in the geometry and stand for the area.
    count, least
        Places in all, and fewest in a part.
    seed
        The same seed gives the same places.
    """
    area = ground["area_ha"].to_numpy(dtype=np.float64)
    counts = shares(area, count, least)
    rng = np.random.default_rng(seed)
    xy = [random_points(s, int(n), rng) for s, n in zip(ground.geometry, counts, strict=True)]
    part = np.repeat(ground["part"].to_numpy(dtype=np.str_), counts)
    stands_for = np.repeat(area / np.maximum(counts, 1), counts)
    return Scattered(np.vstack(xy), part, stands_for)
