"""The cautions every plan carries; the reference is printed wherever they are."""

from __future__ import annotations

from dataclasses import replace

import pytest

from zoning.model import Notice, Plan
from zoning.model.settings import MachineSection
from zoning.workflow.cautions import ALWAYS, cleared, in_order, standing


@pytest.mark.parametrize(
    ("services", "reference", "ends"),
    [
        ("records", "E 123", "Reference: E 123."),
        ("located", "L 9", "Reference: L 9."),
        ("located", "", "No reference was given."),
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
