"""Writing a plan: all files or none, each read back, the same bytes every time."""

from __future__ import annotations

import csv
import dataclasses
import json
import os
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import rasterio

from zoning.errors import OutputFailed
from zoning.model import Plan
from zoning.outputs import KNOWN, WRITERS, Output, refuse_foreign, write_plan

# The file contract, docs/reference/files.rst; sheet, pictures and map page have their own tests.
DATA = {
    "depth_zones.geojson", "depth_zones.csv", "depth_grid.csv", "depth_passes.csv",
    "readings_used.csv", "pan_surface.tif", "plan.gpkg", "plan.json",
    "depth_zones.csv-metadata.json",
    "depth_grid.csv-metadata.json", "depth_passes.csv-metadata.json",
    "readings_used.csv-metadata.json",
}  # fmt: skip


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_every_file_of_the_contract_is_written(written: Path) -> None:
    assert contents(written).keys() == WRITERS.keys()
    assert WRITERS.keys() >= DATA
    assert WRITERS.keys() | {"operator_sheet.pdf", "map.html"} <= KNOWN
    assert list(WRITERS)[-1] == "plan.json"


def test_two_runs_give_the_same_bytes(plan: Plan, written: Path, tmp_path: Path) -> None:
    files = write_plan(plan, tmp_path / "elsewhere")
    assert [path.name for path in files] == list(WRITERS)
    assert contents(tmp_path / "elsewhere") == contents(written)


AGAIN = """
import importlib.util, sys
from pathlib import Path
spec = importlib.util.spec_from_file_location("facts", sys.argv[1])
facts = importlib.util.module_from_spec(spec)
spec.loader.exec_module(facts)
from zoning.outputs import write_plan
write_plan(facts.build_plan(), Path(sys.argv[2]))
"""


def test_another_process_time_zone_and_hash_seed_give_the_same_bytes(
    written: Path, tmp_path: Path
) -> None:
    facts = str(Path(__file__).with_name("conftest.py"))
    environment = os.environ | {
        "TZ": "Asia/Tokyo",
        "PYTHONHASHSEED": "7",
        "LC_ALL": "C",
        "GDAL_NUM_THREADS": "2",
    }
    run = [sys.executable, "-c", AGAIN, facts, str(tmp_path / "plan")]
    subprocess.run(run, env=environment, cwd=tmp_path, check=True)
    assert contents(tmp_path / "plan") == contents(written)


def test_the_order_of_rows_given_does_not_matter(
    plan: Plan, changed: Callable[..., Plan], written: Path, tmp_path: Path
) -> None:
    names = ("cone", "pits", "hazards", "zones", "passes", "parts", "stations", "insertions")
    mixed = changed(**{name: getattr(plan, name).iloc[::-1] for name in names})
    write_plan(mixed, tmp_path / "plan")
    assert contents(tmp_path / "plan") == contents(written)


def test_all_files_say_the_same_of_every_zone(written: Path) -> None:
    collection = json.loads((written / "depth_zones.geojson").read_text(encoding="utf-8"))
    depths = {f["properties"]["zone"]: f["properties"]["depth_cm"] for f in collection["features"]}
    rows = list(csv.DictReader((written / "depth_zones.csv").open(encoding="utf-8", newline="")))
    assert {int(row["zone"]): float(row["depth_cm"]) for row in rows} == depths
    layer = gpd.read_file(written / "plan.gpkg", layer="zones")
    assert dict(zip(layer["zone"], layer["depth_cm"], strict=True)) == depths
    document = json.loads((written / "plan.json").read_text(encoding="utf-8"))
    assert {zone["zone"]: zone["depth_cm"] for zone in document["zones"]} == depths
    with rasterio.open(written / "pan_surface.tif") as dataset:
        for shape, depth in zip(layer.geometry, layer["depth_cm"], strict=True):
            place = shape.buffer(-3).representative_point().coords[0]
            assert next(dataset.sample([place]))[3] == depth
    grid = pd.read_csv(written / "depth_grid.csv")
    assert set(grid["depth_cm"]) == set(depths.values())


def test_each_file_names_the_plan(written: Path, plan: Plan) -> None:
    named = {name for name, data in contents(written).items() if plan.plan_id.encode() in data}
    # A grid, passes and readings as CSV have no place for it: their descriptions name the plan.
    assert DATA - named == {"depth_grid.csv", "depth_passes.csv", "readings_used.csv"}


def test_progress_names_each_file_in_turn(plan: Plan, tmp_path: Path) -> None:
    told: list[str] = []
    write_plan(plan, tmp_path / "plan", progress=told.append)
    assert told == list(WRITERS)


def _agree(plan: Plan, path: Path) -> None:
    """Check nothing."""


