"""A sheet that prints another depth than the plan's is found, wherever on the sheet it stands."""

from __future__ import annotations

import dataclasses
import shutil
from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from benchmarks.seeded_faults import rehash

from zoning.model import Plan
from zoning.outputs import write_plan
from zoning.outputs.sheet.pages import write_sheet
from zoning.outputs.verify.folder import read_back
from zoning.outputs.verify.pdf_text import read_pdf
from zoning.outputs.verify.sheet import SHEET, sheet_faults


def reprinted(written: Path, target: Path, plan: Plan) -> list[str]:
    """Return what is told of the plan in `written` once the sheet of `plan` lies in it."""
    folder = Path(shutil.copytree(written, target))
    write_sheet(plan, folder / SHEET)
    rehash(folder)
    _, faults = read_back(folder)
    assert {fault.file for fault in faults} <= {SHEET}
    return [fault.what for fault in faults]


def with_column(plan: Plan, name: str, values: list[object]) -> Plan:
    return dataclasses.replace(plan, zones=plan.zones.assign(**{name: values}))


def test_the_sheet_of_the_plan_is_right(written: Path, plan: Plan) -> None:
    read, _ = read_back(written)
    assert list(sheet_faults(read)) == []
    assert plan.plan_id == read.plan_id


def test_a_machine_without_pins_has_none_in_the_key(
    plan: Plan, changed: Callable[..., Plan], tmp_path: Path
) -> None:
    machine = dataclasses.replace(plan.settings.machine, depth_control="hydraulic")
    settings = dataclasses.replace(plan.settings, machine=machine)
    same = plan.zones.assign(depth_cm=[32.5, 32.5, 0.0], pin_hole=np.nan)
    other = changed(settings=settings, zones=same)
    write_plan(other, tmp_path / "plan")
    told = [fault.what for fault in read_back(tmp_path / "plan")[1] if fault.file == SHEET]
    assert told == []


def test_a_sentence_on_a_pass_left_out_is_no_label_of_a_zone(
    plan: Plan, changed: Callable[..., Plan], tmp_path: Path
) -> None:
    """Pass 9 lifted all the way is told with a colon, as a zone is labelled; no zone is zone 9."""
    idle = plan.passes.iloc[[-1]].assign(**{"pass": 9, "depth_cm": 0.0})
    passes = gpd.GeoDataFrame(pd.concat([plan.passes, idle]), crs=plan.passes.crs)
    write_plan(changed(passes=passes), tmp_path / "plan")
    words = [text.words for text in read_pdf((tmp_path / "plan" / SHEET).read_bytes()).texts]
    assert any("Leave out pass 9: lifted" in each for each in words)
    told = [fault.what for fault in read_back(tmp_path / "plan")[1] if fault.file == SHEET]
    assert told == []


def test_one_depth_a_step_deeper_is_told_of_table_map_key_and_order(
    written: Path, plan: Plan, tmp_path: Path
) -> None:
    told = reprinted(written, tmp_path / "copy", with_column(plan, "depth_cm", [40.0, 32.5, 0.0]))
    text = "\n".join(told)
    assert "Zone 1 prints cm 40 where 37.5 belongs" in text
    assert "Zone 1 prints in 15.7 where 14.8 belongs" in text
    assert "The map labels zone 1 40 cm; plan.gpkg has 37.5 cm" in text
    assert "The key of the map" in text
    assert "The order of work for 37.5 cm prints cm 40 where 37.5 belongs" in text


@pytest.mark.parametrize(
    ("column", "values", "words"),
    [
        ("depth_cm", [32.5, 37.5, 0.0], "Zone 1 prints cm 32.5 where 37.5"),
        ("depth_cm", [37.5, 32.5, 32.5], "Zone 3 prints cm 32.5 where lifted"),
        ("depth_cm", [37.5, 0.0, 0.0], "Zone 2 prints cm lifted where 32.5"),
        ("pin_hole", [11, 8, np.nan], "Zone 1 prints Pin 11 where 10"),
        ("area_ha", [0.5, 2.0, 0.2], "prints Hectares 0.50"),
        (
            "cleared",
            ["located", "not deeper than notice depth", "lifted out"],
            "prints Buried services loc",
        ),
        ("zone", [1, 2, 4], "other numbers"),
    ],
)
def test_other_words_are_found(
    written: Path, plan: Plan, tmp_path: Path, column: str, values: list[object], words: str
) -> None:
    told = reprinted(written, tmp_path / "copy", with_column(plan, column, values))
    assert words in "\n".join(told)


