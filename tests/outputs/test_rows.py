"""Rows of the tables: grid of depths, passes in driving order, zones in order."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import numpy as np
import pyproj
import pytest
import shapely
from shapely import box

from zoning.errors import OutputFailed
from zoning.model import Plan
from zoning.outputs.rows import grid_rows, pass_rows, zone_rows


def working(plan: Plan, lon: np.ndarray, lat: np.ndarray) -> np.ndarray:
    there = pyproj.Transformer.from_crs(4326, plan.working_crs, always_xy=True)
    return np.column_stack(there.transform(lon, lat))


def test_the_grid_is_regular_fine_and_covers_the_field(plan: Plan) -> None:
    rows = grid_rows(plan)
    xy = working(plan, rows["lon"].to_numpy(), rows["lat"].to_numpy())
    x, y = (np.unique(np.round(axis, 2)) for axis in xy.T)
    step = np.diff(x).min()
    assert step <= plan.settings.machine.width_m
    np.testing.assert_allclose(np.diff(x), step, atol=0.011)
    np.testing.assert_allclose(np.diff(y), step, atol=0.011)
    # Each centre stands for its cell: their areas add up to the field's within a row of cells.
    assert len(rows) * step**2 == pytest.approx(plan.boundary.area, rel=0.02)
    assert shapely.intersects_xy(plan.boundary.buffer(0.01), *xy.T).all()


def test_depths_are_those_of_the_zone_around_each_centre(plan: Plan) -> None:
    rows = grid_rows(plan)
    xy = working(plan, rows["lon"].to_numpy(), rows["lat"].to_numpy())
    for shape, depth in zip(plan.zones.geometry, plan.zones["depth_cm"], strict=True):
        well_inside = shapely.intersects_xy(shape.buffer(-0.01), *xy.T)
        assert well_inside.any()
        assert (rows["depth_cm"][well_inside] == depth).all()


def test_rows_run_from_the_north_west_row_by_row(plan: Plan) -> None:
    rows = grid_rows(plan)
    x, y = np.round(working(plan, rows["lon"].to_numpy(), rows["lat"].to_numpy()), 2).T
    order = np.lexsort([x, -y])
    assert (order == np.arange(len(rows))).all()


def test_a_narrow_zone_makes_the_grid_finer(plan: Plan, changed: Callable[..., Plan]) -> None:
    # Between two rows of centres of cells of 1.505 m: half of 7 legs at 43 cm.
    west, south, east, _ = plan.boundary.bounds
    row = (np.floor(south / 1.505) + 3.5) * 1.505
    strip = box(west, row + 0.2, east, row + 0.9)
    shapes = [strip, *[shape - strip for shape in plan.zones.geometry[1:]]]
    rest = plan.zones.geometry[0] - strip
    zones = plan.zones.iloc[[0, 1, 2, 0]].assign(
        zone=[1, 2, 3, 4], depth_cm=[20.0, 32.5, 0.0, 37.5], geometry=[*shapes, rest]
    )
    fine = grid_rows(changed(zones=zones))
    assert 20.0 in set(fine["depth_cm"])
    assert len(fine) > len(grid_rows(plan))


def test_between_two_zones_the_shallower_depth_counts(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    # The centres of cells of 1.505 m (half of 7 legs at 43 cm) stand at odd multiples of 0.7525 m.
    cell = 1.505
    x = (np.floor(plan.boundary.bounds[0] / cell) + 20.5) * cell
    low, high = box(x - 10, 0, x, 40), box(x, 0, x + 10, 40)
    for depths in ([30.0, 20.0], [20.0, 30.0]):
        zones = plan.zones.iloc[:2].assign(depth_cm=depths, geometry=[low, high])
        rows = grid_rows(changed(zones=zones))
        where = working(plan, rows["lon"].to_numpy(), rows["lat"].to_numpy())[:, 0]
        on_edge = np.abs(where - x) < 0.01
        assert on_edge.any()
        assert set(rows["depth_cm"][on_edge]) == {20.0}


def test_passes_stand_in_driving_order(plan: Plan) -> None:
    mixed = dataclasses.replace(plan, passes=plan.passes.iloc[[3, 0, 2, 1]])
    rows = pass_rows(mixed)
    assert rows[["pass", "step"]].to_numpy().tolist() == [[1, 1], [2, 1], [2, 2], [2, 3]]
    assert "geometry" not in rows


def test_a_run_begins_and_ends_where_its_line_does(plan: Plan) -> None:
    rows = pass_rows(plan)
    for end, place in (("start", 0), ("end", -1)):
        found = working(plan, rows[f"{end}_lon"].to_numpy(), rows[f"{end}_lat"].to_numpy())
        wanted = [line.coords[place] for line in plan.passes.geometry]
        np.testing.assert_allclose(found, wanted, atol=0.001)


def test_a_plan_without_passes_has_an_empty_table(plan: Plan) -> None:
    rows = pass_rows(dataclasses.replace(plan, passes=plan.passes.iloc[:0]))
    assert len(rows) == 0
    assert list(rows)[-1] == "depth_cm"


def test_a_missing_column_is_named(plan: Plan) -> None:
    with pytest.raises(OutputFailed, match="assurance"):
        zone_rows(dataclasses.replace(plan, zones=plan.zones.drop(columns="assurance")))


def test_columns_that_the_contract_does_not_name_stay_out(plan: Plan) -> None:
    rows = zone_rows(dataclasses.replace(plan, zones=plan.zones.assign(secret=1, fuel_l=2.0)))
    assert "secret" not in rows
    assert list(rows)[5:8] == ["assurance", "fuel_l", "cleared"]
