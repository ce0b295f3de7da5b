"""Places of the map page: whole steps of a degree from the middle of the field."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant
from zoning.model import Plan
from zoning.outputs.places import LONLAT, transformed

RULES = "map_rules"
Steps = list[int]


@dataclass(frozen=True, slots=True)
class Places:
    """From the working coordinate system to whole steps of a degree.

    Parameters
    ----------
    crs
        The working coordinate system.
    lon, lat
        Where the steps are counted from [deg, WGS 84].
    """

    crs: str
    lon: float
    lat: float

    @classmethod
    def around(cls, plan: Plan) -> Places:
        """Return the places around the middle of the field's bounds."""
        west, south, east, north = plan.boundary.bounds
        middle = np.array([[(west + east) / 2, (south + north) / 2]])
        lon, lat = transformed(middle, plan.working_crs, LONLAT)[0]
        return cls(plan.working_crs, round(float(lon), 7), round(float(lat), 7))

    def lonlat(self, xy_m: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return longitude and latitude [deg], shape ``(n, 2)``.

        Longitudes run on past 180 degrees, so that a field on the date line stays whole.
        """
        found = transformed(xy_m, self.crs, LONLAT)
        found[:, 0] = self.lon + (found[:, 0] - self.lon + 180.0) % 360.0 - 180.0
        return found

    def point(self, x_m: float, y_m: float) -> Steps:
        """Return the place of one point: steps east, steps north."""
        east, north = self._steps(np.array([[x_m, y_m]]))[0]
        return [int(east), int(north)]

    def polygons(self, area: BaseGeometry) -> list[list[Steps]]:
        """Return the rings of each polygon, each as its first place and the moves from it on."""
        thin = _simple(area)
        return [
            [
                self._run(shapely.get_coordinates(ring)[:-1])
                for ring in (part.exterior, *part.interiors)
            ]
            for part in shapely.get_parts(thin)
            if isinstance(part, Polygon) and not part.is_empty
        ]

    def lines(self, shape: BaseGeometry) -> list[Steps]:
        """Return each line as its first place and the moves from it on."""
        return [
            self._run(shapely.get_coordinates(part))
            for part in shapely.get_parts(shape)
            if part.geom_type in ("LineString", "LinearRing") and not part.is_empty
        ]

    def points(self, shape: BaseGeometry) -> list[Steps]:
        """Return the place of each point of `shape`."""
        return [
            self.point(part.x, part.y)
            for part in shapely.get_parts(shape)
            if part.geom_type == "Point" and not part.is_empty
        ]

    def _run(self, xy_m: NDArray[np.float64]) -> Steps:
        steps = self._steps(xy_m)
        return [int(move) for move in np.vstack([steps[:1], np.diff(steps, axis=0)]).ravel()]

    def _steps(self, xy_m: NDArray[np.float64]) -> NDArray[np.int64]:
        away = self.lonlat(xy_m) - np.array([self.lon, self.lat])
        steps: NDArray[np.float64] = np.round(away * constant(RULES, "steps_a_degree"))
        return steps.astype(np.int64)


def _simple(area: BaseGeometry) -> BaseGeometry:
    return shapely.simplify(area, constant(RULES, "simplify_m"), preserve_topology=True)
