"""What the pages show."""

from __future__ import annotations

import json
import re
from html import unescape
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from review.small_desk import PITS, drawn, form, pits, post, write_field, write_plan

from zoning.contracts import constant
from zoning.outputs.drawing.pit_signs import pit_sign
from zoning.records import Check, CheckRow, Draft, Pit, new_id
from zoning.review import Desk, make_app, open_desk


def pit_id(desk: Desk, name: str) -> str:
    return next(e.record_id for e in desk.record.latest(Pit) if e.body.pit == name)


def keep_check(desk: Desk, verdict: str) -> None:
    row = new_id()
    done = Check(season=2026, plan_id="ab" * 32, after_pits=1)
    desk.record.save(Draft(body=done, row_id=row, record_id=row, based_on=0, origin="check"))
    for about, name in (("pit", "A1"), ("zone", "1")):
        said = CheckRow(season=2026, check_id=row, about=about, name=name, verdict=verdict,  # type: ignore[arg-type]
                        reason="Loosened 36 cm at the leg.")  # fmt: skip
        other = new_id()
        desk.record.save(
            Draft(body=said, row_id=other, record_id=other, based_on=0, origin="check")
        )


def test_the_files_pits_and_the_plan_stand_on_the_first_page(client: FlaskClient) -> None:
    page = client.get("/").text
    for words in ("Test Piece", "P1", "P2", "abababab", "Locate buried services first.", "no pan"):
        assert words in page


def test_the_hazards_of_the_field_are_drawn_before_there_is_a_plan(tmp_path: Path) -> None:
    folder = write_field(tmp_path / "field")
    pipe = {
        "type": "Feature", "properties": {"kind": "service", "depth_cm": 75},
        "geometry": {"type": "LineString", "coordinates": [[0.8005, 52.7], [0.8005, 52.702]]},
    }  # fmt: skip
    hazards = {"type": "FeatureCollection", "features": [pipe]}
    (folder / "hazards.geojson").write_text(json.dumps(hazards))
    with (folder / "field.toml").open("a") as told:
        told.write('[hazards]\nfile = "hazards.geojson"\nservices = "records"\n')
    page = make_app(open_desk(folder)).test_client().get("/").text
    (hazard,) = drawn(page)["hazards"]
    assert hazard["kind"] == "service"
    assert hazard["shape"]["coordinates"][0] == pytest.approx([0.8005, 52.7], abs=1e-7)
    assert "Dashes and dots, or a small circle: service or obstacle." in page


def test_what_is_not_cleared_stands_before_everything_and_every_caution_is_one_step_away(
    client: FlaskClient,
) -> None:
    page = client.get("/").text
    strip = page.partition('class="warn"')[2].partition("</aside>")[0]
    assert "NOT CLEARED: 1 of 2 zones" in strip
    assert strip.count("Locate buried services first.") == 2  # opened, and on paper
    assert "Before you dig ask what is buried" in client.get("/new").text


@pytest.mark.parametrize(
    ("query", "shown"),
    [
        ("phase=after", {"A1"}),
        ("part=headland", {"P2"}),
        ("since=2026-08-20", {"P2", "A1"}),
        ("until=2026-08-19", {"P1"}),
        ("verdict=reached+at+the+leg+only", {"A1"}),
        ("verdict=pan", {"P1"}),
        ("reviewed=yes", set()),
        ("phase=before&part=body", {"P1"}),
    ],
)
def test_filters_by_phase_part_date_verdict_and_review(
    desk: Desk, client: FlaskClient, query: str, shown: set[str]
) -> None:
    post(client, "/save/pit", form(desk))
    keep_check(desk, "leg_only")
    page = client.get(f"/?{query}").text.partition("<tbody>")[2].partition("</tbody>")[0]
    assert {name for name in ("P1", "P2", "A1") if f" {name} <small>" in page} == shown


def test_a_pair_stands_side_by_side_with_the_planned_depth(desk: Desk, client: FlaskClient) -> None:
    post(client, "/save/pit", form(desk))
    keep_check(desk, "leg_only")
    page = client.get(f"/pit/{pit_id(desk, 'P1')}").text
    for words in (
        "pit P1", "pit A1", "planned 35 cm", "NOT CLEARED", "At one place, 2 m apart.",
        "cone station S1", "leg only", "no cone station near",
    ):  # fmt: skip
        assert words in page, words
    assert 'role="img"' in page


