"""What the work takes, over depths that bind differently."""

from __future__ import annotations

import re
from dataclasses import replace

import geopandas as gpd
import numpy as np
import pytest
from shapely import box

from zoning.machine import Outfit
from zoning.model import Plan
from zoning.workflow.effort import driven_share, effort_of


def test_a_spacing_too_wide_is_told_for_the_shallowest_depth(sample_plan: Plan) -> None:
    wide = replace(sample_plan.settings.machine, leg_spacing_cm=100.0)
    settings = replace(sample_plan.settings, machine=wide)
    effort = effort_of(sample_plan.zones, Outfit.of(settings), sample_plan.losses)
    told = next(notice.text for notice in effort.notices if notice.code == "machine-legs-too-wide")
    depths = sample_plan.zones["depth_cm"]
    assert f"{depths[depths > 0].min():g} cm deep" in told


def test_every_depth_that_the_tractor_cannot_pull_is_named_in_one_caution(
    sample_plan: Plan,
) -> None:
    """The depths are those whose zones say so themselves."""
    weak = replace(sample_plan.settings.tractor, pto_power_kw=150.0)
    settings = replace(sample_plan.settings, tractor=weak)
    effort = effort_of(sample_plan.zones, Outfit.of(settings), sample_plan.losses)
    (told,) = [each.text for each in effort.notices if each.code == "machine-pull-slower"]
    short = effort.zones["machine_changes"].str.contains("at the PTO; the tractor has")
    depths = sorted(set(effort.zones.loc[short, "depth_cm"]))
    assert len(depths) > 1
    assert f"at {depths[-1]:g} cm and" in told
    assert told.endswith(f" At {', '.join(f'{d:g}' for d in depths[:-1])} cm too, by less.")


def test_a_depth_that_a_slower_speed_cures_is_told_apart(sample_plan: Plan) -> None:
    """With so little power the shallowest depth goes slowly and the deepest not at all."""
    weak = replace(sample_plan.settings.tractor, pto_power_kw=60.0)
    shallow = replace(sample_plan.settings, tractor=weak)
    zones = sample_plan.zones.iloc[:3].assign(depth_cm=[20.0, 42.5, 45.0])
    effort = effort_of(zones, Outfit.of(shallow), sample_plan.losses)
    told = {each.code: each.text for each in effort.notices}
    slow = list(effort.zones["work_speed_km_h"].isna())
    assert slow == [False, True, True]
    assert "at 20 cm and" in told["machine-pull-slower"]
    assert told["machine-cannot-be-pulled"].endswith(" At 42.5 cm too, by less.")


def test_a_note_does_not_say_again_what_a_caution_says_of_a_deeper_depth(
    sample_plan: Plan,
) -> None:
    zones = sample_plan.zones.iloc[:2].assign(depth_cm=[35.0, 42.5])
    settings = sample_plan.settings
    codes = {
        each.code for each in effort_of(zones, Outfit.of(settings), sample_plan.losses).notices
    }
    assert {"machine-below-critical-depth", "machine-pull-slower"} <= codes
    assert codes.isdisjoint({"machine-near-critical-depth", "machine-may-not-be-pulled"})
    alone = effort_of(zones.iloc[:1], Outfit.of(settings), sample_plan.losses)
    told = {each.code for each in alone.notices}
    assert {"machine-near-critical-depth", "machine-may-not-be-pulled"} <= told


def test_legs_taken_off_or_set_closer_in_one_zone_suit_every_depth(sample_plan: Plan) -> None:
    """The zone of the deepest work says how many legs, that of the shallowest how close."""
    zones = sample_plan.zones.iloc[:2].assign(depth_cm=[37.5, 42.5])
    changes = effort_of(zones, Outfit.of(sample_plan.settings), sample_plan.losses).zones[
        "machine_changes"
    ]
    deepest = effort_of(zones.iloc[1:], Outfit.of(sample_plan.settings), sample_plan.losses).zones
    pulled = re.findall(r"pull \d legs", deepest["machine_changes"].iloc[0])
    assert [re.findall(r"pull \d legs", text) for text in changes] == [pulled, pulled]
    wide = replace(sample_plan.settings.machine, leg_spacing_cm=100.0)
    settings = replace(sample_plan.settings, machine=wide)
    closer = effort_of(zones, Outfit.of(settings), sample_plan.losses).zones["machine_changes"]
    shallow = effort_of(zones.iloc[:1], Outfit.of(settings), sample_plan.losses).zones[
        "machine_changes"
    ]
    asked = re.findall(r"set the legs [0-9.]+ cm", shallow.iloc[0], re.IGNORECASE)
    assert len(asked) == 1
    assert all(asked[0] in text for text in closer)


def test_three_figures_stand_beside_those_of_one_depth(sample_plan: Plan) -> None:
    totals = sample_plan.totals
    assert totals["uniform_depth_cm"] == sample_plan.losses.point95_depth_cm
    assert totals["draft_energy_mj"] < totals["uniform_draft_energy_mj"]
    assert totals["fuel_l"] < totals["uniform_fuel_l"]
    # Draft energy falls by a larger share than fuel: the engine also turns without load.
    saved = [1 - totals[name] / totals[f"uniform_{name}"] for name in ("draft_energy_mj", "fuel_l")]
    assert saved[0] > saved[1] > 0


def test_litres_and_minutes_of_the_zones_add_up(sample_plan: Plan) -> None:
    zones = sample_plan.zones
    assert zones["fuel_l"].sum() == pytest.approx(sample_plan.totals["fuel_l"])
    assert zones["time_min"].sum() == pytest.approx(sample_plan.totals["time_min"])


def test_a_pass_without_any_work_is_not_driven() -> None:
    """Two passes of two pieces: the first is lifted all the way, of the second one half."""
    pieces = gpd.GeoDataFrame(
        {"pass_id": [1, 1, 2, 2]}, geometry=[box(i, 0, i + 1, 2) for i in range(4)]
    )
    share = driven_share(pieces, np.array([0.0, 0.0, 0.0, 30.0]), np.array([1, 1, 1, 2]))
    assert share == pytest.approx([1 / 3, 1.0])
