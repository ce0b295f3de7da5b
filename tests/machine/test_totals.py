"""Totals over the zones, and what one depth everywhere would take."""

from __future__ import annotations

import dataclasses
import math

import pandas as pd
import pytest

from zoning.machine import Outfit, work_of_zones, work_totals
from zoning.model.settings import TractorSection

# A field worked 25 cm deep on three quarters and 40 cm on one quarter of its area
ZONES = pd.DataFrame({"zone": [1, 2], "depth_cm": [25.0, 40.0], "area_ha": [3.0, 1.0]})


def test_totals_are_sums_by_hand(planner: Outfit) -> None:
    totals = work_totals(work_of_zones(ZONES, planner))
    assert totals.fuel_l == pytest.approx(3 * 15.42 + 19.66, abs=0.02)
    assert (totals.area_ha, totals.worked_ha, totals.lifted_ha) == (4.0, 4.0, 0.0)
    assert totals.draft_max_kn == pytest.approx(24.427, abs=5e-4)
    assert totals.time_min == pytest.approx(4 * 60 / 1.1475)


def saved_percent(outfit: Outfit, figure: str) -> float:
    """Return how much less the plan takes than 40 cm on every zone [%]."""
    plan, one = (
        dataclasses.asdict(work_totals(work_of_zones(zones, outfit)))[figure]
        for zones in (ZONES, ZONES.assign(depth_cm=40.0))
    )
    return 100 * (one - plan) / one


def test_savings_in_draft_energy_fuel_and_time_differ(planner: Outfit) -> None:
    # Linear in depth: 1 - (0.75 x 25 + 0.25 x 40) / 40 = 28.1 %
    assert saved_percent(planner, "draft_energy_mj") == pytest.approx(28.125)
    # 1 - (3 x 15.42 + 19.66) / (4 x 19.66)
    assert saved_percent(planner, "fuel_l") == pytest.approx(16.2, abs=0.1)
    assert saved_percent(planner, "time_min") == pytest.approx(0.0)


def test_slowing_down_shows_in_time(planner: Outfit) -> None:
    weak = dataclasses.replace(planner, tractor=TractorSection(pto_power_kw=50, drive="2wd"))
    assert saved_percent(weak, "time_min") > 0


def test_lifted_ground_has_its_own_figures(planner: Outfit) -> None:
    zones = ZONES.assign(depth_cm=[0.0, 40.0])
    totals = work_totals(work_of_zones(zones, planner))
    assert (totals.worked_ha, totals.lifted_ha) == (1.0, 3.0)
    # 3 ha at 1.1475 ha/h and 0.096 L/h a rated kW without load (ASABE D497.7)
    assert totals.lifted_time_min == pytest.approx(3 / 1.1475 * 60)
    assert totals.lifted_fuel_l == pytest.approx(3 / 1.1475 * 9.6)
    assert totals.fuel_l == pytest.approx(totals.lifted_fuel_l + 19.66, abs=5e-3)


def test_ground_on_passes_that_no_work_asks_for_takes_no_time_and_no_fuel(planner: Outfit) -> None:
    zones = ZONES.assign(depth_cm=[0.0, 40.0])
    some = work_totals(work_of_zones(zones.assign(driven_share=[0.25, 1.0]), planner))
    whole = work_totals(work_of_zones(zones, planner))
    assert (some.lifted_ha, some.undriven_ha, whole.undriven_ha) == (3.0, 2.25, 0.0)
    assert some.lifted_time_min == pytest.approx(whole.lifted_time_min / 4)
    assert some.lifted_fuel_l == pytest.approx(whole.lifted_fuel_l / 4)
    assert some.draft_energy_mj == whole.draft_energy_mj


def test_what_is_not_known_stays_unknown(planner: Outfit) -> None:
    bare = dataclasses.replace(planner, tractor=TractorSection())
    totals = work_totals(work_of_zones(ZONES, bare))
    assert math.isnan(totals.fuel_l)
    assert math.isnan(totals.cost)
    assert saved_percent(bare, "draft_energy_mj") == pytest.approx(28.125)


def test_row_order_does_not_matter(planner: Outfit) -> None:
    zones = pd.DataFrame(
        {
            "zone": range(30),
            "depth_cm": [15.0 + i for i in range(30)],
            "area_ha": [0.1 * i for i in range(30)],
        }
    )
    one = work_totals(work_of_zones(zones, planner))
    assert work_totals(work_of_zones(zones.sample(frac=1, random_state=3), planner)) == one
