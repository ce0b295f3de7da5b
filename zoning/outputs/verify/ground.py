"""Place by place: partition, depth grid, passes and raster against the zones of ``plan.gpkg``."""

from __future__ import annotations

import math
from collections.abc import Iterator

import geopandas as gpd
import numpy as np
import pandas as pd
import rasterio
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant
from zoning.errors import Fault
from zoning.outputs.columns import table_schema
from zoning.outputs.left_out import COLUMNS as LEFT_OUT
from zoning.outputs.places import LONLAT, decimals, same_system, transformed
from zoning.outputs.raster import BANDS
from zoning.outputs.reading_rows import rows_of_readings
from zoning.outputs.rows import depth_grid, with_ends
from zoning.outputs.verify.caps import hazards_passed, passed_faults
from zoning.outputs.verify.files import AS_PLANNED, STORE, ReadBack, fault
from zoning.outputs.verify.table import (
    and_more,
    cell_differences,
    layout_faults,
    numbers_of,
    read_table,
)

GRID = "depth_grid.csv"
PASSES = "depth_passes.csv"
READINGS = "readings_used.csv"
RASTER = "pan_surface.tif"
_SAME_DEPTH_CM = 0.005
_STEP_M = 1.0
_ENDS = ("start_lon", "start_lat", "end_lon", "end_lat")

Floats = NDArray[np.float64]


def rule(name: str) -> float:
    """Return a limit of ``shared/tables/verify_rules.csv``."""
    return constant("verify_rules", name)


def partition_faults(read: ReadBack) -> Iterator[Fault]:
    """Say whether zones and parts of ``plan.gpkg`` cover the field exactly once.

    The outlines of parts are noded on a fine grid, which on a field of a tenth of a hectare is more
    than the share allowed.
    """
    field = read.boundary
    node_m = 2.0 ** constant("part_rules", "node_grid_exponent")
    for name in ("zones", "parts"):
        shapes = read.layers[name].geometry.to_numpy()
        slack = max(rule("area_relative") * field.area, node_m * field.length)
        if not shapely.is_valid(shapes).all():
            yield fault(STORE, f"A shape of the layer {name} crosses itself.")
        elif abs(shapely.area(shapes).sum() - field.area) > slack:
            yield fault(STORE, f"The layer {name} does not cover the field exactly once.")
        elif shapely.union_all(shapes).symmetric_difference(field).area > 1e3 * slack:
            yield fault(STORE, f"The layer {name} covers other ground than the field.")
    for name, layer in read.layers.items():
        if not same_system(layer.crs.to_wkt() if layer.crs else "", read.working_crs, field):
            yield fault(STORE, f"The layer {name} is not in {read.working_crs}.")


def grid_faults(read: ReadBack) -> Iterator[Fault]:
    """Compare ``depth_grid.csv`` with the grid computed again from the zones, in any row order."""
    wanted = depth_grid(read.zones, read.width_m, read.working_crs)
    schema = table_schema("depth_grid")
    table = read_table(read.folder / GRID, schema)
    told = list(layout_faults(GRID, table, schema, set(wanted.columns), len(wanted)))
    ragged = any(len(line) != len(table.header) for line in table.lines)
    found = np.empty((0, 3))
    if set(wanted.columns) <= set(table.header) and not ragged:
        found = numbers_of(table, list(wanted.columns)).to_numpy(dtype=np.float64)
    if _is_elsewhere(found, read):
        what = (
            "None of its places lies in this field: it is of another field, or lon and lat changed."
        )
        yield fault(GRID, what)
        return
    yield from told
    if not told:
        yield from _place_faults(found, wanted.to_numpy(dtype=np.float64), read, table.manner)


