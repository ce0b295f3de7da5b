"""What the sheet says: cautions, marks, figures, and what it leaves out where it does not know."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest
from shapely import MultiPolygon, box

from zoning.model import Notice, Plan
from zoning.model.settings import CostsSection, HazardsSection, TractorSection
from zoning.outputs.bars import STANDING
from zoning.outputs.sheet.facts import picture_facts, sheet_facts
from zoning.parts import hazard_zones


def with_hazards(plan: Plan, changed: Callable[..., Plan], **facts: object) -> Plan:
    section = HazardsSection(file="hazards.geojson", **facts)
    return changed(settings=dataclasses.replace(plan.settings, hazards=section))


def test_what_has_its_own_place_is_not_told_twice(plan: Plan, changed: Callable[..., Plan]) -> None:
    held = "Deeper is marked NOT CLEARED. Local rules differ."
    notices = (
        *plan.notices,
        Notice("caution", "assumed-machine", "No machine is described."),
        Notice("caution", "wet-soil", "Roll a thread."),
        Notice("caution", "not-cleared", held),
    )
    told = sheet_facts(changed(notices=notices))
    assert told["assumed"] == "MACHINE ASSUMED. No machine is described."
    assert list(told["cautions"]) == ["Buried services were not checked.", "Local rules differ."]
    assert "Leg loosener (ASSUMED): 7 legs" in told["about"]
    assert "ASSUMED" not in sheet_facts(plan)["about"]
    assert picture_facts(changed(notices=notices))["assumed"] == told["assumed"]


def test_a_trial_run_keeps_to_the_notice_depth(plan: Plan, changed: Callable[..., Plan]) -> None:
    assert "In a trial run too, until services are located: set no leg" in sheet_facts(plan)["pit"]
    located = changed(zones=plan.zones.assign(cleared="located"))
    assert "In a trial run" not in sheet_facts(located)["pit"]
    assert "The tractor's power was not given" in sheet_facts(plan)["pit"]


def test_later_pits_are_for_other_depths_where_there_are_such(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    assert "the first time each other depth is worked" in sheet_facts(plan)["pit"]
    one = changed(zones=plan.zones.assign(depth_cm=[30.0, 30.0, 0.0]))
    told = sheet_facts(one)["pit"]
    assert "other depth" not in told
    assert "where the soil changes: one line “Later pit” each" in told


def test_speeds_reckoned_with_stand_with_the_settings_alone(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    change = "7 legs need 211 kW. Its time and fuel are reckoned at 7.2 km/h. Drive 7.2 km/h."
    zones = plan.zones.assign(machine_changes=[change, "", ""])
    told = sheet_facts(changed(zones=zones))["changes"]
    assert told == ["At 37.5 cm: 7 legs need 211 kW. Drive 7.2 km/h."]


def test_feet_points_and_legs_that_are_assumed_are_measured_before_any_are_changed(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    lines = (
        "40 cm is 6.7 times the foot width. Fit wider points or wings.\n"
        "Legs 60 cm apart are too wide at 35 cm deep.\n7 legs need 211 kW."
    )
    zones = plan.zones.assign(machine_changes=[lines, "", ""])
    own = sheet_facts(changed(zones=zones))
    assert len(own["changes"]) == 3
    assert "(assumed)" not in own["about"]
    part = Notice("caution", "assumed-in-part", "In words.", keys=("legs", "point", "speed_km_h"))
    told = sheet_facts(changed(zones=zones, notices=(*plan.notices, part)))
    measure = "Measure feet, points and legs first: they are assumed, and may not suit the depth."
    assert told["changes"] == ["At 37.5 cm: 7 legs need 211 kW.", measure]
    assert "legs (assumed) " in told["about"]
    assert told["about"].endswith("km/h (assumed).")
    assert "apart (assumed)" not in told["about"]


def test_nobody_is_told_to_change_a_machine_that_is_assumed(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    zones = plan.zones.assign(machine_changes=["Fit wider points or wings.", "", ""])
    assert sheet_facts(changed(zones=zones))["changes"]
    taken = Notice("caution", "assumed-machine", "No machine is described: measure yours.")
    notices = (*plan.notices, taken, Notice("caution", "machine-below-critical-depth", "Wings."))
    told = sheet_facts(changed(zones=zones, notices=notices))
    words = json.dumps([told[name] for name in ("changes", "cautions", "checks")])
    assert "wings" not in words.lower()
    assert "measure yours" in told["assumed"]


def test_what_may_stop_the_plan_stands_on_sheet_and_picture(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    held = sheet_facts(plan)["not_cleared"]
    assert sheet_facts(plan)["bars"] == [held]
    rating = pd.DataFrame(
        {"part": ["whole field"], "points": [16], "over_limit": [1], "rating": ["little"],
         "loosen": ["no"], "few_points": [False]}
    )  # fmt: skip
    stop = Notice("caution", STANDING, "STOP, by the check of a day against plan a: pit A7.")
    told = changed(rating=rating, notices=(stop, *plan.notices))
    first, second, bar = sheet_facts(told)["bars"]
    assert (first, second) == (stop.text, held)
    assert bar.startswith("RATING: LITTLE COMPACTION")
    assert picture_facts(told)["bars"] == [first, second, bar]
    assert sheet_facts(told)["cautions"] == sheet_facts(plan)["cautions"]


def test_reference_of_the_enquiry_is_printed(plan: Plan, changed: Callable[..., Plan]) -> None:
    told = sheet_facts(with_hazards(plan, changed, services="records", reference="Q-17"))
    assert told["services"] == "Buried services: from records only. Reference: Q-17."
    assert "not checked. Reference: none given" in sheet_facts(plan)["services"]
    assert picture_facts(plan)["services"] == sheet_facts(plan)["services"]


def test_not_cleared_names_the_zones(plan: Plan, changed: Callable[..., Plan]) -> None:
    assert sheet_facts(plan)["not_cleared"].startswith("NOT CLEARED: zone 1, deeper than 30 cm")
    assert [zone["not_cleared"] for zone in sheet_facts(plan)["zones"]] == [True, False, False]
    located = changed(zones=plan.zones.assign(cleared="located"))
    assert sheet_facts(located)["not_cleared"] == ""


def test_zone_lines(plan: Plan, changed: Callable[..., Plan]) -> None:
    zones = plan.zones.assign(
        pan_base_cm=[34.4, 28.0, 31.0],
        pin_hole=[10.0, 8.0, np.nan],
        fuel_l=[19.4, 51.6, np.nan],
        time_min=[20.2, 60.0, 7.0],
    )
    first, _, lifted = sheet_facts(changed(zones=zones))["zones"]
    assert (first["zone"], first["depth_cm"], first["depth_in"]) == ("1", "37.5", "14.8")
    assert (first["pin"], first["fuel_l"], first["time_min"]) == ("10", "19", "20")
    assert (first["pan_cm"], lifted["pan_cm"]) == ("34", "–")
    assert (lifted["depth_cm"], lifted["pin"], lifted["fuel_l"], lifted["tone"]) == (
        "lifted",
        "–",
        "–",
        "",
    )


def test_a_little_is_not_nothing(plan: Plan, changed: Callable[..., Plan]) -> None:
    zones = plan.zones.assign(area_ha=[0.004, 0.006, 0.0], fuel_l=[0.3, 0.6, 0.0])
    told = sheet_facts(changed(zones=zones))["zones"]
    assert [zone["area_ha"] for zone in told] == ["<0.01", "0.01", "0.00"]
    assert [zone["fuel_l"] for zone in told] == ["<1", "1", "0"]


def test_unknown_columns_are_dashes_not_zeros(plan: Plan) -> None:
    assert {zone["fuel_l"] for zone in sheet_facts(plan)["zones"]} == {"–"}
    assert sheet_facts(plan)["fuel_known"] is False
    told = sheet_facts(plan)["totals"]
    assert "litres," not in told
    assert "tractor's power was not given" in told


def test_totals_with_price(plan: Plan, changed: Callable[..., Plan]) -> None:
    settings = dataclasses.replace(
        plan.settings, tractor=TractorSection(pto_power_kw=180), costs=CostsSection(currency="EUR")
    )
    zones = plan.zones.assign(fuel_l=[20.0, 50.0, 2.0], time_min=[20.0, 60.0, 7.0])
    told = sheet_facts(changed(settings=settings, zones=zones, totals={"cost": 79.6}))["totals"]
    assert "72 litres, 1 h 27 min, 80 EUR at the prices given." in told


def test_passes_that_are_lifted_all_the_way_are_left_out_on_the_sheet_too(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    totals = {"passes": 40.0, "passes_lifted_throughout": 36.0}
    told = sheet_facts(changed(totals=totals))["totals"]
    assert "Lifted all the way on 36 of 40 passes: leave them out, they are not counted." in told
    assert "leave them out" not in sheet_facts(plan)["totals"]


def test_a_cover_that_the_name_says_is_not_known_is_told_once(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    line = plan.hazards.iloc[[0]].assign(name="old main, cover not known", depth_cm=float("nan"))
    (told,) = sheet_facts(changed(hazards=line))["hazards"]
    assert told.count("cover not known") == 1


def test_hazards_with_cover_and_distance(plan: Plan) -> None:
    drain, obstacle = sheet_facts(plan)["hazards"]
    # cover less the 15 cm left above a drain, and the 3 m taken where none was given (part_rules)
    assert drain == (
        "H1 drain, cover 75 cm (29.5 in), no deeper than 60 cm within 3 m each side "
        "(distance assumed)"
    )
    assert obstacle == "H2 obstacle, old well, legs lifted out within 3 m each side"


def test_what_is_not_known_of_hazards_is_told_once_in_words_of_the_cab(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    codes = ("drain-clear-assumed", "drain-cover-assumed", "hazard-depth-unknown",
             "obstacle-clear-assumed", "service-clear-assumed")  # fmt: skip
    notices = [Notice("caution", code, f"(clear_m) {code}.") for code in codes]
    told = sheet_facts(changed(notices=(*plan.notices, *notices)))
    assert "clear_m" not in json.dumps([told["cautions"], told["hazards"]])
    assert told["hazards_ask"] == "Distance assumed: agree it on site."
    deep = plan.hazards.assign(clear_m=3.0, kind="service")  # one of the two has no cover
    assert sheet_facts(changed(hazards=deep))["hazards_ask"].startswith("Cover not known: find")
    assert sheet_facts(changed(hazards=deep.assign(depth_cm=90.0)))["hazards_ask"] == ""


def test_zones_that_do_not_add_up_as_shown_are_told_to_be_rounded(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    def told(area_ha: list[float]) -> str:
        return sheet_facts(changed(zones=plan.zones.assign(area_ha=area_ha)))["totals"]

    assert "rounded" in told([1.004, 1.004, 0.5])  # 1.00 + 1.00 + 0.50 beside 2.51
    assert "rounded" not in told([1.001, 1.001, 0.5])


@pytest.mark.parametrize("cover_cm", [5.0, 15.0, 45.0, 75.0, math.nan])
def test_the_depth_told_over_a_drain_is_the_one_planned(
    plan: Plan, changed: Callable[..., Plan], cover_cm: float
) -> None:
    drains = plan.hazards.iloc[[0]].assign(kind="drain", depth_cm=cover_cm)
    (line,) = sheet_facts(changed(hazards=drains))["hazards"]
    (cap_cm,) = hazard_zones(drains, machine_width_m=3.0)[0]["cap_cm"]
    words = f"no deeper than {cap_cm:g} cm" if cap_cm > 0 else "legs lifted out within"
    assert words in line
    settings = plan.settings.machine.settings_cm
    fits = [depth for depth in settings if depth <= cap_cm]
    told = 0 < len(fits) < len(settings)
    assert (f"{words}, pin {len(fits)} at most, within" in line) == told
    other = dataclasses.replace(plan.settings.machine, depth_control="hydraulic")
    hydraulic = dataclasses.replace(plan.settings, machine=other)
    assert "pin" not in sheet_facts(changed(hazards=drains, settings=hydraulic))["hazards"][0]


def test_a_hazard_outside_the_field_is_told_as_such(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    far = plan.hazards.assign(geometry=plan.hazards.geometry.translate(0, 5000))
    told = sheet_facts(changed(hazards=far))["hazards"]
    assert all(line.endswith("outside the field") for line in told)
    assert "outside" not in " ".join(sheet_facts(plan)["hazards"])


def test_a_drain_system_is_counted(plan: Plan, changed: Callable[..., Plan]) -> None:
    twice = pd.concat([plan.hazards, plan.hazards.iloc[[0]]], ignore_index=True)
    assert sheet_facts(changed(hazards=twice))["hazards"][0].startswith(
        "H1 drain (2 of them), cover"
    )


def test_changes_name_the_depth_that_asks_for_them(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    zones = plan.zones.assign(machine_changes=["Slower.\nWings.", "Wings.", ""])
    assert sheet_facts(changed(zones=zones))["changes"] == [
        "At 32.5 cm: Wings.",
        "At 37.5 cm: Slower.",
    ]
    assert sheet_facts(plan)["changes"] == []


def test_one_change_at_many_depths_is_told_for_the_extremes(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    many = pd.concat([plan.zones.iloc[[0]]] * 4, ignore_index=True)
    depths = [45.0, 37.5, 40.0, 42.5]
    told = [f"{depth:g} cm is {depth / 6:.1f} times the foot width." for depth in depths]
    zones = many.assign(zone=[1, 2, 3, 4], depth_cm=depths, machine_changes=told)
    assert sheet_facts(changed(zones=zones))["changes"] == [
        f"{told[1]} At 45 cm: 7.5 times. Likewise at the depths between."
    ]


def test_of_the_deepest_the_figures_alone_are_told(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    told = "7 legs at {} cm and 8 km/h need {} kW of 180 kW. Drive {} km/h, or pull {} legs."
    lines = [told.format("42.5", 211, 7.2, 5), told.format("37.5", 186, 7.8, 6), ""]
    zones = plan.zones.assign(depth_cm=[42.5, 37.5, 0.0], machine_changes=lines)
    assert sheet_facts(changed(zones=zones))["changes"] == [
        f"{lines[1]} At 42.5 cm: 211 kW, 7.2 km/h, 5 legs."
    ]


@pytest.mark.parametrize(("depths", "lines"), [(1, 2), (3, 2), (4, 3), (5, 4), (9, 4)])
def test_there_is_a_line_for_the_pit_of_each_other_depth(
    plan: Plan, changed: Callable[..., Plan], depths: int, lines: int
) -> None:
    many = pd.concat([plan.zones.iloc[[0]]] * depths, ignore_index=True)
    zones = many.assign(zone=range(depths), depth_cm=[25.0 + 2.5 * i for i in range(depths)])
    assert sheet_facts(changed(zones=zones))["later_pits"] == lines


def test_dates_of_the_readings(plan: Plan, changed: Callable[..., Plan]) -> None:
    assert sheet_facts(plan)["dates"] == "Readings of 2026-09-02"
    two = plan.stations.assign(date=["2026-09-02", "2026-09-05", "", None])
    assert sheet_facts(changed(stations=two))["dates"] == "Readings of 2026-09-02 to 2026-09-05"
    none = plan.stations.assign(date="")
    assert sheet_facts(changed(stations=none))["dates"] == "Readings without date"


def test_a_figure_that_stands_twice_in_a_sentence_is_told_once_of_the_deepest(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    told = [
        f"At {depth} cm at most {at} cm: {at} cm or closer." for depth, at in ((30, 45), (35, 52))
    ]
    zones = plan.zones.assign(depth_cm=[30.0, 35.0, 0.0], machine_changes=[*told, ""])
    assert sheet_facts(changed(zones=zones))["changes"] == [f"{told[0]} At 35 cm: 52 cm."]


def test_a_sentence_that_two_depths_share_is_told_once(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    told = ["30 cm is deep. Fit wings.", "35 cm is deep. Fit wings.", ""]
    zones = plan.zones.assign(depth_cm=[30.0, 35.0, 0.0], machine_changes=told)
    assert sheet_facts(changed(zones=zones))["changes"] == [
        "30 cm is deep. Fit wings. At 35 cm too.",
    ]


@pytest.mark.parametrize(("count", "columns"), [(3, 1), (8, 1), (9, 3), (90, 3)])
def test_many_zones_are_set_in_columns(
    plan: Plan, changed: Callable[..., Plan], count: int, columns: int
) -> None:
    many = pd.concat([plan.zones] * 30, ignore_index=True).head(count)
    told = sheet_facts(changed(zones=many.assign(zone=range(1, count + 1))))
    assert told["zone_columns"] == columns
    assert len(told["zones"]) == count


@pytest.mark.parametrize(
    ("count", "height_m", "first"),
    [(3, 150, True), (12, 150, True), (90, 150, False), (30, 50, True)],
)
def test_the_table_of_zones_stands_beneath_the_map_where_it_has_room(
    plan: Plan, changed: Callable[..., Plan], count: int, height_m: float, first: bool
) -> None:
    west, south, east, _ = plan.boundary.bounds
    many = pd.concat([plan.zones] * 30, ignore_index=True).head(count)
    boundary = MultiPolygon([box(west, south, east, south + height_m)])
    told = changed(zones=many.assign(zone=range(1, count + 1)), boundary=boundary)
    assert sheet_facts(told)["zones_first"] is first


@pytest.mark.parametrize("length", [5, 40, 300])
def test_a_long_name_is_whole_in_the_heading_and_short_in_the_footer(
    plan: Plan, changed: Callable[..., Plan], length: int
) -> None:
    field = dataclasses.replace(plan.settings.field, name="x" * length)
    told = sheet_facts(changed(settings=dataclasses.replace(plan.settings, field=field)))
    assert told["field"] == "x" * length
    assert len(told["field_short"]) <= 48


def test_everything_is_plain_data(plan: Plan) -> None:
    told = json.loads(json.dumps(sheet_facts(plan), allow_nan=False))
    assert told["plan_short"] == plan.plan_id[:8]
    assert {"event", "do"} == set(told["events"][0])
    assert [trial["speed"] for trial in told["trials"]] == ["4", "6", "8", "10"]


def test_a_speed_that_some_depth_does_not_get_is_said_to_be_slower_there(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    settings = dataclasses.replace(plan.settings, tractor=TractorSection(pto_power_kw=180.0))
    own = settings.machine.speed_km_h
    for speeds, end in (
        ([7.2, own, own], ", slower where the order of work says so."),
        ([own] * 3, " km/h."),
    ):
        zones = plan.zones.assign(work_speed_km_h=speeds, pto_power_kw=170.0)
        about = sheet_facts(changed(settings=settings, zones=zones))["about"]
        assert about.endswith(end)
