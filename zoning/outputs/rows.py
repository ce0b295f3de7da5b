"""The rows of each table of a plan, columns as the file contract names them."""

from __future__ import annotations

import math

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from zoning.contracts import constant
from zoning.errors import OutputFailed
from zoning.grid import Grid
from zoning.model import Plan
from zoning.outputs.columns import table_schema
from zoning.outputs.places import lonlat_points


def zones_in_order(plan: Plan) -> gpd.GeoDataFrame:
    """Return the zones sorted by number."""
    return plan.zones.sort_values("zone", kind="stable").reset_index(drop=True)


def zone_rows(plan: Plan) -> pd.DataFrame:
    """Return one row a zone without its outline: the columns of the contract that the plan has."""
    zones = zones_in_order(plan)
    frame = pd.DataFrame(zones.drop(columns=zones.geometry.name))
    frame["plan_id"] = plan.plan_id
    return _in_order(frame, "depth_zones")


def passes_in_order(plan: Plan) -> gpd.GeoDataFrame:
    """Return the runs of the passes in driving order."""
    return plan.passes.sort_values(["pass", "step"], kind="stable").reset_index(drop=True)


def pass_rows(plan: Plan) -> pd.DataFrame:
    """Return one row a run of a pass at one depth, in driving order, with the ends of its line."""
    return _in_order(with_ends(passes_in_order(plan), plan.working_crs), "depth_passes")


def with_ends(passes: gpd.GeoDataFrame, working_crs: str) -> pd.DataFrame:
    """Return the runs of passes without their lines, with longitude and latitude of both ends."""
    ends = [shapely.get_coordinates(line)[[0, -1]] for line in passes.geometry]
    place = lonlat_points(np.reshape(ends, (-1, 2)), working_crs).reshape(-1, 4)
    frame = pd.DataFrame(passes.drop(columns=passes.geometry.name))
    for column, name in enumerate(("start_lon", "start_lat", "end_lon", "end_lat")):
        frame[name] = place[:, column]
    return frame


def grid_rows(plan: Plan) -> pd.DataFrame:
    """Return ``lon, lat, depth_cm`` of each cell of a regular grid whose centre is in the field.

    The cell is `grid_share_of_width` of the machine's width, halved until every zone holds the
    centre of a cell, no finer than `grid_cell_least_m` and no more than `grid_rows_most` cells.
    """
    return depth_grid(zones_in_order(plan), plan.settings.machine.width_m, plan.working_crs)


def depth_grid(zones: gpd.GeoDataFrame, width_m: float, working_crs: str) -> pd.DataFrame:
    """Return `grid_rows` of zones worked by a machine of `width_m`."""
    cell = width_m * constant("output_rules", "grid_share_of_width")
    least = constant("output_rules", "grid_cell_least_m")
    most = constant("output_rules", "grid_rows_most")
    grid, depth, missed = _depth_on_grid(zones, cell)
    while missed and cell / 2 >= least and np.isfinite(depth).sum() * 4 <= most:
        cell /= 2
        grid, depth, missed = _depth_on_grid(zones, cell)
    inside = np.isfinite(depth)
    place = lonlat_points(grid.centres_m()[inside], working_crs)
    return pd.DataFrame({"lon": place[:, 0], "lat": place[:, 1], "depth_cm": depth[inside]})


def _depth_on_grid(
    zones: gpd.GeoDataFrame, cell_m: float
) -> tuple[Grid, NDArray[np.float64], bool]:
    """Return the grid, the depth at each centre (NaN outside), whether a zone has no centre."""
    west, south, east, north = (float(edge) for edge in zones.total_bounds)
    grid = Grid.covering((west, south, east, north), cell_m)
    centres = grid.centres_m().reshape(*grid.shape, 2)
    depth = np.full(grid.shape, np.nan)
    missed = False
    for shape, value in zip(zones.geometry, zones["depth_cm"], strict=True):
        window = _window(grid, shape.bounds)
        shapely.prepare(shape)
        held = shapely.intersects_xy(shape, centres[window][..., 0], centres[window][..., 1])
        depth[window] = np.where(held, np.fmin(depth[window], value), depth[window])
        missed |= not held.any()
    return grid, depth.ravel(), missed


def _window(grid: Grid, bounds: tuple[float, float, float, float]) -> tuple[slice, slice]:
    first_column = max(0, math.floor((bounds[0] - grid.west_m) / grid.cell_m))
    last_column = math.ceil((bounds[2] - grid.west_m) / grid.cell_m)
    first_row = max(0, math.floor((grid.north_m - bounds[3]) / grid.cell_m))
    last_row = math.ceil((grid.north_m - bounds[1]) / grid.cell_m)
    return slice(first_row, last_row + 1), slice(first_column, last_column + 1)


def _in_order(frame: pd.DataFrame, name: str) -> pd.DataFrame:
    schema = table_schema(name)
    absent = [
        column.name
        for column in schema.columns
        if column.required and column.name not in frame.columns
    ]
    if absent:
        raise OutputFailed(f"{name}: the plan has no column {', '.join(absent)}.")
    return frame[[column.name for column in schema.among(set(frame.columns))]]
