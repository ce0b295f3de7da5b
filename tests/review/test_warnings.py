"""What the newest check cautions of, on the pages that people look at."""

from __future__ import annotations

import dataclasses
import json
import re
from collections.abc import Sequence
from pathlib import Path
from types import SimpleNamespace

import pytest
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st
from review.small_desk import drawn, form, keep, keep_check, post, write_plan

from zoning.outputs.check.words import OF_THE_DAY, OLDER
from zoning.outputs.drawing import pit_signs
from zoning.outputs.drawing.plan import depth_tones
from zoning.records import Body, Check, CheckRow, Draft, Pit, PlanIssued, Review, Zone, new_id
from zoning.review import Desk
from zoning.review.plans import plan_followed, recorded_ground
from zoning.review.seasons import compare
from zoning.review.warnings import check_warnings
from zoning.review.words import verdict_said
from zoning.workflow.stops import STEP, named

STOP = "Pit A1 was loosened 1.9 m from the service water pipe, inside its keep-off. Stop there."
LIFTED = "Loosened where the plan lifts the legs out: pit A1, A2. Tell the operator."


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


def test_the_heading_of_a_zone_names_the_pits_of_its_stop_alone(
    desk: Desk, client: FlaskClient
) -> None:
    for name, lon in (("A1", "0.801"), ("A2", "0.8012"), ("A4", "0.8014"), ("A3", "0.803")):
        after_pit(desk, client, pit=name, lon=lon)

    def heading() -> str:
        page = client.get("/zone/1").text.partition('id="stops-head">')[2].partition("</p>")[0]
        return re.sub("<[^>]*>", "", page)

    keep_check(desk, "Stop: soil was plastic in pit A1, A3. Wait.", LIFTED)
    assert heading().startswith("STOP for pit A1, by the newest check")
    keep_check(desk, LIFTED)
    assert heading().startswith("Cautions for pit A1, A2, by the newest check")


def test_while_a_stop_stands_nothing_is_plainly_in_order(desk: Desk, client: FlaskClient) -> None:
    pit = after_pit(desk, client)
    other = after_pit(desk, client, pit="A3", lon="0.803", part="wheeling")
    plain, held = "> Looked through<", "Looked through; the Stop above remains"
    assert plain in client.get(f"/pit/{pit}").text
    assert "in order" not in client.get(f"/pit/{pit}").text, "it need not have been measured"
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
        (STEP, "Pit A1 was loosened where the service lifts the legs out.", True),
        ("of-a-newer-check", "Stop: pit A1.", True),
        ("check-not-cleared", "Stopping is not asked of pit A1.", False),
        ("check-stop-gone", "The Stop of 2026-10-02 for pit A1 no longer stands.", False),
    ],
)
def test_a_caution_asks_to_stop_by_its_code_or_its_words(
    desk: Desk, client: FlaskClient, code: str, text: str, *, stop: bool
) -> None:
    check = keep(desk, Check(season=2026, plan_id="ab" * 32, after_pits=1))
    keep(desk, CheckRow(season=2026, check_id=check, about="advice", name=code, verdict="caution",
                        reason=text))  # fmt: skip
    (one,) = check_warnings(desk.record, 2026).told
    assert one.stop is stop
    head = client.get("/").text.partition('id="stops"')[2].partition("</section>")[0]
    assert text in head
    assert ("STOP" in head) is stop


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


def test_verdicts_of_before_a_withdrawal_are_marked_and_the_pit_counts_no_more(
    desk: Desk, client: FlaskClient
) -> None:
    """So on the pages of field and seasons, and of zones where it was judged or lies now."""

    def judged(*pits: str) -> None:
        check = keep(desk, Check(season=2026, plan_id="ab" * 32, after_pits=len(pits)))
        row = {"season": 2026, "check_id": check, "verdict": "reached"}
        for zone in ("1", "2"):
            keep(desk, CheckRow(**row, about="zone", name=zone, reason="Passed."))  # type: ignore[arg-type]
        for name in pits:
            facts = json.dumps({"lon": 0.801, "lat": 52.70102})
            keep(desk, CheckRow(**row, about="pit", name=name, facts=facts))  # type: ignore[arg-type]

    def verdicts() -> str:
        return dict(compare(desk.record, 2026, 2026).one.rows)["verdicts of the check"]

    ids = {name: after_pit(desk, client, pit=name) for name in ("A1", "A2")}
    judged("A1", "A2")
    words = "of the check before pit A2 was corrected or withdrawn: run zoning check again"
    paths = ("/", "/zone/1", "/season/2026", "/seasons")
    assert all("check again" not in client.get(path).text for path in paths)
    assert verdicts() == "2 reached"
    post(client, "/save/pit", form(desk, record_id=ids["A2"], version="1", pit="A2",
                                   withdrawn="yes", why="another field"))  # fmt: skip
    assert all(words in client.get(path).text for path in paths)
    assert verdicts() == f"1 reached; {words}"
    assert "check again" not in client.get("/zone/2").text
    post(client, "/save/pit", form(desk, record_id=ids["A1"], version="1", lon="0.803"))
    both = words.replace("pit A2 was", "pits A1, A2 were")
    assert all(both in client.get(path).text for path in paths)
    assert words.replace("A2", "A1") in client.get("/zone/2").text
    judged()
    assert all("check again" not in client.get(path).text for path in (*paths, "/zone/2"))


