"""The raster that a plan publishes: its cells and the part each lies in. No depth rests on it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon

from zoning import parts as parts_room
from zoning.contracts import constant
from zoning.grid import Grid
from zoning.model import PanSurface, Settings


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """The raster cells whose centre lies in the field.

    Parameters
    ----------
    grid
        The whole raster.
    inside
        Which cells lie in the field, shape ``grid.shape``.
    xy_m
        Their centres, shape ``(n, 2)`` [m].
    part
        Name of the part each lies in, shape ``(n,)``.
    """

    grid: Grid
    inside: NDArray[np.bool_]
    xy_m: NDArray[np.float64]
    part: NDArray[np.str_]

    def raster(self, values: NDArray[np.generic]) -> NDArray[np.float64]:
        """Return `values`, one a cell inside, as a raster with NaN outside."""
        band = np.full(self.grid.shape, np.nan)
        band[self.inside] = values
        return band

    def pan_rasters(
        self, pan: PanSurface, depth_cm: NDArray[np.float64]
    ) -> Mapping[str, NDArray[np.float64]]:
        """Return the rasters of a plan by name: the pan, and the working depth [cm]."""
        bands = {
            "pan_base_cm": pan.base_mean_cm,
            "pan_base_sd_cm": pan.base_sd_cm,
            "pan_probability": pan.pan_probability,
            "working_depth_cm": depth_cm,
            "stations_near": pan.stations_near,
        }
        return {name: self.raster(values) for name, values in bands.items()}


def cell_side_m(boundary: MultiPolygon, settings: Settings) -> float:
    """Return the side of a raster cell [m]: fine enough for machine and wheelings, few in all."""
    side = settings.machine.width_m / constant("plan_rules", "cells_across_machine")
    if settings.areas.wheelings is not None:
        across = constant("plan_rules", "cells_across_wheeling")
        side = min(side, settings.areas.wheelings.width_m / across)
    west, south, east, north = boundary.bounds
    fewest = math.sqrt((east - west) * (north - south) / constant("plan_rules", "cells_max"))
    side = max(side, fewest, constant("plan_rules", "cell_min_m"))
    return math.ceil(side * 4) / 4


def lay_cells(boundary: MultiPolygon, parts: gpd.GeoDataFrame, settings: Settings) -> Cells:
    """Lay a raster over the field and find the part of each cell."""
    grid = Grid.covering(boundary.bounds, cell_side_m(boundary, settings))
    centres = grid.centres_m()
    shapely.prepare(boundary)
    inside = shapely.contains_xy(boundary, centres)
    xy_m = centres[inside]
    return Cells(grid, inside.reshape(grid.shape), xy_m, parts_room.part_of(parts, xy_m))
