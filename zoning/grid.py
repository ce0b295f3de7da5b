"""A north-up grid of square cells in a projected coordinate system."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Grid:
    """Place of every cell of a raster.

    Parameters
    ----------
    west_m, north_m
        Upper left corner of the upper left cell [m, working CRS].
    cell_m
        Side of a cell [m].
    rows, columns
        Number of cells down and across.
    """

    west_m: float
    north_m: float
    cell_m: float
    rows: int
    columns: int

    @classmethod
    def covering(cls, bounds_m: tuple[float, float, float, float], cell_m: float) -> Grid:
        """Return the smallest grid of whole cells over ``(min x, min y, max x, max y)`` [m].

        The corner lies on a whole multiple of `cell_m`: a field moved by whole cells keeps them.
        """
        west = math.floor(bounds_m[0] / cell_m) * cell_m
        north = math.ceil(bounds_m[3] / cell_m) * cell_m
        columns = max(1, math.ceil((bounds_m[2] - west) / cell_m))
        rows = max(1, math.ceil((north - bounds_m[1]) / cell_m))
        return cls(west, north, cell_m, rows, columns)

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.rows, self.columns

    def centres_m(self) -> NDArray[np.float64]:
        """Return the cell centres, ``(rows * columns, 2)``, by row from the north-west [m]."""
        x = self.west_m + (np.arange(self.columns) + 0.5) * self.cell_m
        y = self.north_m - (np.arange(self.rows) + 0.5) * self.cell_m
        return np.column_stack([np.tile(x, self.rows), np.repeat(y, self.columns)])

    def cell_of(self, xy_m: NDArray[np.float64]) -> NDArray[np.int64]:
        """Return the flat index of the cell that holds each point of ``(n, 2)``, -1 outside."""
        column = np.floor((xy_m[:, 0] - self.west_m) / self.cell_m).astype(np.int64)
        row = np.floor((self.north_m - xy_m[:, 1]) / self.cell_m).astype(np.int64)
        inside = (column >= 0) & (column < self.columns) & (row >= 0) & (row < self.rows)
        return np.where(inside, row * self.columns + column, -1)
