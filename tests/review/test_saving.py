"""Forms: saved once, mended where wrong, both versions shown where two people save one pit."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from PIL import Image
from pyproj import Transformer
from review.small_desk import form, hidden, pits, post, write_field

from zoning.errors import OutputFailed
from zoning.records import Draft, Photo, Pit, Review, new_id
from zoning.review import Desk, make_app, open_desk
from zoning.workflow import read_field


def after(desk: Desk) -> list[Pit]:
    return [pit for pit in pits(desk) if pit.phase == "after"]


def photo(**more: object) -> tuple[io.BytesIO, str]:
    stream = io.BytesIO()
    Image.new("RGB", (40, 30), "brown").save(stream, "JPEG")
    return io.BytesIO(stream.getvalue()), "pit.jpg"


def test_a_pit_is_saved_and_leads_to_its_page(desk: Desk, client: FlaskClient) -> None:
    sent = form(desk, note="<script>alert(1)</script>")
    answer = post(client, "/save/pit", sent)
    assert answer.status_code == 303
    (pit,) = after(desk)
    assert (pit.loosened_between_cm, pit.place_from, pit.season) == (31.5, "map", 2026)
    page = client.get(answer.location)
    assert "Pit A1 is saved." in page.text
    assert "&lt;script&gt;alert(1)" in page.text
    assert "<script>alert" not in page.text


def test_who_saved_last_is_remembered_in_any_letters(desk: Desk, client: FlaskClient) -> None:
    post(client, "/save/pit", form(desk, by_whom='J. "Öst" <x>'))
    assert 'value="J. &#34;Öst&#34; &lt;x&gt;"' in client.get("/new").text
    assert desk.record.latest(Pit)[-1].by_whom == 'J. "Öst" <x>'


def test_a_form_sent_twice_is_one_pit(desk: Desk, client: FlaskClient) -> None:
    sent = form(desk)
    first, again = post(client, "/save/pit", sent), post(client, "/save/pit", sent)
    assert (first.status_code, again.status_code) == (303, 303)
    assert first.location == again.location
    assert len(after(desk)) == 1


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ({"loosened_at_leg_cm": "abc"}, "Found &#39;abc&#39;"),
        ({"loosened_at_leg_cm": "1_0"}, "Found &#39;1_0&#39;"),
        ({"loosened_at_leg_cm": "nan"}, "Found &#39;nan&#39;"),
        ({"loosened_between_cm": "40"}, "deeper between the legs than at a leg"),
        ({"date": "2027-01-01"}, "2027-01-01 is not here yet: today is 2026-12-31."),
        ({"lat": ""}, "Say where the pit is"),
        ({"date": "02.10.2026"}, "YEAR-MONTH-DAY"),
        ({"pit": ""}, "Give the pit a name"),
        ({"part": "moon"}, "Found &#39;moon&#39;"),
        ({"phase": "during"}, "during"),
        ({"pit": "P1", "phase": "before"}, "There is a pit P1 of this phase already"),
    ],
)
def test_a_fault_is_named_and_nothing_typed_is_lost(
    desk: Desk, client: FlaskClient, said: dict[str, str], told: str
) -> None:
    before = len(pits(desk))
    answer = post(client, "/save/pit", form(desk, note="wet at 30", **said))
    assert answer.status_code in (400, 409)
    assert told in answer.text
    assert "wet at 30" in answer.text
    assert len(pits(desk)) == before


def test_a_correction_keeps_the_old_version_in_the_trail(desk: Desk, client: FlaskClient) -> None:
    sent = form(desk)
    post(client, "/save/pit", sent)
    better = sent | {
        "row_id": new_id(),
        "version": "1",
        "loosened_at_leg_cm": "34",
        "why": "misread",
    }
    assert post(client, "/save/pit", better).status_code == 303
    trail = client.get(f"/pit/{sent['record_id']}/trail").text
    assert "<del>36</del> now" in trail
    assert "misread" in trail
    assert after(desk)[0].loosened_at_leg_cm == 34


def test_two_people_saving_one_pit_both_see_both(desk: Desk, client: FlaskClient) -> None:
    sent = form(desk)
    post(client, "/save/pit", sent)
    hers = sent | {"row_id": new_id(), "version": "1", "note": "hers", "by_whom": "K. Moss"}
    hers["why"] = "read again"
    his = sent | {"row_id": new_id(), "version": "1", "note": "his"}
    assert post(client, "/save/pit", hers).status_code == 303
    answer = post(client, "/save/pit", his)
    assert answer.status_code == 409
    assert "hers" in answer.text
    assert "his" in answer.text
    assert "K. Moss" in answer.text
    assert "read again" in answer.text
    assert after(desk)[0].note == "hers"
    chosen = post(client, "/save/pit", hidden(answer))
    assert chosen.status_code == 303
    notes = [entry.body.note for entry in desk.record.trail(Pit, sent["record_id"])]
    assert notes == ["", "hers", "his"]


def test_the_back_button_and_other_values_is_a_conflict_too(
    desk: Desk, client: FlaskClient
) -> None:
    sent = form(desk)
    post(client, "/save/pit", sent)
    answer = post(client, "/save/pit", sent | {"note": "more"})
    assert answer.status_code == 409
    assert post(client, "/save/pit", hidden(answer)).status_code == 303
    assert [e.body.note for e in desk.record.trail(Pit, sent["record_id"])] == ["", "more"]


def test_a_withdrawn_pit_counts_nowhere_and_can_come_back(desk: Desk, client: FlaskClient) -> None:
    sent = form(desk)
    post(client, "/save/pit", sent)
    assert "or the ground was worked again" in client.get(f"/pit/{sent['record_id']}/correct").text
    gone = sent | {"row_id": new_id(), "version": "1", "withdrawn": "yes", "why": "worked again"}
    answer = post(client, "/save/pit", gone)
    assert "trail" in answer.location
    assert client.get(f"/pit/{sent['record_id']}").status_code == 404
    first = client.get("/").text
    assert f'/pit/{sent["record_id"]}"' not in first
    assert f'Withdrawn, counted nowhere: <a href="/pit/{sent["record_id"]}/trail">A1</a>.' in first
    trail = client.get(answer.location).text
    assert "Why: worked again" in trail
    back = sent | {"row_id": new_id(), "version": "2"}
    assert post(client, "/save/pit", back).status_code == 303
    assert f'/pit/{sent["record_id"]}"' in client.get("/").text
    assert "Withdrawn, counted" not in client.get("/").text


def test_a_pit_of_easting_and_northing_is_withdrawn_as_it_stands(tmp_path: Path) -> None:
    # The place of such a pit has all the decimals of a number; the page fills its form with it.
    east, north = Transformer.from_crs(4326, 32631, always_xy=True).transform(0.801, 52.701)
    folder = write_field(
        tmp_path / "field",
        pits=f"pit,date,phase,easting,northing,pan\nP1,2026-08-19,before,{east:.2f},{north:.2f},no\n",
    )
    settings = (folder / "field.toml").read_text()
    (folder / "field.toml").write_text(
        settings.replace("[readings]", '[readings]\ncrs = "EPSG:32631"')
    )
    desk = open_desk(folder)
    client = make_app(desk).test_client()
    (entry,) = desk.record.latest(Pit)
    assert len(repr(entry.body.lon)) > 15
    page = hidden(client.get(f"/pit/{entry.record_id}/correct"))
    gone = page | {"phase": "before", "pan": "no", "withdrawn": "yes", "why": "worked again"}
    answer = post(client, "/save/pit", gone)
    assert (answer.status_code, "trail" in answer.location) == (303, True)
    (now,) = desk.record.latest(Pit)
    assert (now.body.withdrawn, now.body.lon, now.body.lat) == (
        "yes",
        entry.body.lon,
        entry.body.lat,
    )


def test_a_failing_disk_gives_the_form_back(
    desk: Desk, client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> None:
        raise OutputFailed("records.gpkg: the disk is full. Make room and save again.")

    monkeypatch.setattr(type(desk.record), "save", fail)
    answer = post(client, "/save/pit", form(desk, note="wet at 30"))
    assert answer.status_code == 503
    assert "the disk is full" in answer.text
    assert "wet at 30" in answer.text


def test_a_form_of_an_earlier_start_is_shown_again_not_lost(
    desk: Desk, client: FlaskClient
) -> None:
    answer = post(client, "/save/pit", form(desk, token="old", note="wet at 30"))  # noqa: S106
    assert answer.status_code == 403
    assert "started anew" in answer.text
    assert "wet at 30" in answer.text
    assert after(desk) == []
    fields = hidden(answer)
    assert post(client, "/save/pit", form(desk) | fields | {"pan": "no"}).status_code == 303


def test_a_photo_comes_with_the_pit_and_is_served_by_its_hash(
    desk: Desk, client: FlaskClient
) -> None:
    sent = form(desk)
    answer = post(client, "/save/pit", sent | {"photo_file": photo()})
    again = post(client, "/save/pit", sent | {"photo_file": photo()})
    assert "photo is kept" in client.get(answer.location).text
    assert again.status_code == 303
    (kept,) = desk.record.latest(Photo)
    shown = client.get(f"/photo/{kept.body.sha256}")
    assert shown.mimetype == "image/jpeg"
    assert shown.data[:3] == b"\xff\xd8\xff"


def test_a_photo_of_the_wrong_pit_is_withdrawn_and_its_file_stays(
    desk: Desk, client: FlaskClient
) -> None:
    sent = form(desk)
    post(client, "/save/pit", sent | {"photo_file": photo()})
    (kept,) = desk.record.latest(Photo)
    said = {"token": desk.token, "pit_id": sent["record_id"], "record_id": kept.record_id,
            "row_id": new_id()}  # fmt: skip
    assert "is withdrawn;" in client.get(post(client, "/save/photo/withdrawn", said).location).text
    assert desk.record.latest(Photo, withdrawn="") == []
    assert client.get(f"/photo/{kept.body.sha256}").status_code == 404
    assert (desk.folder / kept.body.path).is_file()
    again = post(client, "/save/photo/withdrawn", said | {"row_id": new_id()})
    assert "already" in again.location


def test_a_bad_photo_does_not_cost_the_pit(desk: Desk, client: FlaskClient) -> None:
    bad = (io.BytesIO(b"<svg/>"), "../../x.svg")
    answer = post(client, "/save/pit", form(desk) | {"photo_file": bad})
    page = client.get(answer.location).text
    assert "Pit A1 is saved." in page
    assert "The photo is not kept." in page
    assert len(after(desk)) == 1
    assert desk.record.latest(Photo) == []


def test_a_photo_of_no_pit_is_not_kept(desk: Desk, client: FlaskClient) -> None:
    sent = {"token": desk.token, "record_id": new_id(), "row_id": new_id(), "photo_file": photo()}
    answer = post(client, "/save/photo", sent)
    assert "no+such+pit" in answer.location or "no%20such%20pit" in answer.location
    assert not (desk.folder / "photos").exists()


def test_what_is_too_large_is_told(desk: Desk, client: FlaskClient) -> None:
    large = (io.BytesIO(b"\xff\xd8\xff" + b"\0" * 21_000_000), "pit.jpg")
    answer = post(client, "/save/pit", form(desk) | {"photo_file": large})
    assert answer.status_code == 413
    assert "20 MB" in answer.text
    note = post(
        client, "/save/pit", form(desk, note="x" * 300_000), content_type="multipart/form-data"
    )
    assert note.status_code == 413


def test_a_review_is_kept_and_two_reviewers_see_each_other(desk: Desk, client: FlaskClient) -> None:
    pit_id = desk.record.latest(Pit)[0].record_id
    said = {"token": desk.token, "about": "pit", "about_id": pit_id, "version": "0"}
    hers = said | {"row_id": new_id(), "reviewed": "yes", "note": "clear", "by_whom": "K. Moss"}
    his = said | {"row_id": new_id(), "note": "look again"}
    assert post(client, "/save/review", hers).status_code == 303
    answer = post(client, "/save/review", his)
    assert answer.status_code == 409
    assert "clear" in answer.text
    assert "look again" in answer.text
    fields = hidden(answer) | {"note": "look again"}
    fields.pop("reviewed")
    assert post(client, "/save/review", fields).status_code == 303
    trail = desk.record.everything(Review)
    assert [(e.body.reviewed, e.body.note) for e in trail] == [
        ("yes", "clear"),
        ("no", "look again"),
    ]
    assert desk.record.latest(Review)[0].record_id == trail[0].record_id


def test_a_zone_can_be_reviewed(desk: Desk, client: FlaskClient) -> None:
    said = {"token": desk.token, "about": "zone", "about_id": "abababab/1", "version": "0",
            "row_id": new_id(), "reviewed": "yes", "note": ""}  # fmt: skip
    answer = post(client, "/save/review", said)
    assert answer.location.startswith("/zone/1")
    assert "Reviewed, saved" in client.get("/zone/1").text


def test_a_place_that_the_files_refuse_is_refused_in_their_words(
    desk: Desk, client: FlaskClient, folder: Path
) -> None:
    far = form(desk, lat="52.7403")
    answer = post(client, "/save/pit", far)
    assert answer.status_code == 400
    assert after(desk) == []
    rows = (folder / "pits.csv").read_text() + "A1,2026-10-02,after,0.801,52.7403,,,,,,,\n"
    (folder / "pits.csv").write_text(rows)
    reason = read_field(folder).left_out["reason"].iloc[-1]
    assert reason.endswith("m outside the boundary")
    assert reason in answer.text
    assert 'value="52.7403"' in answer.text
    # 1e-5 degrees of latitude are 1.1 m on any ellipsoid of the Earth.
    assert post(client, "/save/pit", form(desk, lat="52.70205")).status_code == 303
    assert post(client, "/save/pit", form(desk, pit="A2", lat="52.70215")).status_code == 400


def test_a_pit_that_lies_far_off_can_still_be_withdrawn(desk: Desk, client: FlaskClient) -> None:
    row = new_id()
    body = Pit(season=2026, pit="C2", phase="after", lon=0.801, lat=52.7403)
    desk.record.save(Draft(body=body, row_id=row, record_id=row, based_on=0, origin="page"))
    sent = form(desk, pit="C2", lat="52.7403", record_id=row, row_id=new_id(), version="1")
    assert post(client, "/save/pit", sent | {"withdrawn": "yes"}).status_code == 303
