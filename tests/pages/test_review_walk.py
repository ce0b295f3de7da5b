"""The whole story in a browser: plan, two after-pits on a phone, review, check, taking along.

Chromium of the system through playwright; every page of the walk goes through axe-core, and no
request leaves this computer.
"""

from __future__ import annotations

import io
import os
import re
import shutil
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from click.testing import CliRunner
from PIL import ExifTags, Image
from review.small_desk import keep_check, write_field

from zoning.cli import main
from zoning.records import Photo, Pit, Review, open_record
from zoning.review import listening, make_app, open_desk, serve

axe = pytest.importorskip("axe_playwright_python.sync_playwright")
expect = pytest.importorskip("playwright.sync_api").expect

SAMPLE = Path(__file__).parents[2] / "sample_data" / "teasel_piece"
PHONE = {
    "viewport": {"width": 390, "height": 844}, "device_scale_factor": 2, "has_touch": True,
    "is_mobile": True, "permissions": ["geolocation"],
    "geolocation": {"longitude": 0.80765, "latitude": 52.71745, "accuracy": 4},
}  # fmt: skip
DESK = {"viewport": {"width": 1280, "height": 900}}
# Where to keep the pictures of the walk, for whoever wants to look at them.
PICTURES = os.environ.get("ZONING_PICTURES")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("walk") / "field"
    shutil.copytree(SAMPLE, folder, ignore=shutil.ignore_patterns("truth", "plan", "records*"))
    done = CliRunner().invoke(main, ["plan", str(folder), "--by", "A. Adviser", "--quiet"])
    assert done.exit_code == 0, done.output
    return folder


@pytest.fixture(scope="module")
def address(folder: Path) -> Iterator[str]:
    command = [
        sys.executable,
        "-c",
        "import zoning.cli; zoning.cli.main()",
        "review",
        str(folder),
        "--port",
        "0",
    ]
    run = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert run.stdout is not None
    found = re.search(r"http://127\.0\.0\.1:\d+/", run.stdout.readline())
    assert found is not None
    yield found[0]
    run.terminate()
    run.wait(10)


class Walker:
    """A browser page that keeps what it complained of and whom it asked."""

    def __init__(self, browser: object, address: str, setting: dict[str, object]) -> None:
        self.address, self.trouble, self.hosts = address, [], set()
        self.page = browser.new_context(**setting).new_page()  # type: ignore[attr-defined]
        self.page.on("pageerror", lambda fault: self.trouble.append(str(fault)))
        self.page.on("console", lambda m: self.trouble.append(m.text) if m.type == "error" else 0)
        self.page.on("request", lambda asked: self.hosts.add(urlsplit(asked.url).hostname))

    def goes(self, path: str) -> None:
        self.page.goto(self.address + path)
        self.page.wait_for_load_state("load")

    def looks(self, name: str) -> None:
        """Keep a picture and demand that axe-core finds nothing."""
        if PICTURES:
            self.page.screenshot(path=str(Path(PICTURES) / f"{name}.png"), full_page=True)
        found = axe.Axe().run(self.page).response["violations"]
        assert [(f["id"], [n["target"] for n in f["nodes"]][:3]) for f in found] == [], name


def photograph() -> bytes:
    image = Image.linear_gradient("L").resize((900, 1200)).convert("RGB")
    exif = Image.Exif()
    exif.get_ifd(ExifTags.IFD.GPSInfo)[ExifTags.GPS.GPSLatitude] = (52.0, 43.0, 6.0)
    stream = io.BytesIO()
    image.save(stream, "JPEG", exif=exif)
    return stream.getvalue()