def test_a_verdict_of_a_newer_check_is_told_as_its_sign_tells_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    name = "of_a_newer_check"
    assert verdict_said(name) == "of a newer check"
    signs = {name: pit_signs.PitSign("pit after: far too deep", pit_signs.DIAMOND)}
    monkeypatch.setattr("zoning.review.words.PIT_SIGNS", signs)
    assert verdict_said(name) == "far too deep"


def keep_plan(desk: Desk, plan_id: str, *depths_cm: float, day: str = "2026-09-01") -> None:
    keep(desk, PlanIssued(season=2026, plan_id=plan_id, field="", area_ha=2.0, zones=1,
                          mean_depth_cm=max(depths_cm), program="", inputs="[]"), day)  # fmt: skip
    if desk.record.latest(Zone, plan_id=plan_id):
        return
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
    keep_check(desk, STOP, plan_id="ab" * 32, date="2026-10-02")
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


OLD = "1 of 1 pits is older than the plan that it is judged by: the work was not done to it."


def keep_old_check(
    desk: Desk, *dates: str, plan_id: str = "cd" * 32, pits: Sequence[str] = ()
) -> None:
    """Keep a check by a plan that is newer than its `pits`, as the check says."""
    check = keep(desk, Check(season=2026, plan_id=plan_id, after_pits=1))
    row = {"season": 2026, "check_id": check}
    keep(desk, CheckRow(**row, about="advice", name=OLDER, verdict="caution", reason=OLD,
                        facts=json.dumps({"pits": pits})))  # type: ignore[arg-type]  # fmt: skip
    for number, date in enumerate(dates, 1):
        keep(desk, CheckRow(**row, about="pit", name=f"A{number}", verdict="reached",
                            facts=json.dumps({"date": date})))  # type: ignore[arg-type]  # fmt: skip


def test_a_plan_that_is_newer_than_its_pits_is_not_called_driven(
    desk: Desk, client: FlaskClient
) -> None:
    pit = after_pit(desk, client)
    keep_plan(desk, "ab" * 32, 37.5, day="2026-09-01")
    keep_plan(desk, "cd" * 32, 45.0, day="2026-10-20")
    keep_old_check(desk, "2026-10-02")
    followed = plan_followed(desk.record, 2026)
    assert (followed.plan_id, followed.driven) == ("ab" * 32, "ab" * 32)
    facts = dict(compare(desk.record, 2026, 2026).one.rows)
    assert facts["depths planned"] == "37.5 cm: 1.00 ha"
    assert facts["plan"] == (
        "abababab, driven: its pits were dug after it; the newest check went by cdcdcdcd, newer "
        "than its pits"
    )
    page = client.get("/season/2026").text
    assert "Plan abababab, driven: its pits were dug after it" in page
    assert "the newest check went by it, newer than its pits" in page
    assert "the verdicts go by plan cdcdcdcd" in page
    for path in ("/", f"/pit/{pit}", f"/pit/{pit}/trail", "/zone/1", "/zone/2", "/new", "/seasons",
                 "/season/2026", "/export"):  # fmt: skip
        assert client.get(path).text.count(OLD) == 1, path
    assert OLD not in client.get("/nothing").text


def test_where_pits_fit_no_plan_it_is_not_told_which_was_driven(
    desk: Desk, client: FlaskClient
) -> None:
    keep_plan(desk, "ab" * 32, 37.5, day="2026-11-26")
    keep_plan(desk, "cd" * 32, 45.0, day="2026-11-26")
    keep_old_check(desk, "2026-10-02")
    page = client.get("/season/2026").text
    assert ", driven:" not in page
    assert "Plan cdcdcdcd, the newest check went by it, newer than its pits" in page
    assert "<strong>Not told which plan was driven:</strong> the pits are older" in page
    table = page.partition('aria-label="Plans issued"')[2].partition("</table>")[0]
    assert "not told whether it was driven" in table.partition("abababab")[2]
    facts = dict(compare(desk.record, 2026, 2026).one.rows)
    assert facts["plan"].endswith("newer than its pits; not told which plan was driven")
    assert ">driven:" not in client.get("/").text


