"""check.json and check.geojson, read back by other libraries."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path

import geojson_validator
import geopandas as gpd
import jsonschema
import pytest
from outputs.small_check import pits, planned, small_check

from zoning.contracts import shared
from zoning.errors import OutputFailed
from zoning.outputs.check.file import (
    check_document,
    geojson_text,
    verify_check_file,
    write_check_file,
)


def test_the_document_follows_its_schema(tmp_path: Path) -> None:
    path = tmp_path / "check.json"
    write_check_file(small_check(), path)
    text = shared("schemas", "check.schema.json").read_text(encoding="utf-8")
    jsonschema.validate(json.loads(path.read_text(encoding="utf-8")), json.loads(text))


def test_a_changed_file_does_not_pass(tmp_path: Path) -> None:
    path = tmp_path / "check.json"
    check = small_check()
    write_check_file(check, path)
    verify_check_file(check, path)
    path.write_text(path.read_text().replace("leg_only", "reached"))
    with pytest.raises(OutputFailed, match="did not read back"):
        verify_check_file(check, path)


def test_the_identity_follows_what_is_said() -> None:
    told, again, other = (
        check_document(each) for each in (small_check(), small_check(), small_check(ridge_cm=3.0))
    )
    assert told["check_id"] == again["check_id"] != other["check_id"]
    assert told["plan_id"] == planned().plan_id


def test_ground_not_cleared_is_told_with_its_zones() -> None:
    check = small_check()
    held = dataclasses.replace(
        check, zones=check.zones.assign(cleared=["NOT CLEARED", "located", "lifted out"])
    )
    document = check_document(held)
    assert document["not_cleared"].startswith("NOT CLEARED: 1 of 3 zones")
    assert [zone["cleared"] for zone in document["zones"]] == held.zones["cleared"].tolist()
    assert document["zones"][0]["cap_cm"] == 45.0
    assert json.loads(geojson_text(held))["not_cleared"] == document["not_cleared"]
    assert check_document(check)["not_cleared"] == ""


def test_nothing_dug_or_left_out_is_lost() -> None:
    document = check_document(small_check())
    assert [pit["pit"] for pit in document["pits"]] == sorted(pits()["pit"])
    assert document["left_out"][0]["what"] == "pit <X>"
    assert document["trials"]["slowest_even_km_h"] == 10.0


def test_the_geojson_opens_in_gdal_and_is_valid(tmp_path: Path) -> None:
    path = tmp_path / "check.geojson"
    path.write_text(geojson_text(small_check()), encoding="utf-8")
    frame = gpd.read_file(path)
    assert frame["kind"].value_counts()[["zone", "pit", "probe"]].tolist() == [3, 5, 1]
    zones = frame[frame["kind"] == "zone"].to_crs("EPSG:32631")
    assert zones.area.sum() == pytest.approx(planned().zones.area.sum(), rel=1e-5)
    problems = geojson_validator.validate_geometries(json.loads(path.read_text()))
    assert problems["invalid"] == {}
