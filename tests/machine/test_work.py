"""What the zones take: the planner chain, lifted zones, prices, properties."""

from __future__ import annotations

import dataclasses
import json
import math

import jsonschema
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from zoning.contracts import constant, shared
from zoning.machine import Outfit, ZoneWork, setup_findings, work_of_zones, zone_work
from zoning.machine.work import field_efficiency
from zoning.model import Settings
from zoning.model.settings import CostsSection, MachineSection, SoilSection, TractorSection

TRACTOR = TractorSection(pto_power_kw=180)
OUTFIT = Outfit(
    MachineSection(depth_max_cm=60),
    TRACTOR,
    SoilSection(),
    CostsSection(fuel_per_l=1.1, labour_per_h=20),
)


@pytest.mark.parametrize(
    ("depth_cm", "draft_kn", "load", "litres_h", "litres_ha"),
    # Chain of ASAE D497 draft, EP496 power and rate, D497.7 fuel, by arithmetic
    [(25, 15.267, 0.368, 17.70, 15.42), (40, 24.427, 0.589, 22.56, 19.66)],
)
def test_planner_chain(
    planner: Outfit,
    depth_cm: float,
    draft_kn: float,
    load: float,
    litres_h: float,
    litres_ha: float,
) -> None:
    work = zone_work(depth_cm, 1.0, planner)
    assert work.draft_kn == pytest.approx(draft_kn, abs=5e-4)
    assert work.load == pytest.approx(load, abs=5e-4)
    assert work.fuel_l * work.work_rate_ha_h == pytest.approx(litres_h, abs=5e-3)
    assert work.fuel_l == pytest.approx(litres_ha, abs=5e-3)
    assert work.time_min == pytest.approx(60 / (6 * 2.25 * 0.85 / 10))
    assert work.draft_energy_mj == pytest.approx(draft_kn * 10_000 / 2.25 / 1000, rel=1e-4)


def test_fuel_at_depth_is_of_the_size_seen_in_the_field(planner: Outfit) -> None:
    # Iowa State trials: 21.5-25.3 L/ha at 14-16 in; the draft equation is good to +-50 % only
    assert 0.5 * 21.5 < zone_work(15 * 2.54, 1.0, planner).fuel_l < 1.5 * 25.3


def test_lifted_ground_is_travelled_without_draft() -> None:
    work = zone_work(0, 1.0, OUTFIT)
    assert (work.draft_kn, work.power_kw, work.draft_energy_mj) == (0, 0, 0)
    assert work.work_speed_km_h == OUTFIT.machine.speed_km_h
    assert work.time_min == pytest.approx(zone_work(20, 1.0, OUTFIT).time_min)
    # No-load fuel: 0.096 L/h a rated kW (ASABE D497.7)
    assert work.fuel_l == pytest.approx(0.096 * 180 * work.time_min / 60)
    assert (work.machine_changes, work.machine_notes) == ("", "")
    assert math.isnan(work.pin_hole)


def test_what_cannot_be_pulled_is_reckoned_slower_and_says_so() -> None:
    work = zone_work(45, 1.0, OUTFIT)
    assert work.load == pytest.approx(1.0)
    assert work.load <= 1.0
    assert work.pto_power_kw > 180
    assert work.work_speed_km_h == pytest.approx(7.002, abs=1e-3)
    assert "reckoned at 7.0 km/h" in work.machine_changes


def test_too_slow_to_loosen_is_left_unknown() -> None:
    weak = dataclasses.replace(OUTFIT, tractor=TractorSection(pto_power_kw=40))
    work = zone_work(45, 1.0, weak)
    assert work.draft_kn > 0
    assert all(
        math.isnan(v)
        for v in (work.work_speed_km_h, work.time_min, work.fuel_l, work.cost, work.draft_energy_mj)
    )


def test_a_machine_set_slower_than_the_trials_is_still_reckoned() -> None:
    slow = dataclasses.replace(OUTFIT, machine=MachineSection(speed_km_h=3))
    assert zone_work(25, 1.0, slow).work_speed_km_h == 3


