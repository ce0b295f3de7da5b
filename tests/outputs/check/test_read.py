"""A plan folder read back: what the raster and the zones hold, and what is refused."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import rasterio
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from zoning.errors import InputRefused
from zoning.model import Plan
from zoning.outputs import write_plan
from zoning.outputs.check.read import _areas_ha, read_planned
from zoning.outputs.geopackage import write_geopackage
from zoning.outputs.sheet.tables import zone_row


@pytest.fixture
def folder(plan: Plan, tmp_path: Path) -> Path:
    write_plan(plan, tmp_path / "plan")
    return tmp_path / "plan"


def test_zones_and_bands_are_those_of_the_files(plan: Plan, folder: Path) -> None:
    found = read_planned(folder)
    zones = gpd.read_file(folder / "depth_zones.geojson").to_crs(plan.working_crs)
    assert found.zones["depth_cm"].tolist() == zones.sort_values("zone")["depth_cm"].tolist()
    own, theirs = (list(frame.sort_values("zone").geometry) for frame in (found.zones, zones))
    assert shapely.area(shapely.symmetric_difference(own, theirs)).max() < 0.01
    with rasterio.open(folder / "pan_surface.tif") as dataset:
        band = dataset.read(dataset.descriptions.index("pan_base_cm") + 1, masked=True)
        x, y = dataset.xy(*np.argwhere(~band.mask)[0])
    inside = ~band.mask
    assert np.array_equal(np.isfinite(found.bands["pan_base_cm"]), inside)
    assert np.allclose(found.bands["pan_base_cm"][inside], band.data[inside])
    first = int(np.flatnonzero(inside.ravel())[0])
    assert np.allclose(found.grid.centres_m()[first], (x, y))


def test_identity_and_clearance_are_the_plans(plan: Plan, folder: Path) -> None:
    found = read_planned(folder)
    assert found.plan_id == plan.plan_id
    assert found.working_crs == plan.working_crs
    assert found.clearance_cm == plan.settings.depth.clearance_cm
    assert found.ridge_allowance_cm == 0.0


@settings(max_examples=20, deadline=None)
@given(
    area_ha=st.lists(
        st.one_of(
            st.floats(0.01, 60.0),
            st.tuples(st.integers(1, 4000), st.floats(-6e-5, 6e-5)).map(
                lambda at: at[0] / 100 + 0.005 + at[1]
            ),
        ),
        min_size=3,
        max_size=3,
    )
)
def test_an_area_reads_as_on_the_sheet(
    plan: Plan, tmp_path_factory: pytest.TempPathFactory, area_ha: list[float]
) -> None:
    """1.14498 ha is written as 1.1450 and is 1.14 on the sheet: not 1.15 on the page of a check."""
    folder = tmp_path_factory.mktemp("areas")
    changed = replace(plan, zones=plan.zones.assign(area_ha=area_ha))
    write_geopackage(changed, folder / "plan.gpkg")
    sha256 = hashlib.sha256((folder / "plan.gpkg").read_bytes()).hexdigest()
    document = {"outputs": [{"name": "plan.gpkg", "sha256": sha256}]}
    filed = changed.zones.assign(area_ha=np.round(area_ha, 4))
    told = [f"{area:.2f}" for area in _areas_ha(folder, document, filed)]
    assert told == [zone_row(zone, {})["area_ha"] for zone in changed.zones.to_dict("records")]
    document["outputs"][0]["sha256"] = "0" * 64
    assert _areas_ha(folder, document, filed).tolist() == filed["area_ha"].tolist()
    assert _areas_ha(folder / "none", document, filed).tolist() == filed["area_ha"].tolist()


def test_no_plan_is_refused_with_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(InputRefused, match=r"no plan here.*zoning plan"):
        read_planned(tmp_path)


@pytest.mark.parametrize("name", ["depth_zones.geojson", "pan_surface.tif"])
def test_a_changed_or_missing_file_is_refused_by_name(folder: Path, name: str) -> None:
    path = folder / name
    path.write_bytes(path.read_bytes() + b" ")
    with pytest.raises(InputRefused, match=f"{name}: The file is not as the plan wrote it"):
        read_planned(folder)
    path.unlink()
    with pytest.raises(InputRefused, match=f"{name}: The file is missing"):
        read_planned(folder)


@pytest.mark.parametrize("spoil", ["not json", "{}", "[]"])
def test_a_damaged_plan_file_is_refused(folder: Path, spoil: str) -> None:
    (folder / "plan.json").write_text(spoil)
    with pytest.raises(InputRefused, match="damaged or was changed"):
        read_planned(folder)


def test_a_plan_file_with_another_identity_is_refused(folder: Path) -> None:
    document = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    document["plan_id"] = "0" * 64
    (folder / "plan.json").write_text(json.dumps(document))
    with pytest.raises(InputRefused, match="damaged or was changed"):
        read_planned(folder)
