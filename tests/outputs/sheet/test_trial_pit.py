"""The depth of the trial on the sheet, and the ridge to expect there."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import geopandas as gpd
import numpy as np
import pytest

from zoning.contracts import constant, rows
from zoning.model import Plan
from zoning.outputs.sheet.trial_pit import ridge


def with_ridge(plan: Plan, ridge_cm: object, **more: object) -> gpd.GeoDataFrame:
    return plan.zones.assign(ridge_cm=ridge_cm, **{"ridge_measured": False, **more})


def test_the_ridge_is_told_as_measured_or_by_geometry_with_what_practice_finds(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    told = ridge(changed(zones=with_ridge(plan, 18.46)))
    assert told.startswith(
        " Try 32.5 cm: expect soil loosened to only 14 cm midway between legs (pan 20-28 cm), a "
        "ridge of 18.5 cm by 45-degree geometry. "
    )
    assert told.endswith("what you measure counts.")
    flat = plan.zones.loc[plan.zones["depth_cm"] == 32.5, "pan_base_cm"].iloc[0] - 10.0
    bases = with_ridge(plan, 9.0).assign(pan_base_cm=[flat] * len(plan.zones))
    passed = "loosened to 23.5 cm midway between legs, past the pan (down to "
    assert passed in ridge(changed(zones=bases))
    measured = ridge(changed(zones=with_ridge(plan, 12.0, ridge_measured=True)))
    assert measured.endswith("a ridge of 12 cm as measured behind this machine.")
    assert ridge(plan) == ""
    machine = dataclasses.replace(plan.settings.machine, point="winged", wing_width_cm=0.0)
    settings = dataclasses.replace(plan.settings, machine=machine)
    told = ridge(changed(zones=with_ridge(plan, 18.46), settings=settings))
    assert "by 45-degree geometry of the foot alone, wings not measured. " in told
    depths = [row["look_for"] for row in rows("trial_speeds") if "by practice" in row["look_for"]]
    assert all("ridge" in words for words in depths)
    assert len(depths) == 2


def test_no_note_of_the_machine_is_searched_for_the_ridge(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    zones = plan.zones.assign(machine_notes="At 32.5 cm expect a ridge of 18 cm.")
    assert ridge(changed(zones=zones)) == ""
    figured = with_ridge(plan, 18.0, machine_notes="Another note, in other words.")
    assert "a ridge of 18 cm" in ridge(changed(zones=figured))


def test_a_low_ridge_is_not_worth_a_word(plan: Plan, changed: Callable[..., Plan]) -> None:
    least = constant("machine_rules", "ridge_note_cm")
    assert ridge(changed(zones=with_ridge(plan, least))) == ""
    assert ridge(changed(zones=with_ridge(plan, least + 0.5))) != ""
    assert ridge(changed(zones=with_ridge(plan, np.nan))) == ""


@pytest.mark.parametrize(
    ("depths", "clear", "told"),
    [([40, 30, 0], [False, True], " Try 30 cm"),  # 40 cm in the headland alone
     ([40, 35, 30], [True, True, True], " Try 35 cm"),
     ([40, 30, 35], [True, True, True], " Try 30 cm"),  # along most of the body
     ([40, 35, 30], [False, False, True], " Try 30 cm"),
     ([40, 35, 30], [False, False, False], " Once services are located, try 35 cm"),
     ([40, 0, 0], [True, True, True], " Try 40 cm")],
)  # fmt: skip
def test_the_ridge_is_that_of_the_depth_of_most_work_that_the_trial_may_have(
    plan: Plan, changed: Callable[..., Plan], depths: list[float], clear: list[bool], told: str
) -> None:
    # zone 1 is the headland's, zones 2 and 3 lie along the one pass of the body
    cleared = ["located" if each else "NOT CLEARED" for each in [*clear, True][:3]]
    high = [depth / 2 or np.nan for depth in depths]
    zones = with_ridge(plan, high, depth_cm=depths, cleared=cleared)
    runs = plan.passes.assign(depth_cm=[depths[0], depths[1], depths[2], depths[1]])
    words = ridge(changed(zones=zones, passes=runs))
    assert words.partition(": expect")[0] == told
    assert f"a ridge of {float(told.split()[-2]) / 2:g} cm" in words


def test_no_trial_is_sent_to_ground_that_a_hazard_holds_or_to_small_zones(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    zones = with_ridge(plan, 12.0, depth_cm=[40.0, 35.0, 30.0], cleared="located")
    runs = plan.passes.assign(depth_cm=[40.0, 30.0, 35.0, 30.0])
    assert ridge(changed(zones=zones, passes=runs)).startswith(" Try 30 cm")
    over = zones.assign(cautions=["", "", "held up by a hazard: set no deeper"])
    assert ridge(changed(zones=over, passes=runs)).startswith(" Try 35 cm")
    sliver = zones.assign(area_ha=[1.0, 1.0, 0.01])
    assert ridge(changed(zones=sliver, passes=runs)).startswith(" Try 35 cm")
    nc = over.assign(cleared=["NOT CLEARED", "NOT CLEARED", "located"])
    told = ridge(changed(zones=nc, passes=runs))
    assert told.startswith(" Once services are located, try 35 cm")


def test_no_ridge_is_told_for_a_depth_that_the_tractor_cannot_pull(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    zones = with_ridge(plan, 12.0, depth_cm=[40.0, 35.0, 30.0], cleared="located")
    runs = plan.passes.assign(depth_cm=[40.0, 35.0, 30.0, 35.0])
    weak = zones.assign(work_speed_km_h=[4.2, np.nan, 4.2])
    tractor = dataclasses.replace(plan.settings.tractor, pto_power_kw=75.0)
    settings = dataclasses.replace(plan.settings, tractor=tractor)
    assert ridge(changed(zones=zones, passes=runs)).startswith(" Try 35 cm")
    told = ridge(changed(zones=weak, passes=runs, settings=settings))
    assert told.startswith(" Try 30 cm")


def test_the_ridge_is_told_beside_where_the_pan_lies(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    zones = with_ridge(plan, 18.0)
    here = plan.stations.assign(pan_top_cm=19.2, used=True)
    assert " (pan 19-28 cm), a ridge" in ridge(changed(zones=zones, stations=here))
    unread = plan.stations.assign(pan_top_cm=np.nan)
    assert " (pan down to 28 cm), a ridge" in ridge(changed(zones=zones, stations=unread))