def test_without_tractor_power_draft_and_time_but_no_fuel() -> None:
    bare = dataclasses.replace(OUTFIT, tractor=TractorSection())
    work = zone_work(30, 1.0, bare)
    assert work.power_kw == pytest.approx(work.draft_kn * 8 / 3.6)
    assert work.time_min > 0
    assert all(math.isnan(v) for v in (work.fuel_l, work.co2_kg, work.load, work.cost))
    assert "power was not given" in work.machine_notes


def test_cost_only_where_a_price_is_given(planner: Outfit) -> None:
    assert math.isnan(zone_work(30, 1.0, planner).cost)
    priced = dataclasses.replace(
        planner, costs=CostsSection(fuel_per_l=2.0, machine_per_h=30, labour_per_h=12)
    )
    work = zone_work(30, 1.0, priced)
    assert work.cost == pytest.approx(2.0 * work.fuel_l + 42 * work.time_min / 60)


def test_headland_takes_longer() -> None:
    # ASAE D497 Table 3, chisel row 70-90, typical 85 % (from memory); times of the two parts add up
    assert field_efficiency(0.0) == pytest.approx(0.85)
    assert field_efficiency(1.0) == pytest.approx(0.70)
    half = zone_work(30, 1.0, OUTFIT, headland_share=0.5).time_min
    ends = [zone_work(30, 0.5, OUTFIT, headland_share=share).time_min for share in (0.0, 1.0)]
    assert half == pytest.approx(sum(ends))


@pytest.mark.parametrize(
    ("depth_cm", "area_ha"), [(-1, 1), (30, -1), (math.nan, 1), (30, math.inf)]
)
def test_nonsense_is_refused(depth_cm: float, area_ha: float) -> None:
    with pytest.raises(ValueError, match="finite and not negative"):
        zone_work(depth_cm, area_ha, OUTFIT)


def test_share_of_headland_is_checked() -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        field_efficiency(1.5)


def test_rows_keep_their_order_and_their_columns() -> None:
    zones = pd.DataFrame(
        {"zone": [3, 1], "depth_cm": [30.0, 0.0], "area_ha": [1.0, 2.0], "parts": ["body", "x"]},
        index=[7, 2],
    )
    worked = work_of_zones(zones, OUTFIT)
    assert list(worked.index) == [7, 2]
    pd.testing.assert_frame_equal(worked[zones.columns], zones)
    assert worked.loc[7, "draft_kn"] == zone_work(30, 1.0, OUTFIT).draft_kn
    assert set(worked) - set(zones) == {f.name for f in dataclasses.fields(ZoneWork)}
    assert "draft_kn" not in zones


def test_headland_share_column_is_used() -> None:
    zones = pd.DataFrame(
        {
            "zone": [1, 2],
            "depth_cm": [30.0, 30.0],
            "area_ha": [1.0, 1.0],
            "headland_share": [0.0, 1.0],
        }
    )
    times = work_of_zones(zones, OUTFIT)["time_min"]
    assert times[1] / times[0] == pytest.approx(0.85 / 0.70)


def test_no_zones_give_no_rows_but_every_column() -> None:
    none = pd.DataFrame({"zone": [], "depth_cm": [], "area_ha": []})
    assert "fuel_l" in work_of_zones(none, OUTFIT)


def test_outfit_of_settings(settings: Settings) -> None:
    outfit = Outfit.of(settings, measured_ridge_cm=4.0)
    assert outfit.machine == settings.machine
    assert "by 45-degree geometry" not in zone_work(40, 1.0, outfit).machine_notes