def test_a_base_that_a_withdrawn_pit_showed_does_not_stand_beside_the_pit_dug_since(
    desk: Desk, client: FlaskClient
) -> None:
    sent = form(desk)
    loosened = dict.fromkeys(("loosened_at_leg_cm", "loosened_between_cm"), "")
    own = {"pit": "A1B", "phase": "before", "pan": "yes", "pan_base_cm": "38"}
    post(client, "/save/pit", sent)
    post(client, "/save/pit", form(desk, **own, **loosened))
    post(client, "/save/pit", form(desk, pit="A2", date="2026-10-05"))
    gone = {"row_id": new_id(), "version": "1", "withdrawn": "yes", "why": "worked again"}
    post(client, "/save/pit", sent | gone)
    page = client.get(f"/pit/{pit_id(desk, 'A2')}").text
    assert "pit P1" in page
    assert "pit A1B" not in page
    assert "pit A2" in client.get(f"/pit/{pit_id(desk, 'A1B')}").text


def test_the_zone_page_names_its_pits_and_verdict(desk: Desk, client: FlaskClient) -> None:
    post(client, "/save/pit", form(desk))
    keep_check(desk, "leg_only")
    page = client.get("/zone/1").text
    assert "35 cm" in page
    assert "leg only" in page
    assert "A1" in page
    assert "legs lifted out" in client.get("/zone/2").text
    assert client.get("/zone/3").status_code == 404


def test_the_form_offers_the_next_name_and_the_place_it_was_asked_for(
    desk: Desk, client: FlaskClient
) -> None:
    post(client, "/save/pit", form(desk))
    page = client.get("/new?phase=after&lon=0.801&lat=52.701").text
    assert "tells seasons and plans apart" in page
    assert 'value="A2"' in page
    assert 'value="0.801"' in page


def test_without_a_plan_pits_are_kept_and_the_page_says_so(tmp_path) -> None:  # type: ignore[no-untyped-def]
    desk = open_desk(write_field(tmp_path / "field"))
    client = make_app(desk).test_client()
    assert "No plan yet" in client.get("/").text
    assert post(client, "/save/pit", form(desk)).status_code == 303
    assert "Outside every zone" in client.get(f"/pit/{pit_id(desk, 'A1')}").text
    write_plan(desk.folder / "plan")
    assert "planned 35 cm" in client.get(f"/pit/{pit_id(desk, 'A1')}").text


def test_a_plan_made_anew_is_seen_without_a_new_start(desk: Desk, client: FlaskClient) -> None:
    write_plan(desk.plan_folder, plan_id="cd" * 32)
    assert "cdcdcdcd" in client.get("/").text


def test_a_pit_that_is_left_out_stands_on_the_first_page_with_the_reason(folder: Path) -> None:
    far = "P7,2026-08-20,before,0.8050,52.701,body,yes,20,30,4,friable,\n"
    (folder / "pits.csv").write_text(PITS + far)
    page = make_app(open_desk(folder)).test_client().get("/").text
    assert "1 left out</a>" in page
    box = page.partition('id="left-out"')[2].partition("</div>")[0]
    assert "pits.csv: pit P7 (before), row 4: " in box
    assert "outside the boundary" in box
    (folder / "pits.csv").write_text(PITS)
    assert "left out" not in make_app(open_desk(folder)).test_client().get("/").text


def test_unknown_pits_and_photos_are_told_plainly(client: FlaskClient) -> None:
    for path in ("/pit/none", "/pit/none/trail", "/pit/none/correct", "/nothing"):
        answer = client.get(path)
        assert answer.status_code == 404
        assert "There is no such page" in answer.text


def test_hostile_text_of_the_files_is_shown_as_text(tmp_path) -> None:  # type: ignore[no-untyped-def]
    hostile = '"><img src=x onerror=alert(1)></script><script>alert(2)</script>'
    text = 'pit,date,phase,lon,lat,pan,note\n"{0}",,before,0.801,52.701,yes,"{0}"\n'
    folder = write_field(tmp_path / "field", pits=text.format(hostile.replace('"', '""')))
    write_plan(folder / "plan")
    desk = open_desk(folder)
    client = make_app(desk).test_client()
    record = pit_id(desk, hostile)
    assert pits(desk)[0].note == hostile
    for path in (
        "/",
        f"/pit/{record}",
        f"/pit/{record}/trail",
        f"/pit/{record}/correct",
        "/zone/1",
    ):
        page = client.get(path).text
        assert "<img src=x" not in page
        assert "<script>alert" not in page


