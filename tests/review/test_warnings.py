"""What the newest check cautions of, on the pages that people look at."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st
from review.small_desk import drawn, form, post, write_plan

from zoning.outputs.drawing import pit_signs
from zoning.outputs.drawing.plan import depth_tones
from zoning.records import Body, Check, CheckRow, Draft, Pit, PlanIssued, Review, Zone, new_id
from zoning.review import Desk
from zoning.review.plans import plan_followed, recorded_ground
from zoning.review.seasons import compare
from zoning.review.warnings import check_warnings
from zoning.review.words import verdict_said
from zoning.workflow.stops import named

STOP = "Pit A1 was loosened 1.9 m from the service water pipe, inside its keep-off. Stop there."
LIFTED = "Loosened where the plan lifts the legs out: pit A1, A2. Tell the operator."


def keep(desk: Desk, body: Body) -> str:
    row = new_id()
    desk.record.save(Draft(body=body, row_id=row, record_id=row, based_on=0, origin="check"))
    return row


def keep_check(desk: Desk, *told: str, plan_id: str = "ab" * 32, **facts: object) -> None:
    check = keep(desk, Check(season=2026, plan_id=plan_id, after_pits=1))
    row = {"season": 2026, "check_id": check}
    for text in told:
        keep(desk, CheckRow(**row, about="advice", name="c", verdict="caution", reason=text))  # type: ignore[arg-type]
    keep(desk, CheckRow(**row, about="pit", name="A1", verdict="lifted_out", reason="Loosened.",
                        facts=json.dumps(facts)))  # type: ignore[arg-type]  # fmt: skip


def after_pit(desk: Desk, client: FlaskClient, **said: str) -> str:
    post(client, "/save/pit", form(desk, **said))
    name = said.get("pit", "A1")
    return next(e.record_id for e in desk.record.latest(Pit) if e.body.pit == name)


def test_a_stop_of_the_newest_check_stands_before_the_plans_cautions(
    desk: Desk, client: FlaskClient
) -> None:
    pit = after_pit(desk, client)
    other = after_pit(desk, client, pit="A3", lon="0.803", part="wheeling")
    keep_check(desk, STOP, LIFTED, "Before digging ask what is buried.")
    for path in ("/", f"/pit/{pit}", "/zone/1", "/season/2026"):
        page = client.get(path).text
        assert page.index(STOP) < page.index('class="warn"'), path
        assert LIFTED in page
    assert "STOP by the newest check: pit A1" in client.get("/new").text
    page = client.get(f"/pit/{other}").text
    assert STOP not in page
    assert "STOP by the newest check: pit A1" in page
    assert "STOP by" not in client.get("/nothing").text
    page = client.get("/").text
    assert page.count('"stop": true') == 1
    assert "Ringed, STOP" in page
    assert "Ringed, STOP" not in client.get("/season/2025").text


def test_while_a_stop_stands_nothing_is_plainly_in_order(desk: Desk, client: FlaskClient) -> None:
    pit = after_pit(desk, client)
    other = after_pit(desk, client, pit="A3", lon="0.803", part="wheeling")
    plain, held = "Looked through and found in order", "Looked through; the Stop above remains"
    assert plain in client.get(f"/pit/{pit}").text
    keep_check(desk, STOP)
    for path in (f"/pit/{pit}", "/zone/1"):
        page = client.get(path).text
        assert held in page
        assert plain not in page
    for path in (f"/pit/{other}", "/zone/2"):
        assert plain in client.get(path).text
    said = {"token": desk.token, "about": "pit", "about_id": pit, "version": "0"}
    post(client, "/save/review", {**said, "row_id": new_id(), "reviewed": "yes"})
    assert desk.record.latest(Review)[0].body.reviewed == "yes"
    assert "Stop remains" in client.get("/").text
    again = post(client, "/save/review", {**said, "row_id": new_id()})
    assert held in again.text
    keep_check(desk, "Before digging ask what is buried.")
    assert plain in client.get(f"/pit/{pit}").text


def test_a_check_kept_without_its_cautions_is_told(desk: Desk, client: FlaskClient) -> None:
    assert "Cautions not kept" not in client.get("/").text
    keep_check(desk)
    for path in ("/", "/zone/1", "/season/2026"):
        assert "Cautions not kept" in client.get(path).text
    assert not check_warnings(desk.record, 2026).known


@pytest.mark.parametrize(
    ("code", "text", "stop"),
    [
        ("check-past-cap", "Pit A1 was loosened too deep.", True),
        ("of-a-newer-check", "Stop: pit A1.", True),
        ("check-not-cleared", "Stopping is not asked of pit A1.", False),
        ("check-stop-gone", "The Stop of 2026-10-02 for pit A1 no longer stands.", False),
    ],
)
def test_a_caution_asks_to_stop_by_its_code_or_its_words(
    desk: Desk, code: str, text: str, *, stop: bool
) -> None:
    check = keep(desk, Check(season=2026, plan_id="ab" * 32, after_pits=1))
    keep(desk, CheckRow(season=2026, check_id=check, about="advice", name=code, verdict="caution",
                        reason=text))  # fmt: skip
    (one,) = check_warnings(desk.record, 2026).told
    assert one.stop is stop


@pytest.mark.parametrize(
    ("text", "pits"),
    [
        (STOP, ("A1",)),
        (LIFTED, ("A1", "A2")),
        ("NOT CLEARED: pit A1, A2, A10 and 3 more shows work.", ("A1", "A2", "A10")),
        ("Stop: soil was plastic in pit A10. Wait.", ("A10",)),
        ("Stop: pit by the oak was loosened.", ("by the oak",)),
        ("At A1 nothing is said of pit A100.", ()),
    ],
)
def test_the_pits_that_a_caution_names(text: str, pits: tuple[str, ...]) -> None:
    assert named(text, ["A1", "A2", "A10", "by the oak"]) == pits
    assert named(text, []) == ()


@given(st.lists(st.from_regex(r"[A-Z(+][0-9]{1,3}", fullmatch=True), unique=True, min_size=1))
def test_every_pit_of_a_list_is_found_whatever_its_name(names: list[str]) -> None:
    told = f"Stop: soil was plastic in pit {', '.join(names)}. Wait."
    assert set(named(told, names)) == set(names)


def test_a_verdict_of_before_a_correction_is_marked(desk: Desk, client: FlaskClient) -> None:
    words = "of the check before this correction: run zoning check again"
    pit = after_pit(desk, client, loosened_at_leg_cm="24", loosened_between_cm="20")
    keep_check(desk, STOP, loosened_at_leg_cm=24.0, loosened_between_cm=20.0, lon=0.801, pan="no")
    paths = ("/", f"/pit/{pit}", "/zone/1", "/season/2026")
    assert all(words not in client.get(path).text for path in paths)
    post(client, "/save/pit", form(desk, record_id=pit, version="1", loosened_at_leg_cm="28",
                                   loosened_between_cm="20"))  # fmt: skip
    assert all(words in client.get(path).text for path in paths)
    for path in ("/", f"/pit/{pit}", "/zone/1"):
        box = client.get(path).text.partition('class="stops')[2].partition("</section>")[0]
        assert words in box
    keep_check(desk, STOP, loosened_at_leg_cm=28.0, loosened_between_cm=20.0, lon=0.801, pan="no")
    assert all(words not in client.get(path).text for path in paths)


def test_a_verdict_of_a_newer_check_is_told_as_its_sign_tells_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    name = "of_a_newer_check"
    assert verdict_said(name) == "of a newer check"
    signs = {name: pit_signs.PitSign("pit after: far too deep", pit_signs.DIAMOND)}
    monkeypatch.setattr("zoning.review.words.PIT_SIGNS", signs)
    assert verdict_said(name) == "far too deep"


def keep_plan(desk: Desk, plan_id: str, *depths_cm: float) -> None:
    keep(desk, PlanIssued(season=2026, plan_id=plan_id, field="", area_ha=2.0, zones=1,
                          mean_depth_cm=max(depths_cm), program="", inputs="[]"))  # fmt: skip
    outline = "POLYGON((0.8 52.7,0.804 52.7,0.804 52.702,0.8 52.702,0.8 52.7))"
    for number, depth_cm in enumerate(depths_cm, 1):
        keep(desk, Zone(season=2026, plan_id=plan_id, zone=number, depth_cm=depth_cm, area_ha=1.0,
                        parts="body", pan_base_cm=None, geometry_wkt=outline))  # fmt: skip


def test_a_season_is_shown_by_the_plan_of_its_newest_check(
    desk: Desk, client: FlaskClient, folder: Path
) -> None:
    pit = after_pit(desk, client)
    keep_plan(desk, "ab" * 32, 37.5)
    keep_plan(desk, "cd" * 32, 45.0)
    assert "Plan cdcdcdcd, the last of 2026" in client.get("/season/2026").text
    keep_check(desk, STOP, plan_id="ab" * 32)
    page = client.get("/season/2026").text
    assert "Plan abababab, driven: the newest check went by it" in page
    assert "the last one that was issued is cdcdcdcd" in page
    assert page.count("driven: the newest check went by it") == 2  # over the map, in the list
    table = re.search(r"<tbody>.*?</tbody>", page, re.DOTALL)
    assert table is not None
    assert "37.5 cm" in table[0]
    assert "45 cm" not in table[0]
    facts = dict(compare(desk.record, 2026, 2026).one.rows)
    assert facts["depths planned"] == "37.5 cm: 1.00 ha"
    assert facts["planned depth, mean of the ground worked"] == "37.5 cm"
    assert facts["plan"].startswith("abababab, driven")
    write_plan(folder / "plan", "cd" * 32)
    page = client.get(f"/pit/{pit}").text
    assert "against plan abababab; zones and planned depths are those of plan cdcdcdcd" in page
    keep_check(desk, STOP, plan_id="ef" * 32)
    assert plan_followed(desk.record, 2026).missing == "ef" * 32
    assert "plan efefefef, which this record does not hold" in client.get("/season/2026").text


def test_a_plan_has_the_tones_of_its_own_map_on_every_page(desk: Desk) -> None:
    """Those of the drawing on its sheet and map, whatever other plans the record holds."""
    keep_plan(desk, "aa", 30.0, 35.0, 45.0)
    keep_plan(desk, "ab" * 32, 35.0, 0.0)  # as it stands in the folder
    kept = recorded_ground(desk.record, 2026, desk.ground()).zones
    assert [zone.tone for zone in kept] == [zone.tone for zone in desk.ground().zones]
    keep(desk, Check(season=2026, plan_id="aa", after_pits=0))
    zones = recorded_ground(desk.record, 2026, desk.ground()).zones
    assert {zone.depth_cm: zone.tone for zone in zones} == depth_tones([30.0, 35.0, 45.0])


def test_a_season_page_draws_hazards_and_what_is_not_cleared(
    desk: Desk, client: FlaskClient
) -> None:
    keep_plan(desk, "ab" * 32, 35.0, 0.0)
    page = client.get("/season/2026").text
    data = drawn(page)
    assert [hazard["kind"] for hazard in data["hazards"]] == ["drain"]
    assert [zone["held"] for zone in data["zones"]] == [True, False]
    assert "NOT CLEARED: 1 of 2 zones, services not located" in page
    assert "Locate buried services first." in page
    assert "Dashed line: drain." in page
    keep_plan(desk, "aa", 35.0)  # another than that in the folder: nothing of it is known
    page = client.get("/season/2026").text
    data = drawn(page)
    assert [hazard["kind"] for hazard in data["hazards"]] == ["drain"]
    assert [zone["held"] for zone in data["zones"]] == [False]
    assert "Locate buried services first." not in page
    assert "none of its cautions, nor what was NOT CLEARED" in page


def test_a_stop_that_fell_away_stands_at_its_pit_and_zone_even_when_withdrawn(
    desk: Desk, client: FlaskClient
) -> None:
    gone = "The Stop of 2026-10-02 09:00 UTC for pit A1 (plastic soil) no longer stands: corrected."
    pit = after_pit(desk, client)
    keep_check(desk, gone)
    for path in (f"/pit/{pit}", "/zone/1"):
        assert gone in client.get(path).text.partition('class="warn"')[0]
    assert gone not in client.get("/zone/2").text
    post(client, "/save/pit", form(desk, record_id=pit, version="1", withdrawn="yes"))
    for path in (f"/pit/{pit}/trail", "/zone/1"):
        assert gone in client.get(path).text


def test_what_a_single_pit_shows_is_not_said_of_most() -> None:
    assert (
        verdict_said("cannot_tell", "reached", pits=1) == "cannot tell yet (the one pit: reached)"
    )
    assert verdict_said("cannot_tell", "reached", pits=3) == "cannot tell yet (most pits: reached)"
