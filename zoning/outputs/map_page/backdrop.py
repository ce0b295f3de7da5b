"""The user's own picture under the map, laid out in the web map projection."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import rasterio
from numpy.typing import NDArray
from rasterio.io import MemoryFile
from rasterio.warp import Resampling, reproject

from zoning.contracts import constant
from zoning.model import Plan
from zoning.model.pictures import Backdrop
from zoning.outputs.map_page.places import RULES, Places
from zoning.outputs.map_page.rasters import DOTS, RADIUS_M, Sheet, data_address

_PAPER = 240
_SPARE = 0.08


def backdrop_record(plan: Plan, places: Places) -> dict[str, Any] | None:
    """Return the user's picture about the field with its bounds; ``None`` where none was given."""
    backdrop: Backdrop | None = getattr(plan, "backdrop", None)
    if backdrop is None:
        return None
    sheet = _sheet(plan, places)
    picture = _laid(backdrop, sheet, places.lon)
    return {
        "name": backdrop.name,
        "bounds": sheet.bounds(places.lon),
        "picture": data_address("image/jpeg", _jpeg(picture)),
    }


def _sheet(plan: Plan, places: Places) -> Sheet:
    """Return the sheet over the field and a margin about it."""
    west, south, east, north = plan.boundary.bounds
    spare = _SPARE * max(east - west, north - south)
    x, y = np.meshgrid(
        np.linspace(west - spare, east + spare, 9), np.linspace(south - spare, north + spare, 9)
    )
    corners = places.lonlat(np.column_stack([x.ravel(), y.ravel()]))
    return Sheet.over(corners, places.lon, 0.0, int(constant(RULES, "backdrop_most_px")))


def _laid(backdrop: Backdrop, sheet: Sheet, lon0: float) -> NDArray[np.uint8]:
    """Return red, green and blue of the picture on `sheet`, paper where it shows nothing."""
    west_m = sheet.west_m + RADIUS_M * math.radians(lon0)
    place = {
        "src_transform": rasterio.Affine(*backdrop.affine),
        "src_crs": backdrop.crs,
        "dst_transform": rasterio.Affine(
            sheet.dot_m, 0.0, west_m, 0.0, -sheet.dot_m, sheet.north_m
        ),
        "dst_crs": "EPSG:3857",
        "num_threads": 1,
    }
    size = (sheet.rows, sheet.columns)
    shown = np.zeros(size, dtype=np.uint8)
    reproject(backdrop.shown.astype(np.uint8), shown, resampling=Resampling.nearest, **place)
    laid = np.zeros((3, *size), dtype=np.uint8)
    for band in range(3):
        source = np.ascontiguousarray(backdrop.rgb[:, :, band])
        reproject(source, laid[band], resampling=Resampling.bilinear, **place)
    return np.where(shown > 0, laid, _PAPER).astype(np.uint8)


def _jpeg(picture: NDArray[np.uint8]) -> bytes:
    _, height, width = picture.shape
    quality = int(constant(RULES, "backdrop_quality"))
    with MemoryFile() as memory:
        with memory.open(
            driver="JPEG", height=height, width=width, count=3, dtype="uint8",
            transform=DOTS, photometric="YCBCR", QUALITY=quality,
        ) as file:  # fmt: skip
            file.write(picture)
        return bytes(memory.read())
