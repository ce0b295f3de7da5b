"""A plan folder read back: sown faults are found, and named by their file."""

from __future__ import annotations

import dataclasses
import shutil
import sqlite3
from pathlib import Path

import pytest
from benchmarks.seeded_faults import BYTES, FAULTS, sown

from zoning.model import Plan
from zoning.outputs import write_plan
from zoning.outputs.verify.folder import read_back

# A sample; the whole run is tests/benchmarks/seeded_faults.py. Some need the plan of another field.
HERE = sorted({*FAULTS, *BYTES} - {name for name in FAULTS if "another" in name})[::3]


def test_a_plan_as_written_has_no_fault(written: Path, plan: Plan) -> None:
    read, faults = read_back(written)
    assert faults == ()
    assert read.plan_id == plan.plan_id
    assert read.zones["depth_cm"].tolist() == [37.5, 32.5, 0.0]
    assert read.boundary.equals(plan.boundary)


@pytest.mark.parametrize("name", HERE)
def test_a_sown_fault_is_found(written: Path, tmp_path: Path, name: str) -> None:
    folder = sown(name, written, written, tmp_path / "copy")
    _, faults = read_back(folder)
    assert faults
    assert not any("another version" in each.what for each in faults)


def test_what_a_gis_leaves_hinders_nothing(written: Path, tmp_path: Path) -> None:
    """Statistics beside a raster, and the table of its own in which QGIS keeps styles."""
    folder = Path(shutil.copytree(written, tmp_path / "copy"))
    (folder / "pan_surface.tif.aux.xml").write_text("<PAMDataset/>")
    assert read_back(folder)[1] == ()
    with sqlite3.connect(folder / "plan.gpkg") as store:
        store.execute("create table layer_styles (styleName text)")
    assert ["SHA-256" in each.what for each in read_back(folder)[1]] == [True]


def test_a_table_of_another_plan_is_told_by_the_description_beside_it(
    written: Path, plan: Plan, tmp_path: Path
) -> None:
    folder = Path(shutil.copytree(written, tmp_path / "copy"))
    grid, beside = folder / "depth_grid.csv", folder / "depth_grid.csv-metadata.json"
    grid.write_text(grid.read_text().replace(",37.50", ",30.00"))
    faults = [str(each) for each in read_back(folder)[1] if each.file == grid.name]
    assert "of another plan, or changed since" in faults[0]
    assert any("places have another depth" in each for each in faults)
    beside.write_text(beside.read_text().replace(plan.plan_id, "ab12cd34" * 8))
    first, second = [str(each) for each in read_back(folder)[1] if each.file == grid.name]
    assert "SHA-256" in first
    assert "of plan ab12cd34" in second
    assert f"that of plan {plan.plan_id[:8]}" in second
    shutil.copy(written / grid.name, grid)  # a description that strayed, beside the right table
    assert {each.file for each in read_back(folder)[1]} == {beside.name}


def test_a_plan_in_another_order_reads_back_the_same(plan: Plan, tmp_path: Path) -> None:
    mixed = dataclasses.replace(
        plan, zones=plan.zones.iloc[::-1], passes=plan.passes.sample(frac=1, random_state=1)
    )
    write_plan(mixed, tmp_path / "plan")
    assert read_back(tmp_path / "plan")[1] == ()
