"""Places in a projected coordinate system: a north-up raster, and axes along a heading."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


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

    def centres_m(self) -> Floats:
        """Return the cell centres, ``(rows * columns, 2)``, by row from the north-west [m]."""
        x = self.west_m + (np.arange(self.columns) + 0.5) * self.cell_m
        y = self.north_m - (np.arange(self.rows) + 0.5) * self.cell_m
        return np.column_stack([np.tile(x, self.rows), np.repeat(y, self.columns)])

    def cell_of(self, xy_m: Floats) -> NDArray[np.int64]:
        """Return the flat index of the cell that holds each point of ``(n, 2)``, -1 outside."""
        column = np.floor((xy_m[:, 0] - self.west_m) / self.cell_m).astype(np.int64)
        row = np.floor((self.north_m - xy_m[:, 1]) / self.cell_m).astype(np.int64)
        inside = (column >= 0) & (column < self.columns) & (row >= 0) & (row < self.rows)
        return np.where(inside, row * self.columns + column, -1)


@dataclass(frozen=True, slots=True)
class HeadingFrame:
    """Axes along and across a heading.

    The origin moves with the field and the axes turn with the heading, so what is reckoned in them
    is the same for a field that is moved, or turned together with its heading.

    Parameters
    ----------
    origin_x_m, origin_y_m
        A place tied to the field, as its centroid [m, working CRS].
    heading_deg
        Direction of travel, clockwise from grid north [degrees].
    """

    origin_x_m: float
    origin_y_m: float
    heading_deg: float

    @property
    def _sin_cos(self) -> tuple[float, float]:
        angle = math.radians(self.heading_deg)
        return math.sin(angle), math.cos(angle)

    def along_across(self, xy_m: Floats) -> tuple[Floats, Floats]:
        """Return metres along the heading and metres to the right of it, each of shape ``(n,)``.

        Parameters
        ----------
        xy_m
            Places in the working CRS, shape ``(n, 2)`` [m].
        """
        sin, cos = self._sin_cos
        x, y = xy_m[:, 0] - self.origin_x_m, xy_m[:, 1] - self.origin_y_m
        return x * sin + y * cos, x * cos - y * sin

    def xy(self, along_m: Floats, across_m: Floats) -> Floats:
        """Return places in the working CRS, shape ``(n, 2)`` [m]: `along_across` undone."""
        sin, cos = self._sin_cos
        x = along_m * sin + across_m * cos + self.origin_x_m
        y = along_m * cos - across_m * sin + self.origin_y_m
        return np.column_stack([x, y])

    def inward(self, coordinates: Floats) -> Floats:
        """Return ``(across, along)`` of each place: passes run straight up the page."""
        along, across = self.along_across(coordinates)
        return np.column_stack([across, along])

    def outward(self, coordinates: Floats) -> Floats:
        """Return the places of ``(across, along)`` pairs in the working CRS."""
        return self.xy(coordinates[:, 1], coordinates[:, 0])
