"""Table descriptions, against the W3C vocabulary by strict reading with the `csvw` package."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from csvw import CSVW, Table

from zoning.model import Plan

TABLES = ("depth_zones", "depth_grid", "depth_passes", "readings_used")


def table(folder: Path, name: str) -> Table:
    return Table.from_file(str(folder / f"{name}.csv-metadata.json"))


@pytest.mark.parametrize("name", TABLES)
def test_each_table_reads_strictly_by_its_description(written: Path, name: str) -> None:
    described = table(written, name)
    rows = list(described.iterdicts(strict=True))
    assert rows
    assert described.check_primary_key()
    csv_file, metadata = written / f"{name}.csv", written / f"{name}.csv-metadata.json"
    assert CSVW(str(csv_file), md_url=str(metadata), validate=True).is_valid


@pytest.mark.parametrize("name", TABLES)
def test_each_description_carries_the_plan_id_and_units(
    written: Path, plan: Plan, name: str
) -> None:
    assert table(written, name).common_props["dc:identifier"] == plan.plan_id
    text = json.loads((written / f"{name}.csv-metadata.json").read_text(encoding="utf-8"))
    for column in text["tableSchema"]["columns"]:
        if column["datatype"]["base"] == "decimal":
            assert " Unit: " in column["dc:description"]
        if column["name"].endswith("_cm"):
            assert column["dc:description"].endswith("Unit: cm.")


@pytest.mark.parametrize(
    ("good", "bad"),
    [("37.50", "3.75e1"), ("37.50", "-1"), ("NOT CLEARED", "safe"), ("37.50", "deep")],
)
def test_a_planted_fault_is_found(written: Path, tmp_path: Path, good: str, bad: str) -> None:
    folder = shutil.copytree(written, tmp_path / "plan")
    path = folder / "depth_zones.csv"
    text = path.read_bytes()
    path.write_bytes(text.replace(good.encode(), bad.encode(), 1))
    with pytest.raises(ValueError, match=r"depth_cm|cleared"):
        list(table(folder, "depth_zones").iterdicts(strict=True))
