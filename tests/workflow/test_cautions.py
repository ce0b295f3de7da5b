"""The cautions every plan carries; the reference is printed wherever they are."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely import LineString, box

from zoning.depths import Places
from zoning.model import FieldInputs, Notice, Plan
from zoning.model.settings import MachineSection
from zoning.outputs.bars import STANDING
from zoning.outputs.drawing.zone_labels import guessed_zones, held_zones
from zoning.outputs.map_page.data import map_document
from zoning.outputs.sheet.lifted import lifted_steps
from zoning.workflow.cautions import (
    ALWAYS,
    HAZARD_CAUTION,
    cleared,
    guessed_in,
    in_order,
    standing,
    zone_cautions,
)
from zoning.workflow.decide import decide, lay_ground
from zoning.workflow.make import make_plan


@pytest.mark.parametrize(
    ("services", "reference", "ends"),
    [
        ("records", "E 123", "Reference: E 123."),
        ("located", "L 9", "Reference: L 9."),
        ("records", "", "No reference was given."),
        ("not_checked", "", "before any leg goes in."),
    ],
)
def test_the_first_caution_tells_what_was_done_about_services(
    sample_plan: Plan, services: str, reference: str, ends: str
) -> None:
    hazards = replace(sample_plan.settings.hazards, services=services, reference=reference)
    settings = replace(sample_plan.settings, hazards=hazards)
    first = standing(settings, sample_plan.hazards, sample_plan.zones)[0]
    assert first.code == f"services-{services}".replace("_", "-")
    assert first.text.endswith(ends)


@pytest.mark.parametrize("reference", ["", "  "])
def test_services_located_without_a_reference_are_not_located(
    sample_plan: Plan, reference: str
) -> None:
    hazards = replace(sample_plan.settings.hazards, services="located", reference=reference)
    settings = replace(sample_plan.settings, hazards=hazards)
    assert cleared(45.0, settings) == "NOT CLEARED"
    assert cleared(20.0, settings) == "not deeper than notice depth"
    first = standing(settings, sample_plan.hazards, sample_plan.zones)[0]
    assert first.code == "services-unreferenced"
    assert "counts as not located. Give the reference" in first.text
    assert "printed here" not in first.text


def test_a_machine_that_nobody_described_is_told_as_assumed(sample_plan: Plan) -> None:
    def told(machine: MachineSection) -> list[str]:
        settings = replace(sample_plan.settings, machine=machine)
        notices = standing(settings, sample_plan.hazards, sample_plan.zones)
        return [n.text for n in notices if n.code == "assumed-machine"]

    (text,) = told(MachineSection(travel_heading_deg=12.0))
    assert "7 legs 43 cm apart, set from 15 to 45 cm in steps of 2.5 cm" in text
    assert told(MachineSection(name="ours")) == []
    assert told(sample_plan.settings.machine) == []


def test_located_ground_is_never_called_cleared_or_safe(sample_plan: Plan) -> None:
    hazards = replace(sample_plan.settings.hazards, services="located")
    settings = replace(sample_plan.settings, hazards=hazards)
    assert cleared(45.0, settings) == "located"
    assert cleared(0.0, settings) == "lifted out"
    words = " ".join(n.text for n in standing(settings, sample_plan.hazards, sample_plan.zones))
    assert "safe" not in words.lower()


def test_what_the_field_itself_calls_for_comes_before_what_every_plan_carries(
    sample_plan: Plan,
) -> None:
    codes = [notice.code for notice in sample_plan.notices if notice.level == "caution"]
    own = len(codes) - len(ALWAYS)
    assert tuple(codes[own:]) == ALWAYS
    assert codes[:3] == ["services-records", "not-cleared", "drains"]
    assert any(code.startswith("machine-") for code in codes[:own])


def test_every_caution_and_note_is_told_once_and_the_ridge_leads_the_notes() -> None:
    first = [Notice("caution", code, "") for code in ("services-records", "drains", "wet-soil")]
    ridge = Notice("note", "machine-ridge-between-legs", "18.5 cm")
    note, weak = Notice("note", "above-base", ""), Notice("caution", "machine-too-weak", "")
    told = in_order([note, ridge, weak, note, first[2]], first)
    assert told == (first[0], first[1], weak, first[2], ridge, note)


def test_what_speaks_against_the_readings_comes_before_the_machine() -> None:
    first = [Notice("caution", code, "") for code in ("services-records", "drains", "wet-soil")]
    weak, dry = (Notice("caution", code, "") for code in ("machine-too-weak", "readings-dry"))
    pits = Notice("caution", "pits-against-probe", "")
    codes = (
        "worked-without-pan", "machine-ridge-between-legs", "assurance-short", "several-dates",
        "above",
    )  # fmt: skip
    notes = [Notice("note", code, "") for code in codes]
    told = in_order([*reversed(notes), weak, dry, pits], first)
    assert told == (*first[:2], pits, dry, weak, first[2], *notes)


def test_stops_that_stand_lead_in_the_order_given_and_stand_once() -> None:
    first = [Notice("caution", code, "") for code in ("services-located", "wet-soil")]
    near, deep = (Notice("caution", STANDING, text) for text in ("STOP: near", "STOP: deep"))
    guessed = Notice("caution", "part-guessed", "gateway")
    told = in_order([guessed, near, deep], first)
    assert told == (near, deep, first[0], guessed, first[1])


def test_guessed_ground_follows_services_and_what_this_field_calls_for_comes_behind() -> None:
    first = [Notice("caution", code, "") for code in ("services-located", "drains", "wet-soil")]
    guessed = Notice("caution", "part-guessed", "gateway")
    assert in_order([guessed], first) == (first[0], guessed, *first[1:])


CRS = "EPSG:32630"
THREE = gpd.GeoDataFrame(
    {"zone": [3, 1, 2], "cleared": ["NOT CLEARED", "lifted out", "located"],
     "depth_cm": [35.0, 0.0, 30.0]},
    geometry=[box(20, 0, 30, 10), box(0, 0, 10, 10), box(10, 0, 20, 10)], crs=CRS,
)  # fmt: skip


def hazards(*rows: tuple[str, float]) -> gpd.GeoDataFrame:
    """Return the keep-off of hazards in the first zone, with what each allows."""
    frame = {"kind": [kind for kind, _ in rows], "cap_cm": [cap for _, cap in rows]}
    return gpd.GeoDataFrame(frame, geometry=[box(2, 2, 4, 4)] * len(rows), crs=CRS)


@pytest.mark.parametrize(
    ("kind", "cap_cm", "words"),
    [("obstacle", 0.0, "keep off and go round"), ("service", 0.0, "only where its owner allows"),
     ("drain", 0.0, "legs lifted out over it"), ("drain", 40.0, "no deeper than 40 cm over it")],
)  # fmt: skip
def test_a_zone_at_a_hazard_is_told_what_to_do_there(kind: str, cap_cm: float, words: str) -> None:
    told = zone_cautions(THREE, hazards((kind, cap_cm)), pd.Series(dtype=str))
    assert words in told[1]
    assert pd.Series(told[1]).str.match(HAZARD_CAUTION).all()
    assert told[0] == "NOT CLEARED: services not located"
    assert told[2] == ""


def test_zones_that_a_hazard_holds_up_are_told_to_stay_so() -> None:
    told = zone_cautions(THREE, hazards(("drain", 30.0)), pd.Series(dtype=str), {1, 2})
    assert told[1].endswith("30 cm over it; held up by a hazard: leave the legs lifted")
    assert told[2] == "held up by a hazard: set no deeper"
    assert held_zones(THREE.assign(cautions=told)).tolist() == [False, True, True]


def test_a_zone_with_guessed_ground_says_so_before_its_hazards() -> None:
    guessed = pd.Series({1: "gateway", 3: "gateway and old yard"})
    told = zone_cautions(THREE, hazards(("obstacle", 0.0)), guessed)
    assert told[0] == (
        "NOT CLEARED: services not located; guessed: no station read gateway and old yard, probe "
        "or dig there and plan again first"
    )
    assert told[1].startswith("guessed: no station read gateway, probe or dig")
    assert told[1].index("guessed") < told[1].index("obstacle")
    marked = guessed_zones(THREE.assign(cautions=told))
    assert marked.tolist() == [True, True, False]


def test_the_zones_that_hold_a_part_that_nobody_read_are_found() -> None:
    parts = pd.DataFrame({"part": ["body", "gateway", "old yard"]})
    stations = pd.DataFrame({"part_used": ["body"], "used": [True], "n_known": [1]})
    part = np.array(["body", "gateway", "gateway", "old yard", "body"])
    places = Places(np.array([0, 0, 1, 1, 2]), part, np.zeros((5, 2)), np.ones(5))
    zone = np.array([7, 4, 9])  # of the pieces 0, 1 and 2
    found = guessed_in(parts, stations, places, zone)
    assert found.to_dict() == {7: "gateway", 4: "gateway and old yard"}
    assert guessed_in(parts.head(1), stations, places, zone).empty


def test_ground_lifted_for_a_hazard_says_so_in_its_zone_and_other_lifted_ground_has_no_pan(
    sample_inputs: FieldInputs, sample_plan: Plan
) -> None:
    driven = decide(sample_inputs, lay_ground(sample_inputs))
    zones = sample_plan.zones.set_index("zone")
    told = zones["cautions"].str.contains(HAZARD_CAUTION)
    held = set(driven.piece_zone[driven.choice.cap_cm == 0])
    lifted = zones["depth_cm"] == 0
    assert held
    assert set(zones.index[lifted & told]) == held
    without = zones[lifted & ~told]
    assert len(without)
    assert (without["assurance"] > sample_plan.settings.depth.assurance).all()


def test_ground_without_a_pan_that_a_cable_crosses_is_told_apart_from_the_cable(
    sample_inputs: FieldInputs, sample_plan: Plan
) -> None:
    """A cable across the patch that the sample leaves out for want of a pan, zone by zone."""
    zones = sample_plan.zones
    patch = zones[(zones["depth_cm"] == 0) & ~zones["cautions"].str.contains(HAZARD_CAUTION)]
    west, _, east, _ = patch.total_bounds
    middle = patch.geometry.iloc[0].representative_point()
    cable = LineString([(west - 5, middle.y), (east + 5, middle.y)])
    row = {"kind": ["service"], "name": ["cable"], "depth_cm": [70.0], "clear_m": [4.0]}
    hazards = gpd.GeoDataFrame(row, geometry=[cable], crs=sample_inputs.working_crs)
    plan = make_plan(replace(sample_inputs, hazards=hazards))
    lifted = plan.zones[plan.zones["depth_cm"] == 0].set_index("zone")
    away_m = lifted.distance(cable) - 4.0
    told = lifted["cautions"].str.contains(HAZARD_CAUTION)
    assert set(told) == {True, False}
    reach_m = plan.settings.machine.row_gap_cm / 100
    assert (away_m[told] <= reach_m).all()
    assert (away_m[~told] > reach_m).all()
    free = lifted.index[~told].tolist()
    steps = lifted_steps(plan, plan.zones)
    assert ["(H1)" in step for step in steps] == [True, False]
    assert steps[1].startswith(f"Zone {free[0]}" if len(free) == 1 else "Zones ")
    on_page = {zone["zone"]: zone["keep_off"] for zone in map_document(plan)["zones"]}
    assert {zone: bool(on_page[zone]) for zone in lifted.index} == told.to_dict()
