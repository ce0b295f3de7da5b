"""``plan.gpkg``: every layer of a plan in the working coordinate system, styles left plain."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import shapely

from zoning.errors import OutputFailed
from zoning.model import Plan
from zoning.outputs.raster import check_crs
from zoning.outputs.rows import pass_rows, passes_in_order, zone_rows, zones_in_order

_OPTIONS = {
    # A GeoPackage holds the time it was written; a fixed one keeps the bytes the same.
    "OGR_CURRENT_DATE": "2000-01-01T00:00:00.000Z",
    # No flush after each layer: the finished file is flushed before it is published.
    "OGR_SQLITE_SYNCHRONOUS": "OFF",
}


@dataclass(frozen=True, slots=True, eq=False)
class Layer:
    """One layer: its name, its geometry type, its rows in order."""

    name: str
    geometry_type: str
    rows: gpd.GeoDataFrame


@lru_cache(maxsize=1)
def layers(plan: Plan) -> tuple[Layer, ...]:
    """Return every layer of `plan`, rows sorted, columns as a GeoPackage can hold them.

    The last are kept, so that reading the file back does not lay them out a second time.
    """
    crs = plan.working_crs
    boundary = gpd.GeoDataFrame(
        {"field": [plan.settings.field.name], "plan_id": [plan.plan_id]},
        geometry=[plan.boundary],
        crs=crs,
    )
    zones = gpd.GeoDataFrame(zone_rows(plan), geometry=list(zones_in_order(plan).geometry), crs=crs)
    runs = passes_in_order(plan)
    passes = gpd.GeoDataFrame(pass_rows(plan), geometry=list(runs.geometry), crs=crs)
    passes = passes.assign(laid=runs["laid"], plan_id=plan.plan_id)
    return (
        _layer("boundary", "MultiPolygon", boundary, (), crs),
        _layer("parts", "MultiPolygon", plan.parts, ("part", "kind"), crs),
        _layer("stations", "Point", plan.stations, ("kind", "station"), crs),
        _layer("insertions", "Point", _points(plan.insertions, crs), ("insertion_id",), crs),
        _layer("pits", "Point", plan.pits, ("pit", "date", "phase"), crs),
        _layer("hazards", "Unknown", plan.hazards, ("kind", "name", "depth_cm", "clear_m"), crs),
        _layer("passes", "Unknown", passes, ("pass", "step"), crs),
        _layer("zones", "MultiPolygon", zones, ("zone",), crs),
        _layer("uncertain", "MultiPolygon", plan.uncertain, ("reason",), crs),
    )


def write_geopackage(plan: Plan, path: Path) -> None:
    """Write every layer of `plan`; a layer without rows is written with its columns."""
    with _options():
        for layer in layers(plan):
            pyogrio.write_dataframe(
                layer.rows,
                path,
                layer=layer.name,
                driver="GPKG",
                geometry_type=layer.geometry_type,
                promote_to_multi=layer.geometry_type.startswith("Multi"),
                layer_metadata={"plan_id": plan.plan_id},
            )


def check_geopackage(plan: Plan, path: Path) -> None:
    """Read every layer at `path` back and compare rows, outlines and coordinate system.

    Raises
    ------
    OutputFailed
        If the file is damaged or a layer differs from the plan.
    """
    with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as store:
        if store.execute("PRAGMA integrity_check").fetchone() != ("ok",):
            raise OutputFailed(f"{path.name} is damaged.")
    wanted = layers(plan)
    if [str(name) for name, _ in pyogrio.list_layers(path)] != [layer.name for layer in wanted]:
        raise OutputFailed(f"{path.name} did not read back with every layer.")
    for layer in wanted:
        found = pyogrio.read_dataframe(path, layer=layer.name)
        _check_layer(layer, found, path.name)
        check_crs(plan, found.crs.to_wkt() if found.crs else "", f"{path.name}, {layer.name},")


def _check_layer(layer: Layer, found: gpd.GeoDataFrame, name: str) -> None:
    columns = [column for column in layer.rows.columns if column != layer.rows.geometry.name]
    same = list(found.columns) == [*columns, found.geometry.name] and len(found) == len(layer.rows)
    if same:
        same = bool(shapely.equals(list(found.geometry), list(layer.rows.geometry)).all())
        same &= all(_same(found[column], layer.rows[column]) for column in columns)
    if not same:
        raise OutputFailed(f"{name}: the layer {layer.name} did not read back as written.")


def _same(found: pd.Series, wanted: pd.Series) -> bool:
    if pd.api.types.is_numeric_dtype(wanted.dtype):
        numbers = (found.to_numpy(dtype=np.float64), wanted.to_numpy(dtype=np.float64))
        return np.array_equal(*numbers, equal_nan=True)
    texts = ([None if pd.isna(v) else str(v) for v in series] for series in (found, wanted))
    return next(texts) == next(texts)


def _points(frame: pd.DataFrame, crs: str) -> gpd.GeoDataFrame:
    places = gpd.points_from_xy(frame["x_m"], frame["y_m"])
    return gpd.GeoDataFrame(frame, geometry=places, crs=crs)


def _layer(
    name: str, geometry_type: str, frame: gpd.GeoDataFrame, keys: Sequence[str], crs: str
) -> Layer:
    shapes = np.asarray(frame.geometry, dtype=object)
    plain: Mapping[str, pd.Series] = {
        str(column): _column(frame[column])
        for column in frame.columns
        if column != frame.geometry.name
    }
    # The outline breaks ties, so that the order of the rows given does not matter.
    order = pd.DataFrame({key: plain[key] for key in keys}, index=frame.index)
    order = order.assign(outline=[shapely.to_wkb(shape, hex=True) for shape in shapes])
    ranked = order.reset_index(drop=True).sort_values(list(order.columns), kind="stable").index
    rows = gpd.GeoDataFrame(dict(plain), index=frame.index, geometry=list(shapes), crs=crs)
    return Layer(name, geometry_type, rows.iloc[ranked].reset_index(drop=True))


def _column(series: pd.Series) -> pd.Series:
    """Return `series` as numbers, truth values or text; lists are joined, missing stays missing."""
    if pd.api.types.is_bool_dtype(series.dtype) or pd.api.types.is_numeric_dtype(series.dtype):
        return series
    texts = [None if v is None or v is pd.NA or v != v else _text(v) for v in series]  # noqa: PLR0124
    return pd.Series(texts, index=series.index, dtype=object)


def _text(value: object) -> str:
    return ", ".join(map(str, value)) if isinstance(value, (list, tuple)) else str(value)


@contextmanager
def _options() -> Iterator[None]:
    """Set GDAL's options for writing, and put back what they were."""
    before = {name: pyogrio.get_gdal_config_option(name) for name in _OPTIONS}
    pyogrio.set_gdal_config_options(_OPTIONS)
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options(before)