def add_two_pits(phone: Walker) -> None:
    page = phone.page
    phone.goes("new")
    page.click("#use-device")
    expect(page.locator("[name=lon]")).not_to_have_value("")
    assert "off by up to 4 m" in page.inner_text("#place-told")
    page.fill("[name=loosened_at_leg_cm]", "38,5")
    page.fill("[name=loosened_between_cm]", "41")
    page.check("[name=pan][value=no]")
    page.fill("[name=speed_km_h]", "8")
    page.fill("[name=by_whom]", "M. Hale")
    phone.looks("1 phone form")
    page.click("text=Save pit")
    assert "deeper between the legs" in page.inner_text("main")
    phone.looks("2 phone fault")
    page.fill("[name=loosened_between_cm]", "36")
    given = {"name": "pit.jpg", "mimeType": "image/jpeg", "buffer": photograph()}
    page.set_input_files("[name=photo_file]", given)
    page.click("text=Save pit")
    assert "Pit A1 is saved. The photo is kept, without its location." in page.inner_text("main")
    phone.looks("3 phone saved")
    phone.goes("new")
    page.wait_for_selector("body[data-ready]")
    assert page.input_value("[name=pit]") == "A2"
    assert page.input_value("[name=by_whom]") == "M. Hale"
    box = page.locator("#pick").bounding_box()
    page.touchscreen.tap(box["x"] + box["width"] * 0.6, box["y"] + box["height"] * 0.45)
    expect(page.locator("[name=lat]")).not_to_have_value("")
    page.fill("[name=loosened_at_leg_cm]", "30")
    page.check("[name=pan][value=yes]")
    page.click("text=Save pit")
    assert "Pit A2 is saved." in page.inner_text("main")


def review_one(desk: Walker) -> None:
    page = desk.page
    desk.goes("")
    page.wait_for_selector("body[data-ready]")
    desk.looks("4 map and list")
    page.focus("[aria-label^='Pit A1']")
    page.keyboard.press("Enter")
    page.wait_for_selector(".chart")
    assert "At one place" in page.inner_text("main")
    page.wait_for_load_state("load")
    for picture in page.locator("img").all():
        expect(picture).to_have_js_property("complete", True)
        expect(picture).not_to_have_js_property("naturalWidth", 0)
    page.check("[name=reviewed]")
    page.fill("[name=note]", "Clear to the leg. <b>Look</b> again in spring.")
    page.click("text=Save review")
    assert "The review is saved." in page.inner_text("main")
    desk.looks("5 side by side")
    page.click("text=Correct or withdraw this entry")
    desk.looks("6 correction")
    page.fill("[name=loosened_at_leg_cm]", "39")
    page.fill("[name=why]", "read the rule again")
    page.click("text=Save pit")
    page.click("text=Trail of edits")
    assert "38.5 now 39" in page.inner_text("main").replace("\n", " ")
    desk.looks("7 trail")
    desk.goes("zone/1")
    desk.looks("8 zone")
    desk.goes("seasons")
    desk.looks("9 seasons")


def save_at_once(one: Walker, other: Walker) -> None:
    """Two people correct one pit: the second sees both versions and saves on top."""
    for walker, note in ((one, "hers"), (other, "his")):
        walker.goes("?phase=after")
        walker.page.click("tbody a:has-text('A2')")
        walker.page.click("text=Correct or withdraw this entry")
        walker.page.fill("[name=note]", note)
    one.page.click("text=Save pit")
    other.page.click("text=Save pit")
    assert "Two versions of pit A2" in other.page.inner_text("h1")
    shown = other.page.inner_text("main")
    assert "hers" in shown
    assert "his" in shown
    other.looks("14 two versions")
    other.page.click("text=Save mine as version 3")
    assert "Pit A2 is saved." in other.page.inner_text("main")


def after_the_check(desk: Walker, folder: Path) -> None:
    page = desk.page
    done = CliRunner().invoke(main, ["check", str(folder), "--quiet"])
    assert done.exit_code == 0, done.output
    desk.goes("?phase=after")
    page.wait_for_selector("body[data-ready]")
    shown = page.inner_text(".two tbody")
    assert "not judged" not in shown
    assert "A1" in shown
    assert "P1" not in shown
    desk.looks("10 after the check")
    desk.goes("export")
    desk.looks("11 take along")
    with page.expect_download() as started:
        page.click("a:text-is('pits.csv')")
    text = Path(started.value.path()).read_text(encoding="utf-8")
    assert [line.split(",")[0] for line in text.splitlines()][-2:] == ["A1", "A2"]


