from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
from depths.plain_passes import rules, surface
from shapely import MultiPolygon, affinity, box

from zoning.depths.lay import heading_frame
from zoning.depths.levels import depth_options
from zoning.depths.loss import expected_loss
from zoning.depths.offset import Ground, best_offset, cheapest_offset, offset_cost

MACHINE = {"legs": 8, "leg_spacing_cm": 50}  # 4 m
SETTINGS = rules(MACHINE, max_depths=2)
CELL_M = 0.5


def striped(first_m: float, *, every_m: float = 12.0, wide_m: float = 3.0) -> Ground:
    """Return ground of 48 by 100 m whose pan lies deeper in stripes along the heading."""
    across, along = np.meshgrid(np.arange(0.25, 48, CELL_M), np.arange(1.25, 100, 2.5))
    across, along = across.ravel(), along.ravel()
    deep = (across - first_m) % every_m < wide_m
    options = depth_options(SETTINGS.machine, lift_out=True)
    loss = expected_loss(
        surface(np.where(deep, 39.5, 27.0), 0.5), options, clearance_cm=3, assurance=0.8
    )
    return Ground(along, across, loss, np.full(len(across), np.inf), options)


@pytest.mark.parametrize("first_m", [0.25, 1.5, 2.0, 3.25])
def test_stripes_fall_inside_single_passes(first_m: float) -> None:
    offset = cheapest_offset(striped(first_m), SETTINGS)
    # A stripe of 3 m begins in the first metre of a pass of 4 m, to half a cell.
    assert (first_m - offset + CELL_M / 2) % 4.0 <= 1.0 + CELL_M


def test_the_place_chosen_costs_least_of_all_tried() -> None:
    ground = striped(1.5)
    offset = cheapest_offset(ground, SETTINGS)
    columns = np.searchsorted(ground.options_cm, [0.0, 30.0, 42.5])
    costs = [offset_cost(ground, SETTINGS, columns, 4.0 * i / 12) for i in range(12)]
    assert offset_cost(ground, SETTINGS, columns, offset) == pytest.approx(min(costs))
    assert max(costs) > min(costs)


def test_of_equal_places_the_middle_is_taken() -> None:
    offset = cheapest_offset(striped(5.25, wide_m=2.0), SETTINGS)
    # Passes of 4 m leave a stripe of 2 m one metre on each side, to half a cell.
    assert (5.25 - offset) % 4.0 == pytest.approx(1.0, abs=CELL_M / 2)


def test_even_ground_keeps_the_first_place() -> None:
    ground = striped(0.0, wide_m=0.0)
    assert cheapest_offset(ground, SETTINGS) == 0.0


def test_a_whole_width_changes_no_cost() -> None:
    ground = striped(1.5)
    columns = np.array([0, 5, 9])
    one = offset_cost(ground, SETTINGS, columns, 0.5)
    assert offset_cost(ground, SETTINGS, columns, 4.5) == pytest.approx(one)


def boundary() -> MultiPolygon:
    return MultiPolygon([affinity.rotate(box(0, 0, 48, 100), -20, origin=(0, 0))])


def turned_cells(field: MultiPolygon) -> tuple[np.ndarray, np.ndarray]:
    """Return cells inside the field and how far each lies to the right of the centroid."""
    west, south, east, north = field.bounds
    x, y = np.meshgrid(np.arange(west, east, CELL_M), np.arange(south, north, CELL_M))
    xy = np.column_stack([x.ravel(), y.ravel()])
    inside = gpd.GeoSeries(gpd.points_from_xy(*xy.T)).within(field.geoms[0]).to_numpy()
    return xy[inside], heading_frame(field, 20.0).along_across(xy[inside])[1]


def test_offset_is_counted_from_the_centroid_across_the_heading() -> None:
    field = boundary()
    xy, across = turned_cells(field)
    deep = (across - 1.0) % 12.0 < 3.0
    pan = surface(np.where(deep, 39.5, 27.0), 0.5)
    offset = best_offset(field, xy, pan, SETTINGS, heading_deg=20.0)
    assert (1.0 - offset + CELL_M / 2) % 4.0 <= 1.0 + CELL_M


def test_a_service_along_the_passes_falls_inside_one() -> None:
    field = boundary()
    xy, _ = turned_cells(field)
    frame = heading_frame(field, 20.0)
    corners = frame.xy(np.array([-80.0, 80.0, 80.0, -80.0]), np.array([1.2, 1.2, 3.2, 3.2]))
    service = gpd.GeoDataFrame({"cap_cm": [0.0]}, geometry=[MultiPolygon([[corners, []]]).geoms[0]])
    pan = surface(np.full(len(xy), 30.0), 0.5)
    offset = best_offset(field, xy, pan, SETTINGS, heading_deg=20.0, hazard_zones=service)
    assert (1.2 - offset) % 4.0 <= 2.0  # 2 m of keep-off begin in the first half of a pass of 4 m


def test_a_field_of_rounds_alone_keeps_the_first_place() -> None:
    ground = Ground(*(np.empty(0),) * 2, np.empty((0, 14)), np.empty(0), np.arange(14.0))
    assert cheapest_offset(ground, SETTINGS) == 0.0
