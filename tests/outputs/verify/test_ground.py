"""Place by place: grid, passes, raster and readings against the zones, each told by its file."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
from shapely.affinity import scale, translate

from zoning.outputs.columns import table_schema
from zoning.outputs.rows import with_ends
from zoning.outputs.tables import write_table
from zoning.outputs.verify import ground
from zoning.outputs.verify.files import Comparison, ReadBack
from zoning.outputs.verify.folder import read_back

Frame = gpd.GeoDataFrame


@pytest.fixture(scope="module")
def read(written: Path) -> ReadBack:
    return read_back(written)[0]


def changed(read: ReadBack, name: str, change: Callable[[Frame], Frame]) -> ReadBack:
    return dataclasses.replace(read, layers={**read.layers, name: change(read.layers[name])})


COMPARISONS = (
    ground.partition_faults,
    ground.grid_faults,
    ground.pass_faults,
    ground.raster_faults,
    ground.reading_faults,
)


@pytest.mark.parametrize("compare", COMPARISONS)
def test_a_plan_as_written_has_no_fault(read: ReadBack, compare: Comparison) -> None:
    assert list(compare(read)) == []


@pytest.mark.parametrize("compare", [ground.grid_faults, ground.raster_faults])
def test_depths_of_two_zones_exchanged_are_found(read: ReadBack, compare: Comparison) -> None:
    turned = changed(read, "zones", lambda zones: zones.assign(depth_cm=[32.5, 37.5, 0.0]))
    assert list(compare(turned))


def test_a_hole_filled_and_a_zone_twice_are_found(read: ReadBack) -> None:
    solid = changed(
        read, "zones", lambda zones: zones.set_geometry([g.convex_hull for g in zones.geometry])
    )
    assert "exactly once" in next(ground.partition_faults(solid)).what


def test_zones_beside_the_field_are_found(read: ReadBack) -> None:
    beside = changed(
        read, "zones", lambda zones: zones.set_geometry([translate(g, 1) for g in zones.geometry])
    )
    assert "other ground" in next(ground.partition_faults(beside)).what


def test_a_layer_in_another_system_is_found(read: ReadBack) -> None:
    other = changed(read, "parts", lambda parts: parts.set_crs("EPSG:32631", allow_override=True))
    assert ["parts" in each.what for each in ground.partition_faults(other)] == [True]


def test_passes_that_cross_ground_of_other_depths_are_found(read: ReadBack) -> None:
    other = changed(read, "zones", lambda zones: zones.assign(depth_cm=zones["depth_cm"] + 5))
    assert "zones they cross" in next(ground.pass_faults(other)).what


def test_a_pass_that_leads_beyond_the_field_is_no_fault(read: ReadBack, tmp_path: Path) -> None:
    beyond = changed(
        read,
        "passes",
        lambda passes: passes.set_geometry(
            [scale(g, 3, 1, origin=g.centroid) for g in passes.geometry.iloc[:1]]
            + list(passes.geometry.iloc[1:])
        ),
    )
    rows = with_ends(beyond.layers["passes"], read.working_crs)
    write_table(rows, table_schema("depth_passes"), tmp_path / "depth_passes.csv")
    assert list(ground.pass_faults(dataclasses.replace(beyond, folder=tmp_path))) == []


def test_places_are_read_to_the_last_decimal_that_is_written() -> None:
    assert ground.rule("lonlat_tolerance_deg") == 2e-8
    assert np.isclose(ground.rule("place_tolerance_m"), 0.005)