def _fails(fault: Exception) -> Output:
    def write(plan: Plan, path: Path) -> None:
        path.write_bytes(b"half")
        raise fault

    return Output(write, _agree)


def _lies(name: str) -> Output:
    """Return the writer of `name` with a file that holds another plan's depths."""

    def write(plan: Plan, path: Path) -> None:
        zones = plan.zones.assign(depth_cm=plan.zones["depth_cm"].to_numpy()[::-1])
        rasters = dict(plan.rasters) | {"working_depth_cm": plan.rasters["pan_base_cm"]}
        passes = plan.passes.assign(depth_cm=22.5)
        stations = plan.stations.assign(used=False)
        wrong = dataclasses.replace(
            plan, zones=zones, rasters=rasters, passes=passes, stations=stations, plan_id="0" * 64
        )
        WRITERS[name].write(wrong, path)

    return dataclasses.replace(WRITERS[name], write=write)


def _empties(name: str) -> Output:
    """Return the writer of `name` with an empty file, as a full disk may leave it silently."""

    def write(plan: Plan, path: Path) -> None:
        path.write_bytes(b"")

    return dataclasses.replace(WRITERS[name], write=write)


@pytest.mark.parametrize(
    "fault",
    [
        OSError(28, "No space left on device"),
        RuntimeError("driver"),
        ValueError("a number"),
        sqlite3.DatabaseError("malformed\nimage"),
        OutputFailed("x"),
    ],
)
def test_a_writer_that_fails_leaves_the_old_plan(
    plan: Plan, written: Path, tmp_path: Path, fault: Exception
) -> None:
    shutil.copytree(written, tmp_path / "plan")
    some = {"depth_passes.csv": WRITERS["depth_passes.csv"], "plan.gpkg": _fails(fault)}
    with pytest.raises(OutputFailed) as told:
        write_plan(plan, tmp_path / "plan", writers=some)
    assert "\n" not in str(told.value)
    assert contents(tmp_path / "plan") == contents(written)
    assert [path.name for path in tmp_path.iterdir()] == ["plan"]


@pytest.mark.parametrize("name", sorted(DATA))
@pytest.mark.parametrize("fault", [_lies, _empties])
def test_a_file_that_is_not_as_planned_is_noticed(
    plan: Plan, tmp_path: Path, fault: Callable[[str], Output], name: str
) -> None:
    (tmp_path / "plan").mkdir()
    (tmp_path / "plan" / "plan.json").write_text("old", encoding="utf-8")
    with pytest.raises(OutputFailed, match=name.replace(".", r"\.")) as told:
        write_plan(plan, tmp_path / "plan", writers={name: fault(name)})
    assert "\n" not in str(told.value)
    assert contents(tmp_path / "plan") == {"plan.json": b"old"}
    assert [path.name for path in tmp_path.iterdir()] == ["plan"]


def test_a_file_too_many_is_noticed(plan: Plan, tmp_path: Path) -> None:
    def write(plan: Plan, path: Path) -> None:
        path.write_bytes(b"x")
        path.with_name("left over").write_bytes(b"x")

    with pytest.raises(OutputFailed, match="left over"):
        write_plan(plan, tmp_path / "plan", writers={"map.html": Output(write, _agree)})
    assert list(tmp_path.iterdir()) == []


def test_a_fingerprint_of_another_plan_is_refused(plan: Plan, tmp_path: Path) -> None:
    deeper = dataclasses.replace(plan, zones=plan.zones.assign(depth_cm=45.0))
    with pytest.raises(OutputFailed, match="fingerprint"):
        write_plan(deeper, tmp_path / "plan")
    assert list(tmp_path.iterdir()) == []


def test_a_depth_that_is_no_number_is_refused(
    changed: Callable[..., Plan], plan: Plan, tmp_path: Path
) -> None:
    unknown = changed(zones=plan.zones.assign(depth_cm=[37.5, np.nan, 0.0]))
    with pytest.raises(OutputFailed):
        write_plan(unknown, tmp_path / "plan")
    assert list(tmp_path.iterdir()) == []


def test_zones_that_do_not_cover_the_field_are_refused(
    changed: Callable[..., Plan], plan: Plan, tmp_path: Path
) -> None:
    with pytest.raises(OutputFailed, match="exactly once"):
        write_plan(changed(zones=plan.zones.iloc[:2]), tmp_path / "plan")
    assert list(tmp_path.iterdir()) == []


def test_a_foreign_folder_is_refused_before_any_work(tmp_path: Path) -> None:
    refuse_foreign(tmp_path / "plan")
    (tmp_path / "photo.jpg").write_bytes(b"x")
    with pytest.raises(OutputFailed, match="holds other files"):
        refuse_foreign(tmp_path)
