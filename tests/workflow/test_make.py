"""The plan of the sample field, against the sample's own known truth and the rules of a plan."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

import zoning
from zoning.model import FieldInputs, Plan

SAMPLE = Path(__file__).parents[2] / "sample_data" / "teasel_piece"
ONE_SIDED_95 = 1.6448536269514722  # standard normal quantile, any table


@pytest.fixture(scope="module")
def truth(sample_plan: Plan) -> pd.DataFrame:
    """Return the truth at the raster cell that holds each of its places."""
    table = pd.read_csv(next((SAMPLE / "truth").glob("*.csv")))
    places = gpd.points_from_xy(table["lon"], table["lat"], crs="EPSG:4326").to_crs(
        sample_plan.working_crs
    )
    cell = sample_plan.grid.cell_of(np.column_stack([places.x, places.y]))
    inside = (cell >= 0) & sample_plan.inside.ravel()[cell]
    return table[inside].assign(cell=cell[inside])


def band(plan: Plan, name: str, cell: pd.Series) -> np.ndarray:
    return plan.rasters[name].ravel()[cell.to_numpy()]


def test_nine_in_ten_true_bases_lie_in_the_ninety_per_cent_interval(
    sample_plan: Plan, truth: pd.DataFrame
) -> None:
    there = truth[truth["pan"] == "yes"]
    mean, sd = (
        band(sample_plan, "pan_base_cm", there["cell"]),
        band(sample_plan, "pan_base_sd_cm", there["cell"]),
    )
    covered = np.abs(there["pan_base_cm"] - mean) <= ONE_SIDED_95 * sd
    assert 0.85 <= covered.mean() <= 0.95


def test_a_pan_is_thought_likelier_where_there_is_one(
    sample_plan: Plan, truth: pd.DataFrame
) -> None:
    chance = band(sample_plan, "pan_probability", truth["cell"])
    there = (truth["pan"] == "yes").to_numpy()
    brier = np.mean((chance - there) ** 2)
    assert brier < there.mean() * (1 - there.mean())
    assert chance[there].mean() > chance[~there].mean() + 0.3


def test_zones_cover_the_field_exactly_once(sample_plan: Plan) -> None:
    zones = sample_plan.zones
    assert zones.area.sum() == pytest.approx(sample_plan.boundary.area, rel=1e-9)
    assert shapely.coverage_is_valid(zones.geometry.to_numpy())
    assert (
        zones.union_all().symmetric_difference(sample_plan.boundary).area
        < 1e-6 * sample_plan.boundary.area
    )


def test_depths_are_settings_of_the_machine_and_few(sample_plan: Plan) -> None:
    machine, depths = sample_plan.settings.machine, sample_plan.zones["depth_cm"]
    worked = depths[depths > 0]
    steps = (worked - machine.depth_min_cm) / machine.depth_step_cm
    assert np.allclose(steps, steps.round())
    assert worked.between(machine.depth_min_cm, machine.depth_max_cm).all()
    assert worked.nunique() <= sample_plan.settings.depth.max_depths


def test_no_depth_passes_the_cap_over_the_drain_and_legs_are_out_over_the_service(
    sample_plan: Plan,
) -> None:
    for hazard in sample_plan.hazards.itertuples():
        ground = hazard.geometry.buffer(hazard.clear_m)
        touched = sample_plan.zones[sample_plan.zones.intersection(ground).area > 1e-6]
        deepest = touched["depth_cm"].max()
        assert deepest < hazard.depth_cm if hazard.kind == "drain" else deepest == 0


def test_the_plan_beats_one_depth_and_comes_near_the_choice_without_passes(
    sample_plan: Plan,
) -> None:
    losses = sample_plan.losses
    assert losses.unconstrained_cm <= losses.driven_cm + 1e-9
    assert losses.driven_cm < losses.single_depth_loss_cm < losses.point95_loss_cm


def test_every_insertion_and_pit_is_accounted_for(
    sample_inputs: FieldInputs, sample_plan: Plan
) -> None:
    cone = sample_inputs.cone
    assert set(sample_plan.insertions["insertion_id"]) == set(cone["insertion_id"])
    named = set(sample_plan.stations["station"])
    assert set(cone["station"]) <= named
    assert set(sample_inputs.pits.loc[sample_inputs.pits["phase"] == "before", "pit"]) <= named
    assert (sample_plan.stations.loc[~sample_plan.stations["used"], "reason"] != "").all()


def test_passes_cover_the_ground_at_the_machines_width(sample_plan: Plan) -> None:
    driven = sample_plan.passes.length.sum() * sample_plan.settings.machine.width_m
    assert driven == pytest.approx(sample_plan.boundary.area, rel=0.05)


def test_services_from_records_leave_deep_zones_not_cleared(sample_plan: Plan) -> None:
    zones = sample_plan.zones
    deep = zones["depth_cm"] > sample_plan.settings.hazards.notice_depth_cm
    assert set(zones.loc[deep, "cleared"]) == {"NOT CLEARED"}
    assert sample_plan.notices[0].code == "services-records"
    assert "safe" not in " ".join(notice.text for notice in sample_plan.notices)


def test_the_order_of_the_rows_changes_nothing(copied: Path, sample_plan: Plan) -> None:
    lines = (copied / "cone.csv").read_text().splitlines()
    head, body = lines[0], pd.Series(lines[1:])
    insertion = body.str.split(",").str[:2].str.join("/")
    mixed = [row for _, rows in sorted(body.groupby(insertion), reverse=True) for row in rows]
    (copied / "cone.csv").write_text("\n".join([head, *mixed]) + "\n")
    assert zoning.make_plan(zoning.read_field(copied)).plan_id == sample_plan.plan_id
