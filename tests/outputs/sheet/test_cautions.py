"""Which cautions of a plan stand in the cab: nothing of the ground and the machine is left out."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable
from pathlib import Path

import pytest

import zoning
from zoning.contracts import rows
from zoning.model import Notice, Plan
from zoning.model.settings import HazardsSection
from zoning.outputs.bars import stop_bars
from zoning.outputs.sheet.cautions import (
    BOLD,
    ELSEWHERE,
    FOR_ADVISER,
    WITH_HAZARDS,
    bold,
    cautions,
    for_adviser,
)
from zoning.workflow.evidence_notices import BESIDE_RATING

FAR = Notice("caution", "gateway-off-field", "The gateway lies 80 m from the field.")
UNPROBED = Notice("caution", "piece-without-reading", "2.00 ha in 1 piece hold no reading.")
GUESSED = Notice("caution", "part-guessed", "Guessed, no station read there: gateway.")
JOINED = Notice("caution", "boundary-joined", "4 pieces are planned as ONE field.")


def with_services(plan: Plan, changed: Callable[..., Plan], services: str) -> Plan:
    section = HazardsSection(file="hazards.geojson", services=services)
    return changed(settings=dataclasses.replace(plan.settings, hazards=section))


def test_services_come_first_whatever_the_order(plan: Plan, changed: Callable[..., Plan]) -> None:
    turned = changed(notices=(Notice("caution", "a-slope", "Steep."), *plan.notices))
    assert cautions(turned)[0] == "Buried services were not checked."
    assert "Steep." in cautions(turned)[1:]


@pytest.mark.parametrize("services", ["not_checked", "records", "located"])
def test_services_are_told_even_if_the_plan_forgot(
    plan: Plan, changed: Callable[..., Plan], services: str
) -> None:
    silent = dataclasses.replace(with_services(plan, changed, services), notices=())
    (first,) = cautions(silent)
    assert "services" in first
    assert ("NOT been checked" in first) is (services == "not_checked")


def test_changes_on_the_machine_are_told_once(plan: Plan, changed: Callable[..., Plan]) -> None:
    notices = (*plan.notices, Notice("caution", "machine-legs-too-wide", "Wings."))
    assert "Wings." in cautions(changed(notices=notices))
    zones = plan.zones.assign(machine_changes="Wings.")
    assert "Wings." not in cautions(changed(notices=notices, zones=zones))


def test_a_machine_that_does_not_reach_is_told_on_the_sheet(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    notices = (*plan.notices, Notice("caution", "machine-too-shallow", "Whole below 40 cm."))
    zones = plan.zones.assign(machine_changes="Wings.")
    assert "Whole below 40 cm." in cautions(changed(notices=notices, zones=zones))


def test_the_adviser_s_cautions_do_not_ride_in_the_cab(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    told = changed(notices=(*plan.notices, FAR, JOINED))
    assert cautions(told) == ("Buried services were not checked.", JOINED.text)
    assert for_adviser(told) == (
        "For the adviser: 1 caution on files, readings or settings stands on the map page and in "
        "plan.json."
    )
    hidden = Notice("caution", "sheet-hidden-rows", "Rows are hidden.")
    twice = changed(notices=(*told.notices, hidden))
    assert for_adviser(twice).startswith(
        "For the adviser: 2 cautions on files, readings or settings stand"
    )
    assert for_adviser(plan) == ""


def test_ground_nobody_probed_follows_services_in_bold(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    told = changed(notices=(*plan.notices, JOINED, UNPROBED, GUESSED))
    assert cautions(told)[1:] == (UNPROBED.text, GUESSED.text, JOINED.text)
    assert (bold(told), bold(plan)) == (3, 1)


def test_what_is_assumed_of_the_machine_is_told_without_keys_of_files(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    keys = ("legs", "depth_max_cm", "frame")
    part = Notice("caution", "assumed-in-part", "In words: [machine] depth_max_cm.", keys=keys)
    machine = dataclasses.replace(
        plan.settings.machine, legs=7, depth_max_cm=45.0, frame="two_row", depth_control="pins"
    )
    settings = dataclasses.replace(plan.settings, machine=machine)
    told = cautions(changed(notices=(*plan.notices, part), settings=settings))
    assert (
        "Assumed, not measured: depths to 45 cm, 7 legs, two rows. Set no depth from this sheet "
        "before the office has your measures."
    ) in told
    assert not any("_cm" in each or "[machine]" in each for each in told)
    every = dataclasses.replace(part, keys=(*keys, "depth_control", "depth_step_cm"))
    all_of_it = changed(notices=(every,), settings=settings)
    step = f"{machine.depth_step_cm:g}"
    assert any(f"pins to 45 cm every {step} cm, 7 legs" in each for each in cautions(all_of_it))


def test_a_caution_that_is_not_known_stays(plan: Plan, changed: Callable[..., Plan]) -> None:
    told = changed(notices=(*plan.notices, Notice("caution", "never-heard-of", "Look out.")))
    assert "Look out." in cautions(told)


def test_cautions_that_every_plan_carries_are_never_the_adviser_s() -> None:
    standing = {row["code"] for row in rows("cautions")}
    assert not standing & FOR_ADVISER


def test_what_is_bold_rides_in_the_cab() -> None:
    assert not BOLD & (FOR_ADVISER | WITH_HAZARDS | ELSEWHERE)


@pytest.mark.parametrize("code", BESIDE_RATING)
def test_what_the_rating_cannot_be_read_without_is_bold_or_a_bar(
    plan: Plan, changed: Callable[..., Plan], code: str
) -> None:
    uncalled = code == "loosening-not-called-for"
    rating = plan.rating.assign(loosen="no", few_points=False) if uncalled else plan.rating
    notice = Notice("caution", code, "On the readings.")
    told = changed(notices=(*plan.notices, JOINED, notice), rating=rating)
    plain = changed(notices=(*plan.notices, JOINED), rating=plan.rating)
    assert len(stop_bars(told)) > len(stop_bars(plain))
    if not uncalled:  # the bar on the rating says that in full
        assert cautions(told).index(notice.text) < bold(told)


@pytest.mark.parametrize("code", sorted(FOR_ADVISER | WITH_HAZARDS | BOLD))
def test_the_codes_are_those_that_the_rooms_give(code: str) -> None:
    _, _, rest = code.partition("-")
    given = re.compile(rf'"({code}|\{{(table|name)\}}-{rest})"')
    package = Path(zoning.__file__).parent
    sources = set(package.rglob("*.py")) - set(package.joinpath("outputs").rglob("*.py"))
    assert any(given.search(path.read_text(encoding="utf-8")) for path in sources)
