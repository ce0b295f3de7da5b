"""The words of the sheet: checks, steps, ground not cleared, a machine that is assumed."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import numpy as np
import pytest

from zoning.model import Notice, Plan
from zoning.model.settings import HazardsSection
from zoning.outputs.drawing.zone_labels import LeftUnsaid
from zoning.outputs.sheet.words import (
    PINS_MEASURED,
    PIT,
    THREAD,
    assumed,
    before_digging,
    checks,
    last_step,
    listed,
    no_speed,
    not_cleared,
    number,
    small_print,
    stage_titles,
    unsaid,
    why_zero,
)

TAKEN = Notice("caution", "assumed-machine", "No machine is described: measure yours.")


def machine(plan: Plan, changed: Callable[..., Plan], **facts: object) -> Plan:
    settings = dataclasses.replace(
        plan.settings, machine=dataclasses.replace(plan.settings.machine, **facts)
    )
    return changed(settings=settings)


def hazards(plan: Plan, changed: Callable[..., Plan], **facts: object) -> Plan:
    section = HazardsSection(file="hazards.geojson", **facts)
    return changed(settings=dataclasses.replace(plan.settings, hazards=section))


def test_frame_level_is_told_with_its_figures_where_known(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    assert checks(plan)[-1] == "Frame level in work, lengthways and sideways."
    known = Notice(
        "note", "machine-frame-level", "Each degree puts the rear row 1.6 cm deeper. Level it."
    )
    told = checks(changed(notices=(*plan.notices, known)))[-1]
    assert told == f"{checks(plan)[-1]} Each degree puts the rear row 1.6 cm deeper."
    told = checks(changed(notices=(*plan.notices, known, TAKEN)))[-1]
    assert told == checks(plan)[-1]  # nobody owns the machine whose figures these are


def test_number_hazards_and_services_come_before_the_machine(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    first = checks(plan)[:3]
    assert first[0].startswith("Same plan number here, on map page and machine")
    assert "hazard" in first[1]
    # hole 1 is 15 cm and each one 2.5 cm deeper: 30 cm is the seventh
    assert first[2].endswith("until then set no leg deeper than 30 cm, pin 7 at most.")
    located = checks(hazards(plan, changed, services="located", reference="L 9"))
    assert "Services" not in " ".join(located)
    nothing = checks(hazards(plan, changed, services="records", notice_depth_cm=0.0))
    assert nothing[2].endswith("until then lower no leg.")
    bare = checks(changed(hazards=plan.hazards.iloc[:0]))
    assert not any("hazard" in each for each in bare)  # nothing to tick where none is mapped


def test_the_limit_of_ground_not_cleared_names_the_hole_that_it_allows(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    def told(**facts: object) -> str:
        return not_cleared(machine(plan, changed, **facts), plan.zones)[0]

    pins = {"depth_min_cm": 20.0, "depth_max_cm": 45.0}
    assert told(**pins, depth_step_cm=4.0).endswith(
        "anywhere: set no leg deeper than 30 cm (11.8 in), pin 3 (28 cm) at most; dig and probe no "
        "deeper than 30 cm (11.8 in)."
    )
    hydraulic = told(**pins, depth_step_cm=4.0, depth_control="hydraulic")
    assert "no leg deeper than 30 cm (11.8 in); dig" in hydraulic
    deep = {"depth_min_cm": 32.0, "depth_max_cm": 45.0, "depth_step_cm": 4.0}
    assert "anywhere: lower no leg; dig" in told(**deep)  # no setting is so shallow


def test_the_limit_of_the_legs_holds_for_spade_and_probe(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    def told(kind: str = "drain", **facts: object) -> str:
        mapped = changed(hazards=plan.hazards.assign(kind=kind))
        section = HazardsSection(file="hazards.geojson", **facts)
        settings = dataclasses.replace(plan.settings, hazards=section)
        return before_digging(dataclasses.replace(mapped, settings=settings))

    asked = "Ask what is buried before you dig or probe."
    until = "Until services are located, dig and probe no deeper than 30 cm (11.8 in)."
    assert told(services="located", reference="L 9") == asked
    assert told(services="records") == f"{asked} {until}"
    assert told(services="located") == f"{asked} {until}"  # without a reference that is not so
    assert told("service") == f"{asked} {until} Never within the keep-off of H1, H2."
    assert told(notice_depth_cm=0.0) == f"{asked} Until services are located, do not dig or probe."
    assert "ask what is buried, and dig across the run" in PIT


def test_a_limit_is_told_in_no_pin_that_is_assumed(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    part = Notice("caution", "assumed-in-part", "In words.", keys=("depth_min_cm",))
    for notice in (part, TAKEN):
        taken = changed(notices=(*plan.notices, notice))
        told = [*not_cleared(taken, taken.zones), *checks(taken)]
        assert "set no leg deeper than 30 cm (11.8 in), measured at the points" in told[0]
        assert not [each for each in told if "pin 7" in each]
        assert "hole 1 is assumed as 15 cm" in " ".join(told)
    assert checks(changed(notices=(*plan.notices, part)))[3] == PINS_MEASURED


def test_pins_or_hydraulics(plan: Plan, changed: Callable[..., Plan]) -> None:
    told = " ".join(checks(plan))
    assert "hole 1 is taken as 15 cm (5.9 in), each hole 2.5 cm (1.0 in) deeper" in told
    hydraulic = machine(plan, changed, depth_control="hydraulic")
    words = [*checks(hydraulic), *stage_titles(hydraulic, headland=True), last_step(hydraulic)]
    words += not_cleared(hydraulic, hydraulic.zones)
    assert "hole" not in " ".join(words)
    assert "pin" not in " ".join(words)
    assert "dig to the bottom of the slot, compare with the display" in " ".join(words)


def test_an_assumed_machine_is_told_where_it_counts(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    assert assumed(plan) == ""
    taken = changed(notices=(*plan.notices, TAKEN))
    assert assumed(taken) == "MACHINE ASSUMED. No machine is described: measure yours."
    told = " ".join(checks(taken))
    assert "hole 1 is assumed as 15 cm" in told
    assert "the plan assumes them" in told
    assert "assume" not in " ".join(checks(plan))


def test_points_bolts_and_hoses_are_on_the_list(plan: Plan, changed: Callable[..., Plan]) -> None:
    told = " ".join(checks(plan))
    for word in ("Points", "Shear bolts", "Hoses"):
        assert word in told
    assert "Leading tines" not in told
    assert "Leading tines" in " ".join(checks(machine(plan, changed, leading_tines=True)))


def test_straight_passes_first_and_the_headland_last(plan: Plan) -> None:
    straight, headland = stage_titles(plan, headland=True)
    assert straight.startswith("Straight passes, one depth after another")
    assert headland.startswith("Headland rounds last, so that turning")


def test_one_depth_needs_no_changing(plan: Plan, changed: Callable[..., Plan]) -> None:
    one = changed(zones=plan.zones.assign(depth_cm=[30.0, 30.0, 0.0]))
    told = [*stage_titles(one, headland=True), last_step(one)]
    assert told[0] == "Straight passes first."
    assert stage_titles(one, headland=False)[0] == "Straight passes."
    assert "Lift at the edges of zones lifted out (map page, Passes)" in told[-1]
    assert "pins" not in " ".join(told)


def test_where_the_depth_changes_and_how_passes_are_counted(plan: Plan) -> None:
    told = last_step(plan)
    assert told.startswith(
        "If you work pass by pass instead: lift, or stop and move the pins, where zones meet "
        "(map page, Passes)."
    )
    assert "In depth_passes.csv: headland rounds 1, straight passes 2." in told


def test_a_nought_of_the_file_of_passes_is_told_where_its_reason_stands() -> None:
    assert why_zero([]) == ""
    assert why_zero([4]).endswith("depth 0 there: see 4.")
    assert why_zero(range(4, 7)).endswith("see 4, 5 and 6.")


def test_depths_without_a_speed_say_why(plan: Plan, changed: Callable[..., Plan]) -> None:
    assert no_speed(plan) == ""
    zones = plan.zones.assign(work_speed_km_h=[np.nan, 7.0, 8.0], pto_power_kw=[240.0, 90.0, 0.0])
    tractor = dataclasses.replace(plan.settings.tractor, pto_power_kw=85.0)
    weak = changed(zones=zones, settings=dataclasses.replace(plan.settings, tractor=tractor))
    assert "at 37.5 cm the tractor is too weak even at 4 km/h" in no_speed(weak)


def test_ground_not_cleared_is_told_with_the_depth_as_a_number(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    first, order, pit = not_cleared(plan, plan.zones)
    assert first.startswith("NOT CLEARED: zone 1, deeper than 30 cm (11.8 in).")
    for told in (first, order, pit):
        assert "set no leg deeper than 30 cm (11.8 in)" in told
    for name in ("depth_passes.csv", "depth_grid.csv", "pan_surface.tif"):
        assert name in order  # these carry the depth alone
    nothing = hazards(plan, changed, services="records", notice_depth_cm=0.0)
    assert all("lower no leg" in told for told in not_cleared(nothing, plan.zones))
    assert "deeper" not in not_cleared(nothing, plan.zones)[0]
    located = plan.zones.assign(cleared="located")
    assert not_cleared(plan, located) == ("", "", "")


@pytest.mark.parametrize(
    ("count", "of", "told"),
    [(1, None, "zone 0"), (2, None, "zones 0, 1"), (40, None, "40 zones"), (40, 66, "40 of 66 zo")],
)
def test_a_long_list_of_zones_is_counted(count: int, of: int | None, told: str) -> None:
    assert listed(list(range(count)), of).startswith(told)


@pytest.mark.parametrize(
    ("depth", "number", "sentences"),
    [(False, False, 0), (True, False, 1), (False, True, 1), (True, True, 2)],
)
def test_only_what_the_map_leaves_to_the_tones_is_explained(
    *, depth: bool, number: bool, sentences: int
) -> None:
    told = unsaid(LeftUnsaid(without_depth=depth, without_number=number))
    assert told.startswith("Tones hold for this plan alone.")
    assert told.count(".") == 1 + sentences
    assert ("number alone" in told) is depth
    assert ("without a number" in told) is number


def test_numbers_as_a_person_would_say_them() -> None:
    assert [number(value) for value in (30.0, 37.5, 33.06, np.nan)] == ["30", "37.5", "33.1", "–"]


def test_standing_words() -> None:
    assert "3 mm" in THREAD
    assert "too wet, do not loosen" in THREAD  # Tasmania NRE: a thread that rolls easily
    assert "stop the engine" in PIT
    assert "Draft ±50 %" in small_print()
    assert "sources and their standing in the documentation" in small_print()
    assert "does not say that work anywhere is without danger" in small_print()