def _place_faults(
    found: Floats, wanted: Floats, read: ReadBack, manner: tuple[str, ...]
) -> Iterator[Fault]:
    """Compare places and their depths, rows ``(n, 3)``; each place with the nearest of the file."""
    blank = np.flatnonzero(np.isnan(found[:, 2]) & np.isfinite(found[:, :2]).all(axis=1))
    _, at = cKDTree(wanted[:, :2]).query(found[blank, :2])
    if len(blank) and not wanted[at, 2].any():
        what = f"The row holds no depth{and_more(len(blank), 'row')}"
        yield fault(GRID, f"{what}: legs lifted out, where 0 belongs.", int(blank[0]) + 2)
        found = found.copy()
        found[blank, 2] = 0.0
    whole = np.isfinite(found).all(axis=1)
    if not whole.all():
        broken = np.flatnonzero(~whole)
        what = f"The row does not hold three numbers{and_more(len(broken), 'row')}."
        yield fault(GRID, what, int(broken[0]) + 2)
        return
    apart, nearest = cKDTree(found[:, :2]).query(wanted[:, :2])
    row = np.asarray(nearest, dtype=np.int64)
    near = found[row]
    other_depth = np.abs(near[:, 2] - wanted[:, 2]) > _SAME_DEPTH_CM
    off = other_depth | (apart > math.sqrt(2) * rule("lonlat_tolerance_deg"))
    if off.any() and not other_depth.any() and len(np.unique(row)) == len(wanted):
        away_m = np.hypot(*(_metres(near, read) - _metres(wanted, read)).T).max()
        what = f"{off.sum()} of {len(wanted)} places lie up to {away_m:.3f} m off"
        yield fault(GRID, f"Every depth is as planned, but {what}.")
        return
    if not off.any() and (np.diff(row) < 0).any():
        yield fault(GRID, f"{AS_PLANNED} ({', '.join([*manner, 'rows in another order'])}).")
    yield from _deepest_first(near[off], wanted[off], row[off], len(wanted), read)


def _deepest_first(
    near: Floats, wanted: Floats, row: NDArray[np.int64], places: int, read: ReadBack
) -> Iterator[Fault]:
    """Tell places that differ: deeper than a hazard allows, deeper than planned, then the rest."""
    if not len(near):
        return
    points = np.asarray(shapely.points(_metres(near, read)), dtype=object)
    passed = hazards_passed(points, near[:, 2], wanted[:, 2], read)
    deeper = near[:, 2] > wanted[:, 2] + _SAME_DEPTH_CM
    yield from passed_faults(GRID, passed, "place")
    if len(near) > 1:
        what = f"{len(near)} of {places} places have another depth or place"
        more = f", {int(deeper.sum())} of them deeper than planned; deeper ones first"
        yield fault(GRID, f"{what}{more if deeper.any() else ''}.")
    order = sorted(range(len(near)), key=lambda i: (not passed[i], not deeper[i], i))
    first: dict[int, int] = {}
    for each in order:
        first.setdefault(int(row[each]), each)
    for each in first.values():
        what = f"The row reads {_triple(near[each])} where {_triple(wanted[each])} belongs"
        over = f", deeper than {passed[each]} allows" if passed[each] else ""
        yield fault(GRID, f"{what}{over}.", int(row[each]) + 2)


def _is_elsewhere(found: Floats, read: ReadBack) -> bool:
    """Return whether a grid has places, and none of them in the field."""
    places = found[np.isfinite(found).all(axis=1)]
    if not len(places):
        return False
    inside = shapely.intersects_xy(read.boundary, *_metres(places, read).T)
    return not np.asarray(inside).any()


def _metres(lonlat: Floats, read: ReadBack) -> Floats:
    return transformed(lonlat[:, :2], LONLAT, read.working_crs)


def lonlat_words(xy_m: Floats, read: ReadBack) -> str:
    """Return a place in the working CRS [m], of shape (2,), as longitude and latitude in words."""
    (lon, lat), places = transformed(xy_m[None, :], read.working_crs, LONLAT)[0], decimals()
    return f"lon {lon:.{places}f}, lat {lat:.{places}f}"


def _triple(values: Floats) -> str:
    places = decimals()
    return f"{values[0]:.{places}f}, {values[1]:.{places}f}, {values[2]:g}"


