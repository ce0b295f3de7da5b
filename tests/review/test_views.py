"""Which pits belong together, and which cone station stands beside a pit."""

from __future__ import annotations

import dataclasses
import json

import pyproj
import pytest
from flask.testing import FlaskClient
from review.small_desk import form, keep, post

from zoning.records import Check, CheckRow, Station
from zoning.review import Desk
from zoning.review.ground import apart_m
from zoning.review.rules import rule
from zoning.review.views import PitView, cone_beside, partner, pit_views, pits_of_zone
from zoning.workflow.recorded import as_read

STEP = 0.0001  # about 6.8 m of longitude at this latitude


def views(desk: Desk) -> dict[str, PitView]:
    return {pit.body.pit: pit for pit in pit_views(desk.record, desk.ground(), desk.season)}


def test_distances_are_those_of_the_ellipsoid() -> None:
    """Against the direct problem of pyproj's geodesics: 10 m north-east and back."""
    lon, lat, _ = pyproj.Geod(ellps="WGS84").fwd(0.8, 52.7, 45, 10)
    assert apart_m((0.8, 52.7), (lon, lat)) == pytest.approx(10, abs=1e-6)


def test_a_pit_lies_in_the_zone_that_the_check_counted_it_for(
    desk: Desk, client: FlaskClient
) -> None:
    """Zone 1 is west of zone 2; a check of the plan shown counted A1, of zone 1 by place, for 2."""

    def zones() -> tuple[int, list[str], list[str]]:
        one, two = (pits_of_zone(desk.record, 2026, desk.ground(), zone) for zone in (1, 2))
        return views(desk)["A1"].zone.zone, one, two

    def judged(plan_id: str, facts: str) -> None:
        check = keep(desk, Check(season=2026, plan_id=plan_id, after_pits=1))
        told = {"about": "pit", "name": "A1", "verdict": "reached", "facts": facts}
        keep(desk, CheckRow(season=2026, check_id=check, **told))

    post(client, "/save/pit", form(desk, pit="A1"))
    assert zones() == (1, ["A1"], [])
    facts = json.dumps({"zone": 2, "as_read": as_read(views(desk)["A1"].body)})
    judged("cd" * 32, facts)
    assert zones()[0] == 1, "that was another plan"
    judged(desk.ground().plan_id, facts)
    assert zones() == (2, [], ["A1"])
    judged(desk.ground().plan_id, facts.replace("36", "41"))
    assert zones() == (1, ["A1"], ["A1"]), "the pit is another now than it was judged as"


def test_the_nearest_pit_within_ten_metres_is_the_partner(desk: Desk, client: FlaskClient) -> None:
    post(client, "/save/pit", form(desk, pit="A1", lon=f"{0.801 + STEP:.7f}", lat="52.701"))
    post(client, "/save/pit", form(desk, pit="A2", lon="0.801", lat="52.701"))
    held = views(desk)
    pair = partner(held["P1"], held.values())
    assert pair.other is held["A2"]
    assert "At one place, 0 m" in pair.words


def test_a_pit_of_before_that_shows_what_the_work_left_does_not_stand_for_the_one_of_before(
    desk: Desk, client: FlaskClient
) -> None:
    here = {"lon": f"{0.801 + STEP:.7f}", "lat": "52.701"}
    post(client, "/save/pit", form(desk, pit="A1", **here))
    seen = {"phase": "before", "pan": "yes", "pan_base_cm": "33"}
    loosened = dict.fromkeys(("loosened_at_leg_cm", "loosened_between_cm"), "")
    post(client, "/save/pit", form(desk, pit="B1", **here, **seen, **loosened))
    held = views(desk)
    assert held["B1"].body.date == held["A1"].body.date
    assert partner(held["A1"], held.values()).other is held["P1"]
    assert partner(held["B1"], held.values()).other is held["A1"]
    in_one_day = [held["A1"], held["B1"]]
    assert partner(held["A1"], in_one_day).other is held["B1"]


def test_further_away_the_same_zone_is_said(desk: Desk, client: FlaskClient) -> None:
    post(client, "/save/pit", form(desk, lon=f"{0.801 - 5 * STEP:.7f}", lat="52.701"))
    held = views(desk)
    pair = partner(held["P1"], held.values())
    assert pair.other is held["A1"]
    *_, apart = pyproj.Geod(ellps="WGS84").inv(0.801, 52.701, 0.801 - 5 * STEP, 52.701)
    assert f"same zone and part, {apart:.1f} m" in pair.words
    assert partner(held["P2"], held.values()).other is None


def test_a_pit_of_the_same_zone_that_lies_far_off_is_no_partner(
    desk: Desk, client: FlaskClient
) -> None:
    lon, lat, _ = pyproj.Geod(ellps="WGS84").fwd(0.801, 52.701, 270, rule("pair_zone_m") + 1)
    post(client, "/save/pit", form(desk, lon=f"{lon:.7f}", lat=f"{lat:.7f}"))
    held = views(desk)
    assert held["A1"].zone is held["P1"].zone
    pair = partner(held["P1"], held.values())
    assert pair.other is None
    assert "within 40 m in this zone and part" in pair.words


def test_a_pit_with_no_part_noted_counts_as_on_the_part_of_the_map(
    desk: Desk, client: FlaskClient
) -> None:
    post(client, "/save/pit", form(desk, part=""))
    (pit,) = [view for view in views(desk).values() if view.body.pit == "A1"]
    before = views(desk)["P1"]
    assert pit.part == before.part
    assert partner(pit, [before]).other is before
    elsewhere = dataclasses.replace(pit, map_part="wheeling")
    assert partner(elsewhere, [before]).other is None
    unknown = dataclasses.replace(pit, map_part="")
    assert partner(unknown, [before]).other is before


def test_pits_of_different_parts_are_no_pair(desk: Desk, client: FlaskClient) -> None:
    post(client, "/save/pit", form(desk, part="wheeling"))
    held = views(desk)
    assert partner(held["P1"], held.values()).other is None


def test_the_cone_station_near_a_pit_is_found_and_a_far_one_is_not(desk: Desk) -> None:
    held = views(desk)
    cone = cone_beside(desk.record, desk.season, held["P1"], "before")
    assert cone is not None
    assert (cone.name, len(cone.profiles), cone.profiles[0][0]) == ("S1", 2, (0.0, 1.2))
    assert cone_beside(desk.record, desk.season, held["P2"], "before") is None
    assert cone_beside(desk.record, desk.season, held["P1"], "after") is None


def test_the_part_of_a_cone_station_stands_beside_its_name(desk: Desk, client: FlaskClient) -> None:
    keep(desk, Station(season=2026, station="S9", phase="before", part="headland", lon=0.801,
                       lat=52.701, profiles="[[1,[[5.0,1.0]]]]"))  # fmt: skip
    page = client.get(f"/pit/{views(desk)['P1'].entry.record_id}").text
    assert "before: cone station S9, headland, 0 m away, full line" in page


def test_pits_after_the_work_come_first_and_are_counted_as_people_count(
    desk: Desk, client: FlaskClient
) -> None:
    for name in ("A10", "A2"):
        post(client, "/save/pit", form(desk, pit=name))
    assert list(views(desk)) == ["A2", "A10", "P1", "P2"]
