"""The sheet as a PDF: pages, tags, words, letters of other scripts, the same bytes every time."""

from __future__ import annotations

import dataclasses
import re
import shutil
import struct
import subprocess
import zlib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest
import shapely
import typst

from zoning.errors import OutputFailed
from zoning.model import Notice, Plan
from zoning.outputs.sheet.facts import picture_facts, sheet_facts
from zoning.outputs.sheet.pages import (
    _TEMPLATE,
    check_picture,
    check_sheet,
    picture_png,
    write_picture,
    write_sheet,
)
from zoning.outputs.sheet.words import MISSING_LETTERS
from zoning.outputs.typeset import pdf


def named(plan: Plan, changed: Callable[..., Plan], name: str, **facts: object) -> Plan:
    field = dataclasses.replace(plan.settings.field, name=name)
    return changed(settings=dataclasses.replace(plan.settings, field=field), **facts)


def read(path: Path) -> str:
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext (poppler) is not installed")
    done = subprocess.run(["pdftotext", path, "-"], capture_output=True, check=True)
    return done.stdout.decode("utf-8")


def facts(path: Path, *options: str) -> str:
    if shutil.which("pdfinfo") is None:
        pytest.skip("pdfinfo (poppler) is not installed")
    done = subprocess.run(["pdfinfo", *options, path], capture_output=True, check=True)
    return done.stdout.decode("utf-8")


def letters(text: str) -> str:
    return re.sub(r"\s+", " ", text)