def test_the_list_and_the_map_show_what_the_check_made_of_a_pit(
    desk: Desk, client: FlaskClient
) -> None:
    post(client, "/save/pit", form(desk, loosened_at_leg_cm="36", loosened_between_cm="25"))
    assert "pit after: not judged" in client.get("/").text
    keep_check(desk, "leg_only")
    page = client.get("/").text
    assert "pit after: reached at the leg only" in page
    assert "pit after: not judged" not in page
    assert "at a leg 36 cm, between 25 cm" in page
    assert page.count(pit_sign("leg_only", 11, 11, 6.2)) == 2  # in the list and in the key
    assert '"sign": "leg_only"' in page


def test_a_pit_beside_another_takes_over_place_and_part(desk: Desk, client: FlaskClient) -> None:
    page = client.get(f"/pit/{pit_id(desk, 'P1')}").text
    link = unescape(re.search(r'href="(/new[^"]*beside[^"]*)"', page)[1])  # type: ignore[index]
    form_page = client.get(link).text
    assert 'data-beside="pit P1"' in form_page
    assert "<option selected>body</option>" in form_page
    assert client.get("/new?part=<b>&beside=<b>").text.count("<b>") == 0


def test_a_place_tapped_on_the_map_has_the_decimals_of_the_table(client: FlaskClient) -> None:
    decimals = constant("review_rules", "place_decimals")
    page = client.get("/new").text
    assert drawn(page)["place_decimals"] == decimals
    script = client.get(re.findall(r'src="([^"]+review[.]js[^"]*)"', page)[0]).text
    assert "toFixed(data.place_decimals)" in script
    assert "toFixed(7)" not in script


def test_every_cell_of_the_list_names_its_column(client: FlaskClient) -> None:
    """On a phone each row of the list stands as a block, its heads out of sight."""
    for address, skipped in (("/", 1), ("/season/2026", 1)):
        page = client.get(address).text
        table = re.search(r'class="wide stack".*?</table>', page, re.DOTALL)
        assert table is not None
        heads = re.findall(r'<th scope="col"[^>]*>([^<]+)</th>', table[0])[skipped:]
        rows = table[0].split("<tbody>")[1].split("</tr>")[:-1]
        assert rows
        for row in rows:
            assert re.findall(r'<td[^>]* data-head="([^"]+)"', row) == heads


def test_the_map_says_what_its_lines_are(client: FlaskClient) -> None:
    assert "line: drain" in client.get("/").text


def test_one_season_is_shown_once(client: FlaskClient) -> None:
    page = client.get("/seasons").text
    assert page.count('<th scope="col">2026</th>') == 1
    assert "holds one season so far" in page


def test_verdicts_of_another_plan_are_told(desk: Desk, client: FlaskClient, folder: Path) -> None:
    keep_check(desk, "leg_only")
    assert "Another plan" not in client.get("/").text
    write_plan(folder / "plan", "cd" * 32)
    page = client.get("/").text
    assert "against plan abababab; zones and planned depths are those of plan cdcdcdcd" in page
    assert "on this plan" in client.get("/zone/1").text


def test_the_key_explains_only_signs_that_are_shown(client: FlaskClient) -> None:
    key = client.get("/?phase=before&part=body").text.partition('<p class="key">')[2]
    key = key.partition("</p>")[0]
    assert "pit before: pan" in key
    assert "no pan" not in key
    assert "pit after" not in key


def test_an_after_pit_without_partner_says_that_none_can_be_dug_now(
    desk: Desk, client: FlaskClient
) -> None:
    post(client, "/save/pit", form(desk, pit="A2", part="gateway"))
    page = client.get(f"/pit/{pit_id(desk, 'A2')}").text
    assert "none can be dug now" in page
    assert "No pit here yet" not in page
    assert "Add one at this place" not in page
    assert "Add one at this place" in client.get(f"/pit/{pit_id(desk, 'P2')}").text


def test_a_part_left_to_the_map_is_told_as_the_maps(desk: Desk, client: FlaskClient) -> None:
    post(client, "/save/pit", form(desk, lon="0.803", part=""))
    assert "wheeling (by the map)" in client.get(f"/pit/{pit_id(desk, 'A1')}").text
    assert "A1" in client.get("/?part=wheeling").text
    assert "wheeling (by the map)" not in client.get("/?part=body").text


def test_reviewed_stands_before_zone_and_part_in_the_list(client: FlaskClient) -> None:
    heads = re.findall(r'<th scope="col"[^>]*>([^<]*)</th>', client.get("/").text)
    assert heads.index("reviewed") < heads.index("zone") < heads.index("part")
