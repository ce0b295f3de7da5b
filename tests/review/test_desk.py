"""Opening a field: its files come into the record once, a change in a file is a new version."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from PIL import Image
from review.small_desk import PITS, form, pits, post

from zoning.errors import InputRefused, OutputFailed
from zoning.records import Photo, Pit, Station, Trial, new_id
from zoning.review import Desk, make_app, open_desk


def test_files_come_in_once(folder: Path, desk: Desk) -> None:
    again = open_desk(folder)
    assert len(again.record.everything(Pit)) == 2
    assert len(again.record.everything(Station)) == 1
    assert [e.body.run for e in again.record.everything(Trial)] == ["R1"]
    assert again.notices == ()


def test_a_changed_row_is_a_new_version(folder: Path, desk: Desk) -> None:
    (folder / "pits.csv").write_text(PITS.replace("yes,20,30", "yes,22,33"))
    again = open_desk(folder)
    entry = next(e for e in again.record.latest(Pit) if e.body.pit == "P1")
    assert (entry.version, entry.body.pan_base_cm, entry.origin) == (2, 33.0, "file")
    assert again.notices == ()


def correct(desk: Desk, name: str, **said: str) -> None:
    entry = next(e for e in desk.record.latest(Pit) if e.body.pit == name)
    client = make_app(desk).test_client()
    page = {"phase": "before", "pit": name, "date": entry.body.date, "lon": "0.801",
            "lat": "52.701", "pan": "yes", "loosened_at_leg_cm": "", "loosened_between_cm": "",
            "version": str(entry.version), "record_id": entry.record_id,
            "row_id": new_id()}  # fmt: skip
    assert post(client, "/save/pit", form(desk) | page | said).status_code == 303


def test_a_correction_stands_while_the_file_stays_as_it_was(folder: Path, desk: Desk) -> None:
    correct(desk, "P1", pan_base_cm="35")
    again = open_desk(folder)
    entry = next(e for e in again.record.latest(Pit) if e.body.pit == "P1")
    assert (entry.version, entry.body.pan_base_cm) == (2, 35.0)


def test_a_file_changed_after_a_correction_counts_and_is_told(folder: Path, desk: Desk) -> None:
    correct(desk, "P1", pan_base_cm="35")
    (folder / "pits.csv").write_text(PITS.replace("yes,20,30", "yes,22,33"))
    again = open_desk(folder)
    assert [n.code for n in again.notices] == ["file-changed-after-correction"]
    entry = next(e for e in again.record.latest(Pit) if e.body.pit == "P1")
    assert entry.body.pan_base_cm == 33.0
    values = [e.body.pan_base_cm for e in again.record.trail(Pit, entry.record_id)]
    assert values == [30.0, 35.0, 33.0]


def test_a_pit_withdrawn_on_the_page_stays_withdrawn(folder: Path, desk: Desk) -> None:
    correct(desk, "P1", withdrawn="yes")
    again = open_desk(folder)
    assert [p.pit for p in pits(again) if not p.withdrawn] == ["P2"]


def test_a_pit_given_another_name_does_not_come_in_again(folder: Path, desk: Desk) -> None:
    entry = next(e for e in desk.record.latest(Pit) if e.body.pit == "P1")
    client = make_app(desk).test_client()
    said = form(desk, phase="before", pit="Q9", version="1", record_id=entry.record_id,
                loosened_at_leg_cm="", loosened_between_cm="")  # fmt: skip
    assert post(client, "/save/pit", said).status_code == 303
    again = open_desk(folder)
    assert sorted(p.pit for p in pits(again)) == ["P2", "Q9"]


def test_a_record_that_cannot_be_written_is_only_shown(
    folder: Path, desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise OutputFailed("records.gpkg: the file or its folder is read-only.")

    monkeypatch.setattr("zoning.review.desk.record_inputs", fail)
    again = open_desk(folder)
    assert "read-only" in again.notices[0].text
    assert "read-only" in make_app(again).test_client().get("/").text


def test_a_damaged_plan_or_record_is_refused(folder: Path) -> None:
    (folder / "plan" / "depth_zones.geojson").write_text('{"features": [')
    with pytest.raises(InputRefused, match="plan does not read"):
        open_desk(folder)
    (folder / "records.gpkg").write_bytes(b"letters" * 900)
    with pytest.raises(InputRefused, match=r"records\.gpkg"):
        open_desk(folder)


def test_a_photo_that_is_named_and_not_there_is_told_and_comes_in_once_it_is(
    folder: Path,
) -> None:
    rows = PITS.splitlines()
    text = "\n".join([f"{rows[0]},photo", f"{rows[1]},p1.jpg", f"{rows[2]},"]) + "\n"
    (folder / "pits.csv").write_text(text)
    desk = open_desk(folder)
    client = make_app(desk).test_client()
    named, none = (f"/pit/{e.record_id}" for e in desk.record.latest(Pit))
    told = "<strong>Photo named but not found:</strong> p1.jpg. Put it in <code>photos/</code>"
    assert told in client.get(named).text
    assert (
        "No photo."
        not in client.get(named).text.partition("Before: pit P1")[2].partition("After</h2>")[0]
    )
    assert "No photo." in client.get(none).text
    (folder / "photos").mkdir()
    Image.new("RGB", (30, 20)).save(folder / "photos" / "p1.jpg")
    client.get("/")  # the page is still open
    (photo,) = desk.record.latest(Photo)
    assert photo.body.path == "photos/p1.jpg"
    assert f"/photo/{photo.body.sha256}" in client.get(named).text
    assert told not in client.get(named).text
    said = {"token": desk.token, "pit_id": photo.body.pit_id, "record_id": photo.record_id}
    post(client, "/save/photo/withdrawn", said | {"row_id": new_id()})
    assert told not in client.get(named).text


def test_a_photo_that_a_file_names_is_shown_by_its_hash(folder: Path) -> None:
    Image.new("RGB", (30, 20), "brown").save(folder / "p1.jpg")
    rows = PITS.splitlines()
    text = "\n".join([f"{rows[0]},photo", f"{rows[1]},p1.jpg", f"{rows[2]},"]) + "\n"
    (folder / "pits.csv").write_text(text)
    desk = open_desk(folder)
    (photo,) = desk.record.latest(Photo)
    assert (photo.body.path, photo.body.width, photo.body.location_kept) == ("p1.jpg", 30, "yes")
    client = make_app(desk).test_client()
    assert client.get(f"/photo/{photo.body.sha256}").data == (folder / "p1.jpg").read_bytes()
    assert f"/photo/{photo.body.sha256}" in client.get(f"/pit/{photo.body.pit_id}").text
    assert len(open_desk(folder).record.everything(Photo)) == 1


def test_a_file_changed_while_the_page_is_open_is_taken_in(folder: Path, desk: Desk) -> None:
    client = make_app(desk).test_client()
    assert "A7" not in client.get("/").text
    rows = "\r\nA7,2026-09-01,after,0.801,52.701,body,no,,,2,friable,\r\n"
    (folder / "pits.csv").write_text(PITS.rstrip() + rows)
    assert "A7" in client.get("/").text
    (folder / "pits.csv").write_text(PITS.replace("2026-08-19", "some day"))
    page = client.get("/").text
    assert "do not read now" in page
    assert "A7" in page
    (folder / "pits.csv").write_text(PITS)
    assert "do not read now" not in client.get("/").text
    (folder / "field.toml").write_text((folder / "field.toml").read_text().replace("2026", "2027"))
    assert "season 2027" in client.get("/").text


def test_a_field_whose_season_nothing_tells_asks_for_it_before_a_pit_is_taken_in(
    folder: Path, desk: Desk
) -> None:
    client = make_app(desk).test_client()
    for name in ("field.toml", "pits.csv", "cone.csv"):
        text = (folder / name).read_text()
        (folder / name).write_text(re.sub(r"(?m)^season = .*\n|2026-08-\d\d", "", text))
    with pytest.raises(InputRefused, match=r"field\.toml: season: Nothing says which season"):
        open_desk(folder)
    page = client.get("/").text
    assert "season 2026" in page
    assert "Nothing says which season this is" in page
    assert {e.body.season for e in desk.record.everything(Pit)} == {2026}
