"""The plans that were issued: their depths in words, and the ground of an earlier one."""

from __future__ import annotations

import json

import pytest
import shapely
from review.small_desk import box

from zoning.records import Body, Check, CheckRow, Draft, PlanIssued, Zone, new_id
from zoning.review import Desk, make_app
from zoning.review.plans import depths_planned, issues, plan_followed, recorded_ground


def keep(desk: Desk, body: Body) -> None:
    row = new_id()
    desk.record.save(Draft(body=body, row_id=row, record_id=row, based_on=0, origin="plan"))


def keep_plan(desk: Desk, plan_id: str, *depths: float) -> None:
    keep(desk, PlanIssued(season=2025, plan_id=plan_id, field="", area_ha=2.0, zones=len(depths),
                          mean_depth_cm=30.0, program="", inputs="[]"))  # fmt: skip
    for number, depth in enumerate(depths, 1):
        west = 0.800 + 0.001 * number
        keep(desk, Zone(season=2025, plan_id=plan_id, zone=number, depth_cm=depth, area_ha=1.25,
                        parts="body", pan_base_cm=None,
                        geometry_wkt=box(west, west + 0.001).wkt))  # fmt: skip


def test_depths_are_summed_by_depth_shallowest_first(desk: Desk) -> None:
    keep_plan(desk, "aa", 40.0, 0.0, 35.0, 40.0)
    assert (
        depths_planned(desk.record, "aa") == "lifted out: 1.25 ha, 35 cm: 1.25 ha, 40 cm: 2.50 ha"
    )
    assert depths_planned(desk.record, "bb") == ""


def test_the_last_plan_of_a_season_is_drawn_as_it_is_kept(desk: Desk) -> None:
    keep_plan(desk, "aa", 40.0)
    keep_plan(desk, "bb", 35.0, 30.0)
    held = recorded_ground(desk.record, 2025, desk.ground())
    assert held.plan_id == "bb"
    assert [zone.depth_words for zone in held.zones] == ["35 cm", "30 cm"]
    assert shapely.equals(held.zones[0].shape, box(0.801, 0.802))
    assert held.zone_at(0.8025, 52.701).zone == 2  # type: ignore[union-attr]
    none = recorded_ground(desk.record, 1999, desk.ground())
    assert (none.plan_id, none.zones) == ("", ())


def test_a_plan_issued_again_is_the_last_again(desk: Desk) -> None:
    for plan_id in ("aa", "bb", "aa"):
        keep(desk, PlanIssued(season=2025, plan_id=plan_id, field="", area_ha=1.0, zones=1,
                              mean_depth_cm=30.0, program="", inputs="[]"))  # fmt: skip
    found = issues(desk.record, 2025, "bb")
    assert [(one.plan_id, one.last, one.here) for one in found] == [
        ("aa", True, False), ("bb", False, True), ("aa", False, False),
    ]  # fmt: skip
    assert issues(desk.record, 1999, "bb") == []
    assert found[0].recorded_at >= found[1].recorded_at


@pytest.mark.parametrize("year", ["2025", "1999"])
def test_without_a_plan_the_season_page_says_so(desk: Desk, year: str) -> None:
    held = recorded_ground(desk.record, int(year), desk.ground())
    assert held.zones == ()
    assert held.outline is desk.ground().outline


@pytest.mark.parametrize(("verdict", "driven"), [("not_judged", ""), ("reached", "aa")])
def test_a_plan_by_which_no_pit_was_judged_is_not_called_driven(
    desk: Desk, verdict: str, driven: str
) -> None:
    keep_plan(desk, "aa", 35.0)
    row = new_id()
    body = Check(season=2025, plan_id="aa", after_pits=0)
    desk.record.save(Draft(body=body, row_id=row, record_id=row, based_on=0, origin="check"))
    keep(desk, CheckRow(season=2025, check_id=row, about="pit", name="A1", verdict=verdict))
    assert plan_followed(desk.record, 2025).driven == driven


@pytest.mark.parametrize(("by", "held"), [("aa", ["NOT CLEARED", "lifted out"]), ("bb", ["", ""])])
def test_the_page_of_an_earlier_plan_marks_what_its_newest_check_had_as_not_cleared(
    desk: Desk, by: str, held: list[str]
) -> None:
    keep_plan(desk, "aa", 35.0, 0.0)
    row = new_id()
    body = Check(season=2025, plan_id=by, after_pits=0)
    desk.record.save(Draft(body=body, row_id=row, record_id=row, based_on=0, origin="check"))
    for zone, word in (("1", "NOT CLEARED"), ("2", "lifted out")):
        facts = json.dumps({"cleared": word})
        keep(desk, CheckRow(season=2025, check_id=row, about="zone", name=zone, verdict="reached",
                            facts=facts))  # fmt: skip
    zones = recorded_ground(desk.record, 2025, desk.ground()).zones
    assert [zone.cleared for zone in zones] == held
    page = make_app(desk).test_client().get("/season/2025").text
    assert ("White on black, NC: NOT CLEARED" in page) == (by == "aa")
    assert ("none of its cautions, nor what was NOT CLEARED" in page) == (by == "bb")
    assert ("what is NOT CLEARED is as the newest check had it" in page) == (by == "aa")