def test_from_the_plan_to_what_is_taken_along(folder: Path, address: str, browser: object) -> None:
    phone, desk = Walker(browser, address, PHONE), Walker(browser, address, DESK)
    add_two_pits(phone)
    review_one(desk)
    save_at_once(desk, phone)
    after_the_check(desk, folder)
    desk.goes("nothing")
    desk.looks("12 no such page")
    small = Walker(browser, address, PHONE)
    small.goes("")
    small.page.wait_for_selector("body[data-ready]")
    small.looks("13 phone map")
    assert small.page.evaluate("document.documentElement.scrollWidth") <= 390
    assert phone.hosts | desk.hosts | small.hosts == {"127.0.0.1"}
    faults = [t for t in phone.trouble + desk.trouble + small.trouble if "40" not in t]
    assert faults == []
    record = open_record(folder)
    pits = {e.body.pit: e for e in record.latest(Pit) if e.body.phase == "after"}
    assert {name: (e.version, e.body.place_from) for name, e in pits.items()} == {
        "A1": (2, "device"), "A2": (3, "map"),
    }  # fmt: skip
    assert pits["A1"].body.place_error_m == 4
    trail = record.trail(Pit, pits["A2"].record_id)
    assert [e.body.note for e in trail] == ["", "hers", "his"]
    assert record.latest(Review)[0].body.note.endswith("again in spring.")
    (photo,) = record.latest(Photo)
    with Image.open(folder / photo.body.path) as kept:
        assert dict(kept.getexif()) == {}


def test_on_a_phone_no_list_runs_off_and_north_is_marked(address: str, browser: object) -> None:
    phone = Walker(browser, address, PHONE)
    for path in ("", "season/2026", "seasons"):
        phone.goes(path)
        runs_off = (
            "[...document.querySelectorAll('.wide')].map((e) => e.scrollWidth - e.clientWidth)"
        )
        assert max(phone.page.evaluate(runs_off), default=0) <= 1
    phone.goes("")
    phone.page.wait_for_selector("body[data-ready]")
    mark = phone.page.get_by_role("img", name="North is up").bounding_box()
    scale = phone.page.locator(".leaflet-control-scale").bounding_box()
    assert mark["height"] > 30
    assert mark["y"] + mark["height"] <= scale["y"]
    assert not phone.trouble


def test_the_page_that_asks_for_the_code(tmp_path: Path, browser: object) -> None:
    desk = open_desk(write_field(tmp_path / "field"))
    desk.code = "ABCD2345"
    server = serve(make_app(desk), listening("127.0.0.1", 0))
    threading.Thread(target=server.run, daemon=True).start()
    walker = Walker(browser, f"http://127.0.0.1:{server.effective_port}/", PHONE)
    walker.goes("export")
    assert walker.page.inner_text("h1") == "Access code"
    walker.page.fill("[name=code]", "wrong")
    walker.page.click("text=Go on")
    walker.looks("15 access code")
    walker.page.fill("[name=code]", "abcd2345")
    walker.page.click("text=Go on")
    assert "Pits before and after" in walker.page.inner_text("h1")
    server.close()


def test_on_a_phone_each_ringed_pit_bears_the_word_stop(tmp_path: Path, browser: object) -> None:
    """Five pits within 12 m, a sign above and below those that are stopped for."""
    folder = write_field(tmp_path / "field")
    places = {"K5": 0.0, "K6": 2e-5, "K7": 4e-5, "K8": -2e-5, "K9": -4e-5}
    head = "pit,date,phase,lon,lat,pan,loosened_at_leg_cm\n"
    rows = (f"{k},2026-09-10,after,{0.802 + v / 2},{52.701 + v},no,36\n" for k, v in places.items())
    (folder / "pits.csv").write_text(head + "".join(rows))
    desk = open_desk(folder)
    keep_check(desk, "Stop: pits K5 and K8 were loosened 36 cm deep. Tell the owner.")
    server = serve(make_app(desk), listening("127.0.0.1", 0))
    threading.Thread(target=server.run, daemon=True).start()
    walker = Walker(browser, f"http://127.0.0.1:{server.effective_port}/", PHONE)
    walker.goes("")
    walker.page.wait_for_selector("body[data-ready]")
    told = walker.page.locator("#map span.stop-word")
    assert sorted(told.all_inner_texts()) == ["K5 STOP", "K8 STOP"]
    boxes = [one.bounding_box() for one in told.all() if one.is_visible()]
    assert len(boxes) == 2
    one, other = boxes
    apart = one["y"] + one["height"] <= other["y"] or other["y"] + other["height"] <= one["y"]
    beside = one["x"] + one["width"] <= other["x"] or other["x"] + other["width"] <= one["x"]
    assert apart or beside
    walker.looks("16 stop on a phone")
    assert not walker.trouble
    server.close()
