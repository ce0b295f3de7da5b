"""Zone by zone: what a file says, against the zones of the store."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from zoning.model import Plan
from zoning.outputs.map_page.page import write_map
from zoning.outputs.verify.folder import read_back
from zoning.outputs.verify.zones import differences, page_faults, wanted_zones

GOOD = [{"zone": 1, "depth_cm": 30.0}, {"zone": 2, "depth_cm": 0.0}]


def told(found: list[dict]) -> list[str]:
    return [each.what for each in differences("a.json", found, GOOD)]


def test_the_same_rows_have_no_difference() -> None:
    assert told([dict(row) for row in GOOD]) == []


def test_each_value_that_differs_is_told_with_both() -> None:
    (said,) = told([{"zone": 1, "depth_cm": 32.5}, GOOD[1]])
    assert said == "In zone 1, depth_cm reads 32.5 where plan.gpkg has 30.0."
    assert len(told([{"zone": 1}, {"zone": 2, "depth_cm": 0.0, "more": 1}])) == 2


@pytest.mark.parametrize("found", [[], GOOD[:1], GOOD[::-1], [*GOOD, GOOD[0]]])
def test_other_zones_are_told_once(found: list[dict]) -> None:
    assert len(told(found)) == 1


def test_a_property_is_told_once_with_the_number_of_zones_and_text_is_told_from_a_number() -> None:
    wanted = [{"zone": n, "depth_cm": 30.0, "area_ha": 1.0} for n in (1, 2, 3)]
    found = [{"zone": n, "depth_cm": "30.0"} for n in (1, 2, 3)]
    missing, text = differences("z.geojson", found, wanted)
    assert missing.what == "Members of every zone are missing: area_ha."
    assert text.what == (
        'In zone 1, depth_cm reads "30.0" where plan.gpkg has 30.0, and 2 more zones differ.'
    )


def test_wanted_are_the_zones_with_the_decimals_of_the_schema(written: Path) -> None:
    rows = wanted_zones(read_back(written)[0])
    assert [row["depth_cm"] for row in rows] == [37.5, 32.5, 0.0]
    assert rows[0]["assurance"] == 0.812
    assert rows[2]["pan_base_cm"] is None


@given(st.lists(st.floats(1e-4, 90.0), min_size=3, max_size=3))
@settings(max_examples=20, deadline=None, suppress_health_check=list(HealthCheck))
def test_a_page_just_written_agrees_however_its_hectares_round(
    plan: Plan, written: Path, tmp_path: Path, areas_ha: list[float]
) -> None:
    read = read_back(written)[0]
    write_map(replace(plan, zones=plan.zones.assign(area_ha=areas_ha)), tmp_path / "map.html")
    by_zone = dict(zip(plan.zones["zone"], areas_ha, strict=True))
    zones = read.zones.assign(area_ha=read.zones["zone"].map(by_zone))
    assert (
        list(page_faults(replace(read, folder=tmp_path, layers={**read.layers, "zones": zones})))
        == []
    )
