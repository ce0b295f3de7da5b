"""The bars that can stop a plan: told from the rating and the figures of the zones, else silent."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest

from zoning.model import Notice, Plan
from zoning.outputs.bars import (
    RATING_COLUMNS,
    STANDING,
    check_bar,
    check_line,
    doubt_bar,
    pins_assumed,
    rating_bar,
    slowest_km_h,
    stop_bars,
    tractor_bar,
)


def rated(*, part: str = "whole field", few: bool = False, **more: object) -> pd.DataFrame:
    row = {"part": part, "points": 16, "over_limit": 1, "rating": "little", "loosen": "no"}
    return pd.DataFrame([{**row, "few_points": few, **more}])


def test_a_rating_that_calls_for_no_loosening_is_told_with_its_count() -> None:
    assert rating_bar(rated()) == (
        "RATING: LITTLE COMPACTION (1 of 16 points over the limit): loosening is not called for"
    )
    assert rating_bar(rated(rating="slight", over_limit=7)).startswith("RATING: SLIGHT COMPACTION")


@pytest.mark.parametrize(
    "rating",
    [
        rated(loosen="yes", rating="severe"),
        rated(few=True),
        rated(part="headland"),
        pd.DataFrame(columns=[*RATING_COLUMNS]),
    ],
)
def test_any_other_rating_is_silent(rating: pd.DataFrame) -> None:
    assert rating_bar(rating) == ""


@pytest.mark.parametrize(
    ("answer", "beside"),
    [
        ("no", ""),
        ("no by the probe; pits say yes (2 of 3)", " by the probe; pits say yes, 2 of 3"),
        (np.nan, ""),  # a plan that was kept before pits and dry soil were told
    ],
)
def test_a_rating_is_told_with_what_pits_say_against_it(answer: object, beside: str) -> None:
    assert rating_bar(rated(answer=answer)).partition("called for")[2] == beside


CODES = ("few-stations", "pits-against-probe", "readings-dry")


def doubted(changed: Callable[..., Plan], *codes: str, **rating: object) -> str:
    notices = tuple(Notice("caution", code, "At length.") for code in codes)
    told = rated(loosen="yes", rating="severe", over_limit=14, **rating)
    return doubt_bar(changed(notices=notices, rating=told))


def test_no_bar_is_sounder_than_the_cautions_on_the_readings(
    changed: Callable[..., Plan],
) -> None:
    assert doubted(changed) == doubted(changed, "a-slope", answer="yes") == ""
    assert doubted(changed, CODES[1]) == (
        "EVIDENCE IN DOUBT: pits contradict the probe. Dig before loosening"
    )
    said = [doubted(changed, code) for code in CODES]
    assert len(set(said)) == 3
    every = doubted(changed, *CODES)
    assert all(bar.removesuffix(". Dig before loosening")[19:] in every for bar in said)


def test_a_yes_that_pits_or_dry_soil_weaken_stands_in_a_bar(changed: Callable[..., Plan]) -> None:
    told = doubted(changed, answer="yes by the probe in dry soil; pits say no (3 of 4)")
    assert told == (
        "EVIDENCE IN DOUBT: loosening is called for by the probe in dry soil; pits say no, 3 of 4. "
        "Dig before loosening"
    )
    few = doubted(changed, answer="too few to tell", few=True)
    assert few == ""


def test_a_note_on_dry_soil_is_no_bar(plan: Plan, changed: Callable[..., Plan]) -> None:
    assert doubt_bar(changed(notices=(Notice("note", "readings-dry", "Some."),))) == ""


def test_the_doubt_stands_before_the_rating(changed: Callable[..., Plan]) -> None:
    given = (Notice("caution", "readings-dry", "At length."),)
    first, second = stop_bars(changed(notices=given, rating=rated()))
    assert (first[:17], second[:6]) == ("EVIDENCE IN DOUBT", "RATING")


LEAD = "STOP, by the check of 2026-10-02 against plan aaaaaaaa: "


def stop(pit: str, words: str) -> Notice:
    return Notice("caution", STANDING, f"{LEAD}{words}", (pit,) if pit else ())


def test_stops_that_stand_are_one_bar_in_the_words_of_their_check(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    assert (check_bar(plan), check_line(plan)) == ("", "")
    given = (stop("B1", "pit B1 was too deep."), stop("B2", "soil was plastic in pit B2."))
    told = changed(notices=(*given, *plan.notices))
    assert check_bar(told) == f"{LEAD}pit B1 was too deep. Soil was plastic in pit B2."
    assert check_line(told) == "STOP, by the check of 2026-10-02: pits B1, B2"
    old = dataclasses.replace(stop("A1", ""), text=LEAD.replace("2026", "2025") + "pit A1.")
    assert check_bar(changed(notices=(*given[:1], old))) == f"{given[0].text} {old.text}"
    assert check_line(changed(notices=(stop("", "ask."),))).endswith(": see the cautions")


def test_stops_too_many_for_a_bar_are_told_by_their_pits(changed: Callable[..., Plan]) -> None:
    given = tuple(stop(f"B{n}", f"pit B{n} was {'far ' * 40}too deep.") for n in range(1, 20))
    bar = check_bar(changed(notices=given))
    assert bar.startswith(given[0].text)
    assert len(bar) < 600
    whole = bar.count("too deep.")
    assert f"Further STOP: pits B{whole + 1}, B{whole + 2}, " in bar
    assert bar.endswith(f"and {19 - whole - 12} more; the map page tells it whole.")


def test_pins_are_assumed_where_shallowest_hole_or_step_is_not_given(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    def taken(code: str, *keys: str, control: str = "pins") -> bool:
        machine = dataclasses.replace(plan.settings.machine, depth_control=control)
        return pins_assumed(
            changed(
                notices=(Notice("caution", code, "In words.", keys=keys),),
                settings=dataclasses.replace(plan.settings, machine=machine),
            )
        )

    assert taken("assumed-machine")
    assert taken("assumed-in-part", "legs", "depth_step_cm")
    assert taken("assumed-in-part", "depth_min_cm")
    assert not taken("assumed-in-part", "depth_max_cm", "frame")
    assert not taken("assumed-in-part", "depth_min_cm", control="hydraulic")
    assert not pins_assumed(plan)


def weak(plan: Plan, changed: Callable[..., Plan], power_kw: float | None, **more: object) -> Plan:
    zones = plan.zones.assign(
        area_ha=[2.0, 3.25, 1.0], depth_cm=[45.0, 35.0, 0.0], **more,
        pto_power_kw=[241.2, 189.0, 0.0],
    )  # fmt: skip
    tractor = dataclasses.replace(plan.settings.tractor, pto_power_kw=power_kw)
    return changed(zones=zones, settings=dataclasses.replace(plan.settings, tractor=tractor))


def test_a_tractor_too_weak_at_any_speed_is_told_with_area_and_power(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    told = tractor_bar(weak(plan, changed, 85.0, work_speed_km_h=[np.nan, np.nan, 8.0]))
    assert told == (
        "TRACTOR TOO WEAK on 5.25 of 6.25 ha: about 190–245 kW needed at the PTO at 8 km/h "
        "(draft ±50 %), 85 kW given, too little even at 4 km/h"
    )
    told = tractor_bar(weak(plan, changed, 85.0, work_speed_km_h=[np.nan, 5.0, 8.0]))
    assert "on 2.00 of 6.25 ha: about 245 kW needed" in told


def test_a_tractor_that_can_or_is_not_known_is_silent(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    assert stop_bars(plan) == ()
    assert tractor_bar(weak(plan, changed, 85.0, work_speed_km_h=[4.0, 5.0, np.nan])) == ""
    assert tractor_bar(weak(plan, changed, None, work_speed_km_h=[np.nan, np.nan, 8.0])) == ""


def test_a_machine_slower_than_loosening_asks_keeps_its_own_speed(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    slow = dataclasses.replace(plan.settings.machine, speed_km_h=3.0)
    assert slowest_km_h(changed(settings=dataclasses.replace(plan.settings, machine=slow))) == 3.0