@pytest.fixture(scope="session")
def sheet(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("sheet") / "operator_sheet.pdf"
    write_sheet(plan, path)
    return path


def test_two_a4_pages_with_tags(sheet: Path) -> None:
    told = facts(sheet)
    assert re.search(r"Pages:\s+2\n", told)
    assert "(A4)" in told
    assert re.search(r"Tagged:\s+yes", told)
    assert re.search(r"Title:\s+Rook Piece: working depths", told)


def test_it_claims_pdf_ua_1_and_has_headings_tables_and_a_figure(sheet: Path) -> None:
    # ISO 14289-1: the claim stands in the metadata; typst does not make it where a rule is broken
    assert b"pdfuaid:part>1<" in sheet.read_bytes() or "pdfuaid:part>1<" in facts(sheet, "-meta")
    tree = facts(sheet, "-struct")
    for tag in ("H1", "H2", "Table", "TH", "Figure"):
        assert re.search(rf"^\s*{tag}\b", tree, re.MULTILINE), tag


def test_what_an_operator_needs_is_there(sheet: Path, plan: Plan) -> None:
    told = letters(read(sheet))
    for words in (
        "NOT CLEARED: zone 1", "Buried services: not checked", "1. Before you start", "Between",
        "2. Is the soil dry enough?", "3. Trial run and pit behind the machine", "4. Order of work",
        "Shear bolts",
        "When it goes otherwise", "do not lift, reverse or pull free", "Pan left?",
        "Hazards on the map", "H1 drain, cover 75 cm", "37.5", "14.8", "Draft ±50 %",
    ):  # fmt: skip
        assert words in told, words
    assert told.count(plan.plan_id[:8]) >= 3  # the box and the foot of each page


def test_an_assumed_machine_is_told_on_the_first_page_and_beside_the_pins(
    plan: Plan, changed: Callable[..., Plan], tmp_path: Path
) -> None:
    taken = Notice("caution", "assumed-machine", "No machine is described: measure yours.")
    path = tmp_path / "sheet.pdf"
    write_sheet(changed(notices=(*plan.notices, taken)), path)
    first, second = read(path).split("\f")[:2]
    for words in ("MACHINE ASSUMED. No machine", "(ASSUMED): 7 legs", "pin 10 (assumed)"):
        assert words in letters(first), words
    assert "hole 1 is assumed as 15 cm" in letters(second)
    assert second.count("assumed\n") >= 2  # under Pin, in each table of settings


def test_services_not_checked_is_the_first_caution(sheet: Path) -> None:
    told = letters(read(sheet))
    first = told.index("Buried services were not checked.")
    assert first < told.index("Hazards on the map")
    assert told.index("NOT CLEARED: zone 1") < first


def test_the_same_plan_gives_the_same_bytes(sheet: Path, plan: Plan, tmp_path: Path) -> None:
    write_sheet(plan, tmp_path / "again.pdf")
    assert (tmp_path / "again.pdf").read_bytes() == sheet.read_bytes()


def test_thirty_zones_and_a_long_name_stay_on_two_pages(
    plan: Plan, changed: Callable[..., Plan], tmp_path: Path
) -> None:
    name = "The long field behind Old Mill Lane and the railway cutting, east of the pond, " * 2
    west, south, east, north = plan.boundary.bounds
    step = (east - west) / 30
    shapes = [shapely.box(west + i * step, south, west + (i + 1) * step, north) for i in range(30)]
    rows = {"zone": range(1, 31), "depth_cm": [25.0 + 2.5 * (i % 6) for i in range(30)]}
    change = "Legs 43 cm apart are too wide: set them closer, fit wings or make two passes. "
    zones = gpd.GeoDataFrame(rows, geometry=shapes, crs=plan.working_crs).assign(
        area_ha=0.1,
        cleared="NOT CLEARED",
        machine_changes=[change * 2 + str(i % 6) for i in range(30)],
    )
    path = tmp_path / "sheet.pdf"
    write_sheet(named(plan, changed, name, zones=zones), path)
    assert re.search(r"Pages:\s+2\n", facts(path))
    told = letters(read(path))
    assert "railway cutting, east of the pond, The long field" in told
    assert "NC is NOT CLEARED" in told


@pytest.mark.parametrize(("step_cm", "unit", "other"), [(2.54, "in", "cm"), (2.5, "cm", "in")])
def test_trial_runs_are_written_down_in_the_unit_of_the_sheet(
    plan: Plan, changed: Callable[..., Plan], tmp_path: Path, step_cm: float, unit: str, other: str
) -> None:
    path = tmp_path / "sheet.pdf"
    write_sheet(changed(cone=plan.cone.assign(depth_cm=step_cm)), path)
    told = letters(read(path))
    assert f"set {unit} leg {unit} legs {unit} {unit} down to {unit} " in told  # a line of the head
    assert not any(f"{head} {other} " in told for head in ("set", "leg", "legs", "down to"))
    assert ("take cm: 1 in is 2.54 cm." in told) is (unit == "in")


def test_every_pit_of_the_trial_table_has_a_line_for_its_place(plan: Plan, sheet: Path) -> None:
    rows = sheet_facts(plan)
    told = letters(read(sheet))
    assert told.count("Zone, lon/lat, soil:") == len(rows["trials"]) + rows["later_pits"]
    assert all(f"{row['look_for']} Zone, lon/lat, soil:" in told for row in rows["trials"])


@pytest.mark.parametrize(("count", "page"), [(3, 1), (90, 2)])
def test_the_table_of_zones_stands_once(
    plan: Plan, changed: Callable[..., Plan], tmp_path: Path, count: int, page: int
) -> None:
    path = tmp_path / "sheet.pdf"
    many = pd.concat([plan.zones] * 30, ignore_index=True).head(count)
    write_sheet(changed(zones=many.assign(zone=range(1, count + 1))), path)
    pages = read(path).split("\f")
    assert [at for at, told in enumerate(pages, 1) if "Pan to" in letters(told)] == [page]


def test_no_column_of_marks_where_all_is_cleared(
    plan: Plan, changed: Callable[..., Plan], tmp_path: Path
) -> None:
    path = tmp_path / "sheet.pdf"
    zones = pd.concat([plan.zones] * 5, ignore_index=True).assign(zone=range(1, 16))
    write_sheet(changed(zones=zones), path)
    assert len(re.findall(r"\bNC\b", read(path))) > 3
    write_sheet(changed(zones=zones.assign(cleared="located")), path)
    assert not re.search(r"\bNC\b", read(path))
    assert "Pan to" in letters(read(path))


def test_the_sheet_tells_spade_and_thread_of_ground_not_cleared(plan: Plan, tmp_path: Path) -> None:
    path = tmp_path / "sheet.pdf"
    write_sheet(plan, path)
    first, second, *_ = read(path).split("\f")
    limit = "dig and probe no deeper than 30 cm"
    assert limit in letters(first)
    assert f"Ask what is buried before you dig or probe. Until services are located, {limit}" in (
        letters(second)
    )
    thread = letters(second).partition("Rolled from")[2].partition("too wet")[0]
    assert ("37.5 cm NC" in thread, "32.5 cm NC" in thread) == (True, False)


@pytest.mark.parametrize(
    ("name", "sign"),
    [("Επάνω χωράφι", "χωράφι"), ("Верхнее поле", "Верхнее"), ("Łąka Ťažká ß Ñ", "Łąka")],
)
def test_greek_cyrillic_and_latin_letters(
    plan: Plan, changed: Callable[..., Plan], tmp_path: Path, name: str, sign: str
) -> None:
    path = tmp_path / "sheet.pdf"
    write_sheet(named(plan, changed, name), path)
    assert "pdfuaid" in facts(path, "-meta")
    assert sign in read(path)


@pytest.mark.parametrize("name", ["الحقل العلوي", "上の畑", "위쪽 밭", "\U00012000\U00012001"])
def test_a_script_without_a_font_still_gives_a_sheet_that_says_so(
    plan: Plan, changed: Callable[..., Plan], tmp_path: Path, name: str
) -> None:
    path = tmp_path / "sheet.pdf"
    local = named(plan, changed, name)
    write_sheet(local, path)
    check_sheet(local, path)
    claimed = "pdfuaid" in facts(path, "-meta")
    warned = MISSING_LETTERS[:40] in letters(read(path))
    assert claimed is not warned
    assert re.search(r"Tagged:\s+yes", facts(path))


def test_text_of_a_user_is_never_read_as_markup(
    plan: Plan, changed: Callable[..., Plan], tmp_path: Path
) -> None:
    name = '#read("/etc/passwd") *x* $y$ <a> \\ #pagebreak()'
    path = tmp_path / "sheet.pdf"
    write_sheet(named(plan, changed, name), path)
    told = letters(read(path))
    assert '#read("/etc/passwd")' in told
    assert "*x* $y$" in told
    assert re.search(r"Pages:\s+2\n", facts(path))


def test_a_fault_of_the_template_is_told(
    plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object, **__: object) -> bytes:
        raise typst.TypstError("no such thing")

    monkeypatch.setattr("zoning.outputs.typeset.typst.compile", fail)
    with pytest.raises(OutputFailed, match="no such thing"):
        write_sheet(replace(plan), tmp_path / "sheet.pdf")  # one that is not kept yet
    with pytest.raises(OutputFailed, match="no such thing"):
        write_picture(replace(plan), tmp_path / "plan.png")


def test_picture(plan: Plan, tmp_path: Path) -> None:
    path = tmp_path / "plan.png"
    write_picture(plan, path)
    check_picture(plan, path)
    held = path.read_bytes()
    width = int.from_bytes(held[16:20], "big")
    assert 1000 < width < 2500
    write_picture(plan, tmp_path / "again.png")
    assert (tmp_path / "again.png").read_bytes() == held


def test_the_picture_says_what_its_labels_leave_to_the_tones(plan: Plan, tmp_path: Path) -> None:
    told = {**picture_facts(plan), "unsaid": "Ground without a number has its tone."}
    path = tmp_path / "picture.pdf"
    path.write_bytes(pdf("The picture", _TEMPLATE, told))
    assert told["unsaid"] in letters(read(path))


def test_the_picture_names_its_plan_and_is_sound(plan: Plan) -> None:
    # PNG, 3rd edition: every chunk carries the CRC-32 of its type and data
    held = picture_png(plan)
    at, seen = 8, {}
    while at < len(held):
        (length,) = struct.unpack(">I", held[at : at + 4])
        body = held[at + 4 : at + 8 + length]
        assert struct.unpack(">I", held[at + 8 + length : at + 12 + length]) == (zlib.crc32(body),)
        seen[body[:4]] = body[4:]
        at += 12 + length
    assert seen[b"tEXt"] == b"plan_id\0" + plan.plan_id.encode()
    assert seen[b"IEND"] == b""


def test_the_sheet_names_its_plan_in_full(sheet: Path, plan: Plan) -> None:
    assert plan.plan_id.encode() in sheet.read_bytes()
    assert plan.plan_id in re.sub(r"\s", "", read(sheet))


def test_half_a_file_or_another_plan_is_refused(
    sheet: Path, plan: Plan, changed: Callable[..., Plan], tmp_path: Path
) -> None:
    check_sheet(plan, sheet)
    cut = tmp_path / "cut.pdf"
    cut.write_bytes(sheet.read_bytes()[:-500])
    with pytest.raises(OutputFailed, match=r"cut\.pdf did not read back"):
        check_sheet(plan, cut)
    deeper = changed(zones=plan.zones.assign(depth_cm=[40.0, 32.5, 0.0]))
    with pytest.raises(OutputFailed, match="did not read back"):
        check_sheet(deeper, sheet)
    with pytest.raises(OutputFailed, match="did not read back"):
        check_picture(plan, cut)