def test_the_mark_of_guessed_ground_is_compared_in_table_map_and_order(
    written: Path, plan: Plan, tmp_path: Path
) -> None:
    guessed = with_column(plan, "cautions", ["guessed: no station read gateway", "", ""])
    text = "\n".join(reprinted(written, tmp_path / "copy", guessed))
    assert "Zone 1 prints cm 37.5? where 37.5 belongs" in text
    assert "The map labels zone 1 37.5 cm?; plan.gpkg has 37.5 cm" in text
    assert "prints Zones 1? where 1 belongs" in text
    write_plan(guessed, tmp_path / "own")
    read, _ = read_back(tmp_path / "own")
    assert list(sheet_faults(read)) == []


def test_marks_of_ground_not_cleared_that_are_wanting_are_found(
    written: Path, plan: Plan, tmp_path: Path
) -> None:
    silent = with_column(plan, "cleared", ["located", "located", "lifted out"])
    text = "\n".join(reprinted(written, tmp_path / "copy", silent))
    assert "The order of work for 37.5 cm prints no mark NC, which belongs there." in text
    assert "The key of the map" in text


def test_a_zone_under_another_setting_is_found(written: Path, plan: Plan, tmp_path: Path) -> None:
    one = with_column(plan, "depth_cm", [32.5, 32.5, 0.0])
    assert "The order of work for 37.5 cm" in "\n".join(reprinted(written, tmp_path / "one", one))
    read, _ = read_back(tmp_path / "one")
    write_sheet(with_column(plan, "depth_cm", [0.0, 32.5, 0.0]), read.folder / SHEET)
    told = [fault.what for fault in sheet_faults(read)]
    assert "The order of work has 1 settings where 2 belong." in told


def test_many_zones_small_ones_apart_are_right(
    plan: Plan, changed: Callable[..., Plan], tmp_path: Path
) -> None:
    west, south, east, north = plan.boundary.bounds
    step = (east - west) / 14
    shapes = [
        shapely.intersection(
            shapely.box(west + i * step, south, west + (i + 1) * step, north), plan.boundary
        )
        for i in range(14)
    ]
    rows = {"zone": range(1, 15), "depth_cm": [30.0, 35.0] * 7}
    zones = gpd.GeoDataFrame(rows, geometry=shapes, crs=plan.working_crs).assign(
        area_ha=[0.04, 0.2] * 7, parts="body", pan_base_cm=30.0, assurance=0.8, cautions="",
        cleared=["not deeper than notice depth", "NOT CLEARED"] * 7, pin_hole=[7.0, 9.0] * 7,
    )  # fmt: skip
    write_plan(changed(zones=zones), tmp_path / "plan")
    told = [fault.what for fault in read_back(tmp_path / "plan")[1] if fault.file == SHEET]
    assert told == []
    read, _ = read_back(tmp_path / "plan")
    write_sheet(changed(zones=zones.assign(zone=[2, 1, *range(3, 15)])), read.folder / SHEET)
    other = "\n".join(fault.what for fault in sheet_faults(read))
    assert "The order of work for 30 cm prints Zones 2, 3, 5" in other
    write_sheet(changed(zones=zones.assign(pan_base_cm=31.0)), read.folder / SHEET)
    assert "Zone 2 prints Pan to 31 where 30" in "\n".join(f.what for f in sheet_faults(read))


def test_a_sheet_of_another_number_is_found(written: Path, plan: Plan, tmp_path: Path) -> None:
    folder = Path(shutil.copytree(written, tmp_path / "copy"))
    other = dataclasses.replace(plan, plan_id="0123456789abcdef" * 4)
    write_sheet(other, folder / SHEET)
    data = (folder / SHEET).read_bytes()
    relabelled = data.replace(other.plan_id.encode(), plan.plan_id.encode())
    assert relabelled != data
    (folder / SHEET).write_bytes(relabelled)
    rehash(folder)
    told = [fault.what for fault in read_back(folder)[1]]
    assert told == [f"The sheet does not print the number of plan {plan.plan_id[:8]}."]


def test_a_page_that_is_no_sheet_cannot_be_read(written: Path, tmp_path: Path) -> None:
    folder = Path(shutil.copytree(written, tmp_path / "copy"))
    data = (folder / SHEET).read_bytes()
    (folder / SHEET).write_bytes(data.replace(b"/ToUnicode", b"/toUnicode"))
    rehash(folder)
    text = "\n".join(fault.what for fault in read_back(folder)[1])
    assert "The table prints 0 zones where 3 belong" in text