def pass_faults(read: ReadBack) -> Iterator[Fault]:
    """Compare ``depth_passes.csv`` with the layer of passes, and that with the zones under it.

    A run that begins or ends elsewhere than planned is other ground: the plan does not say how deep
    its hazards allow it.
    """
    passes = read.layers["passes"].sort_values(["pass", "step"], kind="stable")
    schema = table_schema("depth_passes")
    table = read_table(read.folder / PASSES, schema)
    wanted = with_ends(passes, read.working_crs)
    told = list(cell_differences(PASSES, table, wanted, schema))
    runs = numbers_of(table, ["pass", "step", "depth_cm", *_ENDS])
    both = passes.merge(
        wanted[["pass", "step", *_ENDS]].merge(runs, on=["pass", "step"], suffixes=("_own", "")),
        on=["pass", "step"], suffixes=("_planned", ""),
    )  # fmt: skip
    same = _ends_apart_m(both, read) < rule("run_end_m")
    deep, planned = (
        both.loc[same, name].to_numpy(np.float64) for name in ("depth_cm", "depth_cm_planned")
    )
    passed = hazards_passed(both.geometry.to_numpy()[same], deep, planned, read)
    yield from passed_faults(PASSES, passed, "run")
    if not same.all():
        off = int((~same).sum())
        what = f"{off} of {len(same)} runs begin{'s' if off == 1 else ''} or end"
        what = f"{what}{'s' if off == 1 else ''} elsewhere than in this plan"
        yield fault(PASSES, f"{what}, as in a file of another: not held against its hazards.")
    yield from told
    if not told and _agreeing_share(passes, read.zones) < rule("pass_share_least"):
        yield fault(STORE, "The depths of the passes are not those of the zones they cross.")


def _ends_apart_m(runs: pd.DataFrame, read: ReadBack) -> Floats:
    """Return how far runs begin or end off their own, ``_own``; 0 where the file does not say."""
    apart = np.zeros(len(runs))
    for lon, lat in (_ENDS[:2], _ENDS[2:]):
        own, found = (
            _metres(runs[[f"{lon}{of}", f"{lat}{of}"]].to_numpy(np.float64), read)
            for of in ("_own", "")
        )
        apart = np.fmax(apart, np.hypot(*(found - own).T))
    return apart


