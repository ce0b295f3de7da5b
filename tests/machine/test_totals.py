"""Totals and the comparison with one depth: three figures that are not each other."""

from __future__ import annotations

import dataclasses
import json
import math

import jsonschema
import pandas as pd
import pytest

from zoning.contracts import shared
from zoning.machine import Outfit, compare_uniform, work_of_zones, work_totals
from zoning.model.settings import TractorSection

# A field worked 25 cm deep on three quarters and 40 cm on one quarter of its area
ZONES = pd.DataFrame({"zone": [1, 2], "depth_cm": [25.0, 40.0], "area_ha": [3.0, 1.0]})


def test_totals_are_sums_by_hand(planner: Outfit) -> None:
    totals = work_totals(work_of_zones(ZONES, planner))
    assert totals.fuel_l == pytest.approx(3 * 15.42 + 19.66, abs=0.02)
    assert (totals.area_ha, totals.worked_ha, totals.lifted_ha) == (4.0, 4.0, 0.0)
    assert totals.draft_max_kn == pytest.approx(24.427, abs=5e-4)
    assert totals.time_min == pytest.approx(4 * 60 / 1.1475)


def test_savings_in_draft_energy_fuel_and_time_differ(planner: Outfit) -> None:
    compared = compare_uniform(ZONES, 40.0, planner)
    # Linear in depth: 1 - (0.75 x 25 + 0.25 x 40) / 40 = 28.1 %
    assert compared.draft_energy_mj.saved_percent == pytest.approx(28.125)
    # 1 - (3 x 15.42 + 19.66) / (4 x 19.66)
    assert compared.fuel_l.saved_percent == pytest.approx(16.2, abs=0.1)
    assert compared.time_min.saved_percent == pytest.approx(0.0)
    assert compared.fuel_l.uniform == pytest.approx(4 * 19.66, abs=0.02)
    assert compared.uniform_depth_cm == 40.0


def test_the_same_depth_saves_nothing(planner: Outfit) -> None:
    compared = compare_uniform(ZONES.assign(depth_cm=30.0), 30.0, planner)
    for figure in (compared.draft_energy_mj, compared.fuel_l, compared.time_min):
        assert figure.saved_percent == 0


def test_slowing_down_shows_in_time(planner: Outfit) -> None:
    weak = dataclasses.replace(planner, tractor=TractorSection(pto_power_kw=50, drive="2wd"))
    compared = compare_uniform(ZONES, 40.0, weak)
    assert compared.time_min.saved_percent > 0


def test_lifted_ground_has_its_own_figures(planner: Outfit) -> None:
    zones = ZONES.assign(depth_cm=[0.0, 40.0])
    totals = work_totals(work_of_zones(zones, planner))
    assert (totals.worked_ha, totals.lifted_ha) == (1.0, 3.0)
    # 3 ha at 1.1475 ha/h and 0.096 L/h a rated kW without load (ASABE D497.7)
    assert totals.lifted_time_min == pytest.approx(3 / 1.1475 * 60)
    assert totals.lifted_fuel_l == pytest.approx(3 / 1.1475 * 9.6)
    assert totals.fuel_l == pytest.approx(totals.lifted_fuel_l + 19.66, abs=5e-3)


def test_what_is_not_known_stays_unknown(planner: Outfit) -> None:
    bare = dataclasses.replace(planner, tractor=TractorSection())
    compared = compare_uniform(ZONES, 40.0, bare)
    assert math.isnan(compared.fuel_l.plan)
    assert math.isnan(compared.fuel_l.saved_percent)
    assert compared.draft_energy_mj.saved_percent == pytest.approx(28.125)
    assert math.isnan(work_totals(work_of_zones(ZONES, bare)).cost)


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


def test_schema_of_the_comparison(planner: Outfit) -> None:
    check = jsonschema.Draft202012Validator(
        json.loads(shared("schemas", "uniform_comparison.schema.json").read_text(encoding="utf-8"))
    )
    check.validate(dataclasses.asdict(compare_uniform(ZONES, 40.0, planner)))
    good, bad = (
        json.loads(shared("examples", f"uniform_comparison.{kind}.json").read_text())
        for kind in ("good", "bad")
    )
    assert all(check.is_valid(row) for row in good)
    assert not any(check.is_valid(row) for row in bad)
