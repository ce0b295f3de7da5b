"""A plan of 500 stations and 40 zones, invented: the size that the map page must carry."""

from __future__ import annotations

import dataclasses
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pyproj
import shapely
from shapely import LineString, MultiPolygon, box

from zoning.grid import Grid
from zoning.model import Plan
from zoning.outputs import plan_id

STATIONS, ZONES, READINGS = 500, 40, 30
WIDE, HIGH = 1000.0, 800.0


def large_plan(plan: Plan) -> Plan:
    """Return `plan` with its frames replaced by larger ones about the same corner."""
    west, south, _, _ = plan.boundary.bounds
    rng = np.random.default_rng(7)
    zones = _zones(plan, west, south)
    boundary = MultiPolygon([box(west, south, west + WIDE, south + HIGH)])
    stations = _stations(plan, west, south, rng)
    insertions, cone = _insertions(stations, rng)
    grid = Grid.covering(boundary.bounds, 2.0)
    facts: dict[str, Any] = {
        "boundary": boundary, "zones": zones, "cone": cone,
        "parts": zones.iloc[:1][["geometry"]].assign(
            part=["body"], kind=["body"], area_ha=[boundary.area / 1e4], geometry=[boundary]
        ),
    }  # fmt: skip
    made_from = {
        name: facts.get(name, getattr(plan, name))
        for name in ("boundary", "working_crs", "cone", "pits", "settings", "hazards", "zones")
    }
    return dataclasses.replace(
        plan, **facts, stations=stations, insertions=insertions, grid=grid,
        passes=_passes(plan, west, south), inside=np.ones(grid.shape, dtype=bool),
        rasters=_rasters(grid, rng), plan_id=plan_id(**made_from),
    )  # fmt: skip


def _zones(plan: Plan, west: float, south: float) -> gpd.GeoDataFrame:
    """Stepped strips, as zones of pieces are, sharing their edges."""
    wide, step = WIDE / ZONES, 10.0
    rows = np.arange(0, HIGH + step, step)
    edges = [
        [
            (west + i * wide + (0 if i in (0, ZONES) else (k % 2) * 3.0), south + y + dy)
            for k, y in enumerate(rows[:-1])
            for dy in (0.0, step)
        ]
        for i in range(ZONES + 1)
    ]
    shapes = [shapely.Polygon(edges[i] + edges[i + 1][::-1]) for i in range(ZONES)]
    depths = [(0.0, 30.0, 35.0, 40.0)[i % 4] for i in range(ZONES)]
    like = plan.zones.iloc[[i % 3 for i in range(ZONES)]].reset_index(drop=True)
    return like.assign(
        zone=range(1, ZONES + 1), depth_cm=depths, geometry=shapes,
        area_ha=[shape.area / 1e4 for shape in shapes],
    )  # fmt: skip


def _stations(plan: Plan, west: float, south: float, rng: np.random.Generator) -> gpd.GeoDataFrame:
    x = west + rng.uniform(5, WIDE - 5, STATIONS)
    y = south + rng.uniform(5, HIGH - 5, STATIONS)
    lonlat = pyproj.Transformer.from_crs(plan.working_crs, "EPSG:4326", always_xy=True)
    lon, lat = lonlat.transform(x, y)
    like = plan.stations.iloc[[i % 3 for i in range(STATIONS)]].reset_index(drop=True)
    return like.assign(
        station=[f"S{i:03d}" for i in range(STATIONS)], x_m=x, y_m=y, lon=lon, lat=lat,
        pan_top_cm=20.0, pan_base_cm=33.0, n_insertions=3,
        reason="3 of 3 insertions show a pan.", geometry=gpd.points_from_xy(x, y),
    )  # fmt: skip


def _insertions(
    stations: gpd.GeoDataFrame, rng: np.random.Generator
) -> tuple[pd.DataFrame, pd.DataFrame]:
    held = pd.DataFrame(stations.drop(columns="geometry"))
    rows = held.loc[held.index.repeat(3)].reset_index(drop=True)
    rows["insertion"] = np.tile([1, 2, 3], STATIONS)
    rows["insertion_id"] = rows["station"] + "/" + rows["insertion"].astype(str)
    insertions = rows.assign(
        moisture="friable", max_mpa=2.6, n_readings=READINGS, deepest_cm=60.0, over_limit_38=True,
        spikes=0, reason="Hard from 20 to 33 cm, softer below.", file="cone.csv", row=2,
    )  # fmt: skip
    cone = insertions.loc[insertions.index.repeat(READINGS)].reset_index(drop=True)
    cone["depth_cm"] = np.tile(np.linspace(2, 60, READINGS), len(insertions))
    cone["cone_index_mpa"] = rng.uniform(0.2, 4.0, len(cone)).round(2)
    cone["row"] = np.arange(2, len(cone) + 2)
    return insertions, cone.assign(refused="", note="")


def _passes(plan: Plan, west: float, south: float) -> gpd.GeoDataFrame:
    rows = [
        {"pass": n, "step": s, "part": "body", "laid": "straight",
         "from_m": s * 100.0, "to_m": s * 100.0 + 100,
         "depth_cm": 30.0 + 5 * ((n + s) % 2),
         "geometry": LineString(
             [(west + n * 4.0, south + y) for y in (s * 100.0, s * 100.0 + 100.0)]
         )}
        for n in range(1, 250) for s in range(8)
    ]  # fmt: skip
    return gpd.GeoDataFrame(rows, geometry="geometry", crs=plan.working_crs)


def _rasters(grid: Grid, rng: np.random.Generator) -> dict[str, np.ndarray]:
    """Smooth fields: a few waves of random phase."""
    x, y = (grid.centres_m() - grid.centres_m()[0]).T.reshape(2, *grid.shape)
    wave = sum(np.sin(x / w + rng.uniform(0, 6)) * np.cos(y / w) for w in (30.0, 70.0, 150.0))
    share = (wave - wave.min()) / np.ptp(wave)
    return {
        "pan_base_cm": 25 + 15 * share, "pan_base_sd_cm": 1 + 3 * share,
        "pan_probability": share, "working_depth_cm": 30 + 10 * np.round(share),
        "stations_near": np.round(10 * share),
    }  # fmt: skip
