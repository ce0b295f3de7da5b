"""A plan folder read back: sown faults are found, and named by their file."""

from __future__ import annotations

import dataclasses
import shutil
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
    assert all("cannot be read (KeyError" not in each.what for each in faults)


def test_an_opened_raster_leaves_a_note_that_is_named(written: Path, tmp_path: Path) -> None:
    folder = Path(shutil.copytree(written, tmp_path / "copy"))
    (folder / "pan_surface.tif.aux.xml").write_text("<PAMDataset/>")
    assert [each.file for each in read_back(folder)[1]] == ["pan_surface.tif.aux.xml"]


def test_a_plan_in_another_order_reads_back_the_same(plan: Plan, tmp_path: Path) -> None:
    mixed = dataclasses.replace(
        plan, zones=plan.zones.iloc[::-1], passes=plan.passes.sample(frac=1, random_state=1)
    )
    write_plan(mixed, tmp_path / "plan")
    assert read_back(tmp_path / "plan")[1] == ()