def test_a_speed_that_was_driven_is_held_at_its_depth_and_shallower() -> None:
    weak = dataclasses.replace(OUTFIT, tractor=TractorSection(pto_power_kw=140))
    driven = dataclasses.replace(weak, driven=((40.0, 8.0), (50.0, 7.0)))
    own = weak.machine.speed_km_h
    assert zone_work(40, 1.0, weak).work_speed_km_h < 7.0 < own == 8.0
    assert "km/h need" in zone_work(40, 1.0, weak).machine_changes
    held = [zone_work(depth, 1.0, driven) for depth in (30, 40, 45, 55)]
    assert [each.work_speed_km_h for each in held[:3]] == [8.0, 8.0, 7.0]
    assert ["km/h need" in each.machine_changes for each in held[:3]] == [False, False, True]
    assert "drive 7.0 km/h or slower" in held[2].machine_changes.lower()
    assert held[3].work_speed_km_h == zone_work(55, 1.0, weak).work_speed_km_h
    assert held[1].load == constant("machine_rules", "full_load")


def test_setup_findings_hold_at_any_depth() -> None:
    unknown = MachineSection(point="winged", leading_tines=True)
    winged = dataclasses.replace(unknown, wing_width_cm=20.0)
    codes = [
        {f.code for f in setup_findings(dataclasses.replace(OUTFIT, machine=each))}
        for each in (unknown, winged)
    ]
    told = {"frame-level", "legs-behind-wheels", "leading-tines-not-in-draft"}
    assert codes == [told, told | {"other-wing-width"}]


@given(st.floats(15, 60), st.floats(15, 60))
def test_deeper_is_never_cheaper(one: float, other: float) -> None:
    shallow, deep = (zone_work(d, 2.0, OUTFIT) for d in sorted([one, other]))
    for name in ("draft_kn", "power_kw", "fuel_l", "time_min", "draft_energy_mj", "co2_kg", "cost"):
        low, high = getattr(shallow, name), getattr(deep, name)
        assert math.isnan(high) or low <= high * (1 + 1e-9)


@given(st.floats(0.01, 50), st.floats(0, 60))
def test_twice_the_area_takes_twice_as_much(area_ha: float, depth_cm: float) -> None:
    one, two = zone_work(depth_cm, area_ha, OUTFIT), zone_work(depth_cm, 2 * area_ha, OUTFIT)
    for name in ("fuel_l", "time_min", "draft_energy_mj", "co2_kg", "cost"):
        assert getattr(two, name) == pytest.approx(2 * getattr(one, name))


def test_the_ridge_is_carried_as_a_figure() -> None:
    # legs 43 cm apart, feet 6 cm wide, 45 degrees: (43 - 6) / 2 = 18.5 cm above the points
    work = zone_work(40, 1.0, OUTFIT)
    assert (work.ridge_cm, work.ridge_measured) == (pytest.approx(18.5), False)
    assert "a ridge of 18.5 cm" in work.machine_notes
    measured = zone_work(40, 1.0, dataclasses.replace(OUTFIT, measured_ridge_cm=11.0))
    assert (measured.ridge_cm, measured.ridge_measured) == (11.0, True)
    assert "a ridge of 11 cm as measured" in measured.machine_notes
    assert math.isnan(zone_work(0, 1.0, OUTFIT).ridge_cm)


def test_schema_holds_for_every_row_and_refuses_the_bad_example() -> None:
    schema = json.loads(shared("schemas", "zone_work.schema.json").read_text(encoding="utf-8"))
    check = jsonschema.Draft202012Validator(schema)
    assert set(schema["properties"]) == {f.name for f in dataclasses.fields(ZoneWork)}
    for depth_cm in (0, 20, 30, 45, 60):
        for tractor in (TRACTOR, TractorSection(), TractorSection(pto_power_kw=40)):
            work = dataclasses.asdict(
                zone_work(depth_cm, 1.0, dataclasses.replace(OUTFIT, tractor=tractor))
            )
            check.validate(
                {k: None if isinstance(v, float) and math.isnan(v) else v for k, v in work.items()}
            )
    good, bad = (
        json.loads(shared("examples", f"zone_work.{kind}.json").read_text())
        for kind in ("good", "bad")
    )
    assert all(check.is_valid(row) for row in good)
    assert not any(check.is_valid(row) for row in bad)
