"""``pan_surface.tif``: the pan surface and the working depth as a cloud-optimised GeoTIFF."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import rasterio
from numpy.typing import NDArray

from zoning.contracts import constant
from zoning.errors import OutputFailed
from zoning.model import Plan
from zoning.outputs.places import same_system

BANDS = {
    "pan_base_cm": "cm",
    "pan_base_sd_cm": "cm",
    "pan_probability": "1",
    "working_depth_cm": "cm",
    "stations_near": "1",
}


def write_raster(plan: Plan, path: Path) -> None:
    """Write the five bands of `plan` as 32-bit floats, nodata outside the field.

    A working depth of 0 means that the legs are lifted out; nodata is -9999. Overviews take the
    nearest cell, so that they show no depth that is not in the plan.
    """
    bands = _bands(plan)
    block = int(constant("output_rules", "raster_block_cells"))
    with rasterio.open(
        path,
        "w",
        driver="COG",
        height=plan.grid.rows,
        width=plan.grid.columns,
        count=len(bands),
        dtype="float32",
        crs=plan.working_crs,
        transform=_transform(plan),
        nodata=constant("output_rules", "raster_nodata"),
        compress="DEFLATE",
        predictor="YES",
        blocksize=block,
        overview_resampling="nearest",
        num_threads=1,
    ) as dataset:
        dataset.write(bands)
        dataset.descriptions = tuple(BANDS)
        dataset.units = tuple(BANDS.values())
        dataset.update_tags(plan_id=plan.plan_id, field=plan.settings.field.name)


def check_raster(plan: Plan, path: Path) -> None:
    """Read the raster at `path` back: same arrays, names, units, place and plan.

    Raises
    ------
    OutputFailed
        If anything differs from the plan.
    """
    with rasterio.open(path, driver="GTiff") as dataset:
        same = (
            np.array_equal(dataset.read(), _bands(plan))
            and dataset.descriptions == tuple(BANDS)
            and dataset.units == tuple(BANDS.values())
            and dataset.nodata == constant("output_rules", "raster_nodata")
            and dataset.transform.almost_equals(_transform(plan))
            and dataset.tags().get("plan_id") == plan.plan_id
        )
        crs = dataset.crs.to_wkt() if dataset.crs else ""
    if not same:
        raise OutputFailed(f"{path.name} did not read back as written.")
    check_crs(plan, crs, path.name)


def check_crs(plan: Plan, crs: str, name: str) -> None:
    """Refuse a coordinate system that puts the middle of the field elsewhere than the plan does."""
    if not same_system(crs, plan.working_crs, plan.boundary):
        raise OutputFailed(f"{name} did not read back in the coordinate system {plan.working_crs}.")


def _bands(plan: Plan) -> NDArray[np.float32]:
    nodata = constant("output_rules", "raster_nodata")
    absent = [name for name in BANDS if name not in plan.rasters]
    if absent:
        raise OutputFailed(f"pan_surface.tif: the plan has no band {', '.join(absent)}.")
    stack = np.stack([np.asarray(plan.rasters[name], dtype=np.float64) for name in BANDS])
    return np.where(np.isnan(stack) | ~plan.inside, nodata, stack).astype(np.float32)


def _transform(plan: Plan) -> rasterio.Affine:
    grid = plan.grid
    return rasterio.Affine(grid.cell_m, 0.0, grid.west_m, 0.0, -grid.cell_m, grid.north_m)
