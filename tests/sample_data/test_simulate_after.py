"""What is found behind a simulated pass follows from the truth and from the speed."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
from simulate import Simulated
from simulate_after import FAST, SLOW, Passage, dig_after, probe_after, trial_runs


@pytest.fixture(scope="module")
def sim(fields: list[Simulated]) -> Simulated:
    return fields[0]


@pytest.fixture(scope="module")
def zones(sim: Simulated) -> gpd.GeoDataFrame:
    half = sim.boundary.centroid.x
    west, south, east, north = sim.boundary.bounds
    from shapely import box  # noqa: PLC0415

    shapes = [
        sim.boundary.intersection(box(west, south, half, north)),
        sim.boundary.intersection(box(half, south, east, north)),
    ]
    return gpd.GeoDataFrame({"depth_cm": [35.0, 42.5]}, geometry=shapes, crs=sim.crs)


@pytest.mark.parametrize("passage", [SLOW, FAST])
def test_the_ridge_is_that_of_the_speed(
    sim: Simulated, zones: gpd.GeoDataFrame, passage: Passage
) -> None:
    # Common practice: 10-12 cm at 4 km/h, about 3 cm at 10 km/h.
    pits = dig_after(sim, zones, passage, np.random.default_rng(1))
    ridge = pits["loosened_at_leg_cm"] - pits["loosened_between_cm"]
    low, high = passage.ridge_cm
    assert ridge.between(low - 0.5, high + 0.5).all()
    assert (pits["speed_km_h"] == passage.speed_km_h).all()


def test_what_the_adviser_notes_of_the_pan_is_true(sim: Simulated, zones: gpd.GeoDataFrame) -> None:
    pits = dig_after(sim, zones, SLOW, np.random.default_rng(1))
    xy = pits[["x_m", "y_m"]].to_numpy()
    left = sim.true_pan(xy) & (sim.true_base_cm(xy) > pits["loosened_between_cm"])
    noted = pits["pan"] != ""
    assert noted.any()
    assert ((pits["pan"] == "yes") == left)[noted].all()


def test_the_cone_is_soft_where_the_soil_was_loosened(
    sim: Simulated, zones: gpd.GeoDataFrame
) -> None:
    cone = probe_after(sim, zones, FAST, np.random.default_rng(1))
    shallow = cone[cone["depth_cm"] <= 25]
    assert (shallow["cone_index_mpa"] < sim.scenario.limit_mpa).mean() > 0.99


def test_trial_runs_hold_the_practice_of_the_trade() -> None:
    runs = trial_runs().set_index("speed_km_h")
    ridge = runs["loosened_at_leg_cm"] - runs["loosened_between_cm"]
    assert ridge.loc[4.0] == 11.0
    assert ridge.loc[10.0] == 3.0
    assert ridge.is_monotonic_decreasing


def test_the_same_seed_digs_the_same_pits(sim: Simulated, zones: gpd.GeoDataFrame) -> None:
    one, other = (dig_after(sim, zones, SLOW, np.random.default_rng(7)) for _ in range(2))
    assert one.equals(other)
