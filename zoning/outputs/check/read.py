"""A plan folder read back for the check: zones, what was known of the pan, its inputs."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import rasterio
from numpy.typing import NDArray
from shapely.geometry import shape

from zoning.errors import Fault, InputRefused
from zoning.grid import Grid
from zoning.model.check import PlannedGround
from zoning.outputs.fingerprint import combined
from zoning.outputs.places import working_areas
from zoning.outputs.plain import read_json
from zoning.outputs.plan_file import sealed

_BANDS = ("pan_base_cm", "pan_base_sd_cm", "pan_probability")
_ZONE = ("zone", "depth_cm", "area_ha", "parts", "pan_base_cm", "assurance", "cautions")
_STORE = "plan.gpkg"
_AGAIN = "Make the plan again with 'zoning plan', or name its folder with --plan."


def read_planned(folder: Path) -> PlannedGround:
    """Read what a check needs of the plan in `folder`.

    Raises
    ------
    InputRefused
        If there is no plan, a file of it is missing, damaged or changed since it was written, or
        its fingerprint does not belong to it.
    """
    document = _document(folder)
    for name in ("depth_zones.geojson", "pan_surface.tif"):
        _check_hash(folder, name, document)
    try:
        return _planned(folder, document)
    except (KeyError, TypeError, ValueError, rasterio.errors.RasterioError) as fault:
        why = " ".join(str(fault).split())
        raise InputRefused([Fault(str(folder), f"The plan cannot be read: {why}.", _AGAIN)]) from (
            fault
        )


def _document(folder: Path) -> Any:
    path = folder / "plan.json"
    if not path.is_file():
        what = "There is no plan here, and pits dug after the work are judged against a plan."
        raise InputRefused([Fault(str(folder), what, _AGAIN)])
    try:
        document = read_json(path)
        good = document["plan_id"] == combined(document["digests"]) and document == sealed(document)
    except (OSError, ValueError, KeyError, TypeError):
        good = False
    if not good:
        raise InputRefused([Fault(str(path), "The file is damaged or was changed.", _AGAIN)])
    return document


def _check_hash(folder: Path, name: str, document: Any) -> None:
    path = folder / name
    if not path.is_file():
        raise InputRefused([Fault(str(path), "The file is missing from the plan.", _AGAIN)])
    if _sha256(path) != _told(document).get(name):
        what = "The file is not as the plan wrote it."
        raise InputRefused([Fault(str(path), what, _AGAIN)])


def _told(document: Any) -> dict[str, str]:
    return {entry["name"]: entry["sha256"] for entry in document["outputs"]}


def _sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _planned(folder: Path, document: Any) -> PlannedGround:
    crs = str(document["working_crs"]["crs"])
    grid, bands = _bands(folder / "pan_surface.tif")
    zones = _zones(folder / "depth_zones.geojson", crs)
    return PlannedGround(
        plan_id=str(document["plan_id"]),
        digests=dict(document["digests"]),
        inputs={f"{e['role']}: {e['name']}": str(e["sha256"]) for e in document["inputs"]},
        zones=zones.assign(area_ha=_areas_ha(folder, document, zones)),
        working_crs=crs,
        grid=grid,
        bands=bands,
        clearance_cm=float(document["settings"]["depth"]["clearance_cm"]),
        ridge_allowance_cm=float(document["totals"].get("ridge_allowance_cm") or 0.0),
    )


def _zones(path: Path, crs: str) -> gpd.GeoDataFrame:
    features = read_json(path)["features"]
    areas = working_areas([shape(feature["geometry"]) for feature in features], crs)
    rows = [
        {name: feature["properties"].get(name) for name in _ZONE} | {"geometry": area}
        for feature, area in zip(features, areas, strict=True)
    ]
    frame = pd.DataFrame(rows).sort_values("zone", kind="stable").reset_index(drop=True)
    numbers = ["depth_cm", "area_ha", "pan_base_cm", "assurance"]
    frame[numbers] = frame[numbers].astype(float)
    return gpd.GeoDataFrame(frame, geometry="geometry", crs=crs)


def _areas_ha(folder: Path, document: Any, zones: gpd.GeoDataFrame) -> pd.Series:
    """Return the area of each zone unrounded, as the sheet had it, where ``plan.gpkg`` tells it.

    Without that file, or with one that was opened and changed since, the rounded area stands.
    """
    store = folder / _STORE
    if not store.is_file() or _sha256(store) != _told(document).get(_STORE):
        return zones["area_ha"]
    kept = pyogrio.read_dataframe(
        store, layer="zones", columns=["zone", "area_ha"], read_geometry=False
    )
    return zones["zone"].map(kept.set_index("zone")["area_ha"]).astype(float)


def _bands(path: Path) -> tuple[Grid, dict[str, NDArray[np.float64]]]:
    with rasterio.open(path, driver="GTiff") as dataset:
        at = {name: number for number, name in enumerate(dataset.descriptions, 1)}
        bands = {
            name: np.asarray(dataset.read(at[name], masked=True).filled(np.nan), dtype=np.float64)
            for name in _BANDS
        }
        place = dataset.transform
        grid = Grid(place.c, place.f, place.a, dataset.height, dataset.width)
    return grid, bands
