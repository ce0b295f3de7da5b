"""From the field to paper: millimetres from the upper left corner, north up."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant

RULES = "drawing_rules"


@dataclass(frozen=True, slots=True)
class Frame:
    """Where a field lies on paper.

    Parameters
    ----------
    width_mm, height_mm
        Size of the map without its legend.
    mm_per_m
        Scale.
    west_m, north_m
        Place of the upper left corner of the paper [m, working CRS].
    """

    width_mm: float
    height_mm: float
    mm_per_m: float
    west_m: float
    north_m: float

    @classmethod
    def around(
        cls, bounds_m: tuple[float, float, float, float], width_mm: float, height_mm: float
    ) -> Frame:
        """Return the frame that shows `bounds_m` as large as fits, no taller than it needs."""
        west, south, east, north = bounds_m
        margin = constant(RULES, "margin_mm")
        room = width_mm - 2 * margin, height_mm - 2 * margin
        across, down = max(east - west, 1e-6), max(north - south, 1e-6)
        scale = min(room[0] / across, room[1] / down)
        height = min(height_mm, down * scale + 2 * margin)
        left = (west + east) / 2 - width_mm / scale / 2
        top = (south + north) / 2 + height / scale / 2
        return cls(width_mm, height, scale, left, top)

    @property
    def paper(self) -> Polygon:
        """The paper, as a polygon [mm]."""
        return shapely.box(0, 0, self.width_mm, self.height_mm)

    def on_paper(self, geometry: BaseGeometry) -> BaseGeometry:
        """Return `geometry` on paper [mm], simplified to what the eye can see, cut at the edge."""
        moved = shapely.transform(geometry, self._moved)
        drawn = shapely.simplify(moved, constant(RULES, "tolerance_mm"), preserve_topology=True)
        return drawn if self.paper.covers(drawn) else shapely.intersection(drawn, self.paper)

    def _moved(self, xy_m: NDArray[np.float64]) -> NDArray[np.float64]:
        x, y = xy_m[:, 0] - self.west_m, self.north_m - xy_m[:, 1]
        return np.column_stack([x, y]) * self.mm_per_m

    def scale_bar_m(self) -> float:
        """Return the longest round length (1, 2 or 5 times a power of ten) for a scale bar [m]."""
        longest = self.width_mm * constant(RULES, "scale_share") / self.mm_per_m
        power = 10.0 ** math.floor(math.log10(longest))
        return next(step * power for step in (5, 2, 1) if step * power <= longest)


def hatching(area: BaseGeometry, apart_mm: float, *, rising: bool) -> BaseGeometry:
    """Return slanted lines `apart_mm` from each other inside `area` [mm].

    The lines lie on one grid for all areas, so two that touch are hatched alike.
    """
    if area.is_empty:
        return shapely.MultiLineString()
    west, north, east, south = area.bounds
    height = south - north
    step = apart_mm * math.sqrt(2.0)
    first = math.floor((west - height - south) / step)
    last = math.ceil((east + height + south) / step)
    lines = [
        _slanted(number * step, north, south, rising=rising) for number in range(first, last + 1)
    ]
    return shapely.intersection(shapely.MultiLineString(lines), area)


def _slanted(
    offset: float, north: float, south: float, *, rising: bool
) -> tuple[tuple[float, float], tuple[float, float]]:
    if rising:
        return (offset - south, south), (offset - north, north)
    return (offset + north, north), (offset + south, south)
