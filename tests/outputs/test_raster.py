"""``pan_surface.tif`` as a cloud-optimised GeoTIFF, by `rio_cogeo` and rasterio."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest
import rasterio
from rio_cogeo import cog_validate

from zoning.errors import OutputFailed
from zoning.grid import Grid
from zoning.model import Plan
from zoning.outputs.raster import check_crs, check_raster, write_raster

# Names and order of the file contract, docs/reference/files.rst.
BANDS = ("pan_base_cm", "pan_base_sd_cm", "pan_probability", "working_depth_cm", "stations_near")


def test_it_is_a_valid_cog(written: Path) -> None:
    valid, errors, warnings = cog_validate(str(written / "pan_surface.tif"), strict=True)
    assert (valid, errors, warnings) == (True, [], [])


def test_names_units_nodata_place_and_plan(written: Path, plan: Plan) -> None:
    with rasterio.open(written / "pan_surface.tif") as dataset:
        assert dataset.descriptions == BANDS
        assert dataset.units == ("cm", "cm", "1", "cm", "1")
        assert dataset.nodatavals == (-9999.0,) * 5
        assert dataset.crs.to_epsg() == 32630
        assert dataset.bounds.left == plan.grid.west_m
        assert dataset.bounds.top == plan.grid.north_m
        assert dataset.res == (2.0, 2.0)
        assert dataset.tags()["plan_id"] == plan.plan_id
        assert dataset.compression.value == "DEFLATE"


def test_lifted_is_nought_and_outside_is_nodata(written: Path, plan: Plan) -> None:
    with rasterio.open(written / "pan_surface.tif") as dataset:
        depth = dataset.read(4)
        masked = dataset.read(4, masked=True)
        x, y = plan.zones.geometry[2].representative_point().coords[0]
        assert next(dataset.sample([(x, y)]))[3] == 0.0
    assert set(np.unique(depth)) == {-9999.0, 0.0, 32.5, 37.5}
    assert (masked.mask == ~plan.inside).all()
    assert (~plan.inside).any()


def test_every_value_is_that_of_the_plan(written: Path, plan: Plan) -> None:
    with rasterio.open(written / "pan_surface.tif") as dataset:
        for number, name in enumerate(BANDS, 1):
            found = dataset.read(number)[plan.inside]
            np.testing.assert_allclose(found, plan.rasters[name][plan.inside], rtol=1e-7)


def test_overviews_show_no_depth_that_is_not_in_the_plan(plan: Plan, tmp_path: Path) -> None:
    grid = Grid(plan.grid.west_m, plan.grid.north_m, 0.25, 800, 900)
    depth = np.where(np.indices(grid.shape).sum(axis=0) % 3, 35.0, 0.0)
    rasters = dict.fromkeys(BANDS, depth)
    fine = dataclasses.replace(
        plan, grid=grid, rasters=rasters, inside=np.ones(grid.shape, dtype=bool)
    )
    write_raster(fine, tmp_path / "pan_surface.tif")
    check_raster(fine, tmp_path / "pan_surface.tif")
    assert cog_validate(str(tmp_path / "pan_surface.tif"), strict=True)[0]
    with rasterio.open(tmp_path / "pan_surface.tif") as dataset:
        assert dataset.overviews(4) == [2, 4]
        small = dataset.read(4, out_shape=(200, 225))
    assert set(np.unique(small)) == {0.0, 35.0}


@pytest.mark.parametrize("change", ["value", "tag", "name", "unit"])
def test_a_changed_file_is_noticed(written: Path, plan: Plan, tmp_path: Path, change: str) -> None:
    path = tmp_path / "pan_surface.tif"
    with rasterio.open(written / "pan_surface.tif") as source:
        profile = source.profile | {"driver": "GTiff"}
        bands, tags = source.read(), source.tags()
        names, units = list(source.descriptions), list(source.units)
    if change == "value":
        bands[3][plan.inside] = np.roll(bands[3][plan.inside], 1)
    names[0] = "base" if change == "name" else names[0]
    units[0] = "mm" if change == "unit" else units[0]
    tags["plan_id"] = "0" * 64 if change == "tag" else tags["plan_id"]
    with rasterio.open(path, "w", **profile) as target:
        target.write(bands)
        target.descriptions, target.units = names, units
        target.update_tags(**tags)
    with pytest.raises(OutputFailed, match="did not read back"):
        check_raster(plan, path)


def test_a_missing_band_is_named(plan: Plan, tmp_path: Path) -> None:
    rasters = {name: band for name, band in plan.rasters.items() if name != "stations_near"}
    with pytest.raises(OutputFailed, match="stations_near"):
        write_raster(dataclasses.replace(plan, rasters=rasters), tmp_path / "p.tif")


@pytest.mark.parametrize("crs", ["EPSG:32631", "", "EPSG:27700"])
def test_another_coordinate_system_is_noticed(plan: Plan, crs: str) -> None:
    check_crs(plan, "EPSG:32630", "file")
    with pytest.raises(OutputFailed, match="EPSG:32630"):
        check_crs(plan, crs, "file")