@pytest.mark.parametrize(("pits", "driven"), [(["A1"], "ab" * 32), ([], "cd" * 32)])
def test_a_pit_that_the_check_told_to_be_older_is_so_on_the_day_of_the_plan_too(
    desk: Desk, pits: list[str], driven: str
) -> None:
    for name, depth, hour in (("ab", 37.5, "07"), ("cd", 45.0, "08"), ("ef", 40.0, "09")):
        keep_plan(desk, name * 32, depth, day=f"2026-11-26T{hour}:00:00.000Z")
    keep_old_check(desk, "2026-11-26", pits=pits)
    assert plan_followed(desk.record, 2026).driven == driven


def test_that_pits_bear_the_day_of_the_plan_stands_over_every_page(
    desk: Desk, client: FlaskClient
) -> None:
    check = keep(desk, Check(season=2026, plan_id="cd" * 32, after_pits=1))
    keep(desk, CheckRow(season=2026, check_id=check, about="advice", name=OF_THE_DAY,
                        verdict="caution", reason="1 of 1 pits bears the day."))  # fmt: skip
    for path in ("/", "/season/2026"):
        assert client.get(path).text.count("1 of 1 pits bears the day.") == 1, path


class InMemory:
    """Bodies as a record holds them, each with its day."""

    def __init__(self, *held: tuple[Body, str]) -> None:
        self.held = held

    def latest(self, kind: type[Body], **where: object) -> list[SimpleNamespace]:
        return [
            SimpleNamespace(body=body, record_id=str(i), recorded_at=day)
            for i, (body, day) in enumerate(self.held)
            if type(body) is kind and all(getattr(body, k) == v for k, v in where.items())
        ]


@given(
    plans=st.lists(st.tuples(st.integers(1, 28), st.sampled_from((30.0, 35.0, 40.0))), min_size=1),
    dug=st.lists(st.integers(0, 28), max_size=3),
)
def test_a_driven_plan_has_a_pit_that_is_not_older_unless_there_was_one_plan_only(
    plans: list[tuple[int, float]], dug: list[int]
) -> None:
    plans = sorted(plans)
    held: list[tuple[Body, str]] = []
    for number, (day, depth) in enumerate(plans):
        name, at = f"{number:02d}", f"2026-10-{day:02d}T08:00:00.000Z"
        held.append((PlanIssued(season=2026, plan_id=name, field="", area_ha=2.0, zones=1,
                                mean_depth_cm=depth, program="", inputs="[]"), at))  # fmt: skip
        held.append((Zone(season=2026, plan_id=name, zone=1, depth_cm=depth, area_ha=1.0, parts="",
                          pan_base_cm=None, geometry_wkt=""), at))  # fmt: skip
    checked = f"{len(plans) - 1:02d}"
    check = str(len(held))
    held.append((Check(season=2026, plan_id=checked, after_pits=len(dug)), ""))
    for number, dug_on in enumerate(dug):
        facts = json.dumps({"date": f"2026-10-{dug_on:02d}" if dug_on else ""})
        held.append((CheckRow(season=2026, check_id=check, about="pit", name=f"A{number}",
                              verdict="reached", facts=facts), ""))  # fmt: skip
    followed = plan_followed(InMemory(*held), 2026)  # type: ignore[arg-type]
    days = [day for day in dug if day]
    if not followed.driven:
        assert followed.plan_id == checked
        return
    depth = plans[int(followed.driven)][1]
    first = min(day for day, own in plans if own == depth)
    one_only = len({own for _, own in plans}) == 1
    assert any(day >= first for day in days) or (one_only and not days)
    if followed.driven != checked:
        newest = min(day for day, own in plans if own == plans[-1][1])
        assert all(first <= day < newest for day in days)


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


def test_a_stop_of_an_earlier_season_stands_until_it_is_settled(
    desk: Desk, client: FlaskClient
) -> None:
    old = {"season": 2025, "phase": "after", "date": "2025-09-10", "lon": 0.801, "lat": 52.701}
    pit = Pit(pit="R8", **old)  # type: ignore[arg-type]
    named_pit = keep(desk, pit)
    stop = STOP.replace("A1", "R8")

    def check(text: str) -> None:
        row = {
            "season": 2025,
            "check_id": keep(desk, Check(season=2025, plan_id="ab" * 32, after_pits=1)),
        }
        keep(desk, CheckRow(**row, about="advice", name="c", verdict="caution", reason=text))  # type: ignore[arg-type]

    check(stop)
    for path in ("/", "/seasons"):
        page = client.get(path).text
        assert stop in page, path
        assert "not settled from season 2025" in page
    assert "Not settled from 2025: STOP, pit R8" in client.get("/new").text
    check("Before digging ask what is buried.")
    assert stop not in client.get("/").text
    check(stop)
    assert stop in client.get("/").text
    gone = Draft(body=dataclasses.replace(pit, withdrawn="yes"), row_id=new_id(),
                 record_id=named_pit, based_on=1, origin="page")  # fmt: skip
    desk.record.save(gone)
    for path in ("/", "/seasons", "/new"):
        assert "ot settled from" not in client.get(path).text, path
    keep(desk, pit)  # entered again under its name: its Stop was never settled
    assert stop in client.get("/").text