def _agreeing_share(passes: gpd.GeoDataFrame, zones: gpd.GeoDataFrame) -> float:
    """Return the share of the length of all passes in the field on ground of their own depth.

    A pass leads beyond the field where its end is slanted; that length does not count.
    """
    lines = passes.geometry.to_numpy()
    count = np.maximum(1, np.nan_to_num(shapely.length(lines)) // _STEP_M).astype(np.int64)
    run = np.repeat(np.arange(len(lines)), count)
    within = np.arange(len(run)) - np.repeat(np.cumsum(count) - count, count)
    share = (within + 0.5) / count[run]
    places = shapely.line_interpolate_point(lines[run], share, normalized=True)
    planned = passes["depth_cm"].to_numpy(dtype=np.float64)[run]
    place, _ = shapely.STRtree(zones.geometry.to_numpy()).query(places, predicate="intersects")
    within_field = np.unique(place)
    agrees = depth_agrees(places, planned, zones, distance_m=0.0)[within_field]
    return float(agrees.mean()) if len(agrees) else 1.0


def depth_agrees(
    places: NDArray[np.object_], depth_cm: Floats, zones: gpd.GeoDataFrame, *, distance_m: float
) -> NDArray[np.bool_]:
    """Return whether a zone within `distance_m` of each place has the depth of the place."""
    tree = shapely.STRtree(zones.geometry.to_numpy())
    place, zone = tree.query(places, predicate="dwithin", distance=distance_m)
    held = zones["depth_cm"].to_numpy(dtype=np.float64)[zone]
    agrees = np.zeros(len(places), dtype=bool)
    np.logical_or.at(agrees, place, np.abs(held - depth_cm[place]) <= _SAME_DEPTH_CM)
    return agrees


def reading_faults(read: ReadBack) -> Iterator[Fault]:
    """Compare ``readings_used.csv`` with the layers of stations, insertions and pits."""
    layers = read.layers
    left = pd.DataFrame(read.document["left_out"], columns=LEFT_OUT)
    left = left.astype({"row": "Int64"})
    wanted = rows_of_readings(layers["stations"], layers["insertions"], layers["pits"], left)
    schema = table_schema("readings_used")
    table = read_table(read.folder / READINGS, schema)
    yield from cell_differences(READINGS, table, wanted, schema)


def raster_faults(read: ReadBack) -> Iterator[Fault]:
    """Compare ``pan_surface.tif``: its bands, its place, its cells, its depths with the zones."""
    with rasterio.open(read.folder / RASTER, driver="GTiff") as dataset:
        names, nodata, place = dataset.descriptions, dataset.nodata, dataset.transform
        crs = dataset.crs.to_wkt() if dataset.crs else ""
        bands = dataset.read().astype(np.float64)
    field = read.boundary
    if names != tuple(BANDS) or nodata != constant("output_rules", "raster_nodata"):
        yield fault(RASTER, "The bands or the value for no data are not those of a plan.")
    elif not same_system(crs, read.working_crs, field):
        yield fault(RASTER, f"The raster is not in {read.working_crs}.")
    elif place.b or place.d or place.a != -place.e:
        yield fault(RASTER, "The cells are not square and north up.")
    else:
        yield from _cell_faults(read, field, np.where(bands == nodata, np.nan, bands), place)


def _cell_faults(
    read: ReadBack, field: BaseGeometry, bands: Floats, place: rasterio.Affine
) -> Iterator[Fault]:
    rows, columns = bands.shape[1:]
    x = place.c + (np.arange(columns) + 0.5) * place.a
    y = place.f + (np.arange(rows) + 0.5) * place.e
    xy = np.column_stack([np.tile(x, rows), np.repeat(y, columns)])
    centres = np.asarray(shapely.points(xy), dtype=object)
    flat = bands.reshape(len(BANDS), -1)
    by_name = dict(zip(BANDS, flat, strict=True))
    held = np.isfinite(flat).any(axis=0)
    shapely.prepare(field)
    astray = centres[held != shapely.intersects(field, centres)]
    near = rule("place_tolerance_m")
    if not held.any() or (shapely.distance(astray, field.boundary) > near).any():
        yield fault(RASTER, "The cells with values are not those of the field.")
    if not np.isfinite(flat[:, held]).all():
        yield fault(RASTER, "A band has cells without a value inside the field.")
        return
    depth = by_name["working_depth_cm"][held]
    wrong = ~depth_agrees(centres[held], depth, read.zones, distance_m=near)
    if wrong.any():
        own = shapely.STRtree(read.zones.geometry.to_numpy()).nearest(centres[held][wrong])
        planned = read.zones["depth_cm"].to_numpy(dtype=np.float64)[own]
        passed = hazards_passed(centres[held][wrong], depth[wrong], planned, read)
        yield from passed_faults(RASTER, passed, "cell")
        first = int(np.flatnonzero(wrong)[0])
        count = int(wrong.sum())
        some = "A cell carries" if count == 1 else f"{count} cells carry"
        what = f"{some} another depth than the zone there; {'' if count == 1 else 'first '}at"
        place = lonlat_words(xy[held][first], read)
        yield fault(RASTER, f"{what} {place}, it reads {depth[first]:g} cm.")
    chance, spread = by_name["pan_probability"][held], by_name["pan_base_sd_cm"][held]
    base, near_by = by_name["pan_base_cm"][held], by_name["stations_near"][held]
    if chance.min() < 0 or chance.max() > 1 or min(spread.min(), base.min(), near_by.min()) < 0:
        yield fault(
            RASTER, "A band holds values that cannot be: a chance above 1, a depth below 0."
        )
