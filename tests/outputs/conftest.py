"""A small plan drawn by hand: three zones and a pond on 200 m by 150 m across longitude 0."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyproj
import pytest
import shapely
from jsonschema import Draft202012Validator
from referencing import Registry, Resource
from shapely import LineString, MultiPolygon, Point, Polygon, box

from zoning.contracts import shared
from zoning.grid import Grid
from zoning.model import InputFile, Losses, Notice, Plan, Settings
from zoning.model.settings import FieldSection, HazardsSection, ReadingsSection
from zoning.outputs import plan_id, write_plan

CRS = "EPSG:32630"
EAST, NORTH = 704_980.0, 5_788_030.0  # about 52.2 N on the meridian of Greenwich
NAMES = ("alpha", "=SUM(A1)", 'Übergröße, "long"')


def lonlat(x_m: float, y_m: float) -> tuple[float, float]:
    return pyproj.Transformer.from_crs(CRS, "EPSG:4326", always_xy=True).transform(x_m, y_m)


def at(west: float, south: float, east: float, north: float) -> Polygon:
    return box(EAST + west, NORTH + south, EAST + east, NORTH + north)


def field() -> MultiPolygon:
    pond = Point(EAST + 60, NORTH + 90).buffer(15, quad_segs=6)
    return MultiPolygon([at(0, 0, 200, 150) - pond])


def zones() -> gpd.GeoDataFrame:
    """Headland strip, body with the pond in two pieces, and a patch without pan, nodes matched."""
    patch = at(120, 40.3, 160, 100)
    strip = at(0, 0, 200, 33)
    shapes = [strip, field() - strip - patch, patch]
    tiled = shapely.coverage_clean(shapes)
    rows = {
        "zone": [1, 2, 3],
        "depth_cm": [37.5, 32.5, 0.0],
        "area_ha": [shape.area / 1e4 for shape in tiled],
        "parts": ["headland", "body; wheeling", NAMES[1]],
        "pan_base_cm": [33.06, 28.0, np.nan],
        "assurance": [0.8123456, 0.79, 1.0],
        "cleared": ["NOT CLEARED", "not deeper than notice depth", "lifted out"],
        "cautions": ["NOT CLEARED: services not located", "", ""],
        "pin_hole": [10, 8, np.nan],
        "geometry": list(tiled),
    }
    return gpd.GeoDataFrame(rows, geometry="geometry", crs=CRS)


def passes() -> gpd.GeoDataFrame:
    rows = []
    for number, (y, runs) in enumerate(
        [(10.0, [(0, 200, 37.5)]), (60.0, [(0, 120, 32.5), (120, 160, 0.0), (160, 200, 32.5)])], 1
    ):
        for step, (start, end, depth) in enumerate(runs, 1):
            rows.append(
                {
                    "pass": number, "step": step, "part": "headland" if y < 33 else "body",
                    "laid": "round" if y < 33 else "straight",
                    "from_m": float(start), "to_m": float(end),
                    "depth_cm": depth,
                    "geometry": LineString([(EAST + start, NORTH + y), (EAST + end, NORTH + y)]),
                }
            )  # fmt: skip
    return gpd.GeoDataFrame(rows, geometry="geometry", crs=CRS)


def places(xy: list[tuple[float, float]]) -> dict[str, list[float]]:
    x, y = [EAST + a for a, _ in xy], [NORTH + b for _, b in xy]
    lon, lat = zip(*[lonlat(a, b) for a, b in zip(x, y, strict=True)], strict=True)
    return {"x_m": x, "y_m": y, "lon": list(lon), "lat": list(lat)}


def cone() -> pd.DataFrame:
    rows = []
    for station, (x, y) in zip(NAMES, [(20, 15), (90, 60), (140, 70)], strict=True):
        place = {key: value[0] for key, value in places([(x, y)]).items()}
        rows += [
            {"insertion_id": f"{station}/1", "station": station, "insertion": 1, **place,
             "depth_cm": depth, "cone_index_mpa": mpa, "date": "2026-09-02", "moisture": "friable",
             "part": "", "refused": "", "note": "", "file": "cone.csv", "row": 2 + len(rows) + i}
            for i, (depth, mpa) in enumerate([(5.0, 0.8), (25.0, 2.6), (40.0, 1.1)])
        ]  # fmt: skip
    return pd.DataFrame(rows)


def insertions() -> pd.DataFrame:
    return pd.DataFrame(
        {
            "insertion_id": [f"{name}/1" for name in NAMES],
            "station": NAMES, "insertion": [1, 1, 1],
            **places([(20, 15), (90, 60), (140, 70)]), "date": ["2026-09-02"] * 3,
            "moisture": ["friable"] * 3, "part": ["", "", "body"], "n_readings": [3, 3, 3],
            "deepest_cm": [40.0] * 3, "verdict": ["pan", "base_not_reached", "unusable"],
            "pan_top_cm": [19.0, 20.5, np.nan], "pan_base_cm": [33.0, 40.0, np.nan],
            "censored": [False, True, False], "max_mpa": [2.6, 2.6, np.nan],
            "over_limit_38": [True, True, False], "spikes": [0, 1, 0],
            "reason": ["", "The last reading is still over the limit.", "Fewer than 4 readings."],
            "file": ["cone.csv"] * 3, "row": [2, 5, 8],
        }
    )  # fmt: skip


def pits() -> gpd.GeoDataFrame:
    where = places([(50, 20), (55, 20)])
    rows = {
        "pit": ["P1", "P1"], "date": ["2026-09-02", "2026-09-20"], "phase": ["before", "after"],
        **where,
        "part": ["headland", ""], "pan": ["yes", ""], "pan_top_cm": [20.0, np.nan],
        "pan_base_cm": [34.0, np.nan], "structure_score": [4.0, np.nan],
        "moisture": ["friable", ""],
        "loosened_at_leg_cm": [np.nan, 38.0], "loosened_between_cm": [np.nan, 30.0],
        "speed_km_h": [np.nan, 8.0], "photo": ["", ""], "note": ["@home", ""],
        "file": ["pits.csv", "pits.csv"], "row": [2, 3],
    }  # fmt: skip
    return gpd.GeoDataFrame(rows, geometry=gpd.points_from_xy(where["x_m"], where["y_m"]), crs=CRS)


def stations() -> gpd.GeoDataFrame:
    where = places([(20, 15), (90, 60), (140, 70), (50, 20)])
    rows = {
        "station": [*NAMES, "P1"], "kind": ["cone"] * 3 + ["pit"], **where,
        "date": ["2026-09-02"] * 4, "part": ["", "", "body", "headland"],
        "part_used": ["headland", "body", "body", "headland"], "n_insertions": [1, 1, 1, 0],
        "n_pan": [1, 1, 0, 1], "n_known": [1, 1, 0, 1],
        "verdict": ["pan", "base_not_reached", "unusable", "pan"],
        "pan_top_cm": [19.0, 20.5, np.nan, 20.0], "pan_base_cm": [33.0, 40.0, np.nan, 34.0],
        "base_spread_cm": [np.nan] * 4, "error_sd_cm": [4.0, 4.0, np.nan, 1.5],
        "censored": [False, True, False, False], "used": [True, True, False, True],
        "reason": ["", "", "No insertion can be used.", ""],
    }  # fmt: skip
    return gpd.GeoDataFrame(rows, geometry=gpd.points_from_xy(where["x_m"], where["y_m"]), crs=CRS)


def hazards() -> gpd.GeoDataFrame:
    line = LineString([(EAST, NORTH + 120), (EAST + 200, NORTH + 125)])
    rows = {
        "kind": ["drain", "obstacle"],
        "name": ["", "old well"],
        "depth_cm": [75.0, np.nan],
        "clear_m": [np.nan, 3.0],
    }
    shapes = [line, Point(EAST + 100, NORTH + 140)]
    return gpd.GeoDataFrame(rows, geometry=shapes, crs=CRS)


def rasters(grid: Grid, inside: np.ndarray) -> dict[str, np.ndarray]:
    x, y = grid.centres_m().T
    base = (30 + (x - EAST) / 50 + (y - NORTH) / 75).reshape(grid.shape)
    depth = np.where(y < NORTH + 33, 37.5, 32.5).reshape(grid.shape)
    depth[
        ((x > EAST + 120) & (x < EAST + 160) & (y > NORTH + 40.3) & (y < NORTH + 100)).reshape(
            grid.shape
        )
    ] = 0
    bands = {
        "pan_base_cm": base, "pan_base_sd_cm": base / 10, "pan_probability": base / 40,
        "working_depth_cm": depth, "stations_near": np.round(base / 10),
    }  # fmt: skip
    return {name: np.where(inside, band, np.nan) for name, band in bands.items()}


def build_plan() -> Plan:
    settings = Settings(
        field=FieldSection(name="Rook Piece", boundary="boundary.geojson", season=2026),
        readings=ReadingsSection(cone="cone.csv", pits="pits.csv"),
        hazards=HazardsSection(file="hazards.geojson"),
    )
    grid = Grid.covering(field().bounds, 2.0)
    inside = shapely.contains_xy(field(), grid.centres_m()).reshape(grid.shape)
    shapes = zones().geometry
    parts = gpd.GeoDataFrame(
        {"part": ["headland", "body"], "kind": ["headland", "body"], "area_ha": [0.66, 2.0]},
        geometry=[shapes[0], shapes[1].union(shapes[2])],
        crs=CRS,
    )
    made_from = {
        "boundary": field(), "working_crs": CRS, "cone": cone(), "pits": pits(),
        "settings": settings,
        "hazards": hazards(), "zones": zones(),
    }  # fmt: skip
    left_out = {
        "file": ["cone.csv"],
        "row": [11],
        "what": ["station d"],
        "reason": ["80 m outside."],
    }
    return Plan(
        plan_id=plan_id(**made_from),
        **made_from,
        files=(
            InputFile("cone", "cone.csv", "a" * 64),
            InputFile("boundary", "boundary.geojson", "b" * 64),
        ),
        crs_accuracy_m=None,
        parts=parts,
        insertions=insertions(),
        stations=stations(),
        left_out=pd.DataFrame(left_out),
        passes=passes(),
        uncertain=zones()
        .iloc[:0][["geometry"]]
        .assign(reason=pd.Series(dtype=str), area_ha=pd.Series(dtype=float)),
        grid=grid,
        inside=inside,
        rasters=rasters(grid, inside),
        rating=pd.DataFrame(
            {
                "part": ["whole field"],
                "points": [3],
                "over_limit": [2],
                "share": [np.float64(0.667)],
                "rating": ["moderate"],
                "loosen": ["yes"],
                "few_points": [True],
            }
        ),
        losses=Losses(2.1, 2.0, 35.0, 4.2, 42.5, np.nan),
        totals={"area_ha": 2.93, "changes": np.int64(2)},
        surface_report={
            "stations": 3,
            "range_m": np.float64(80.0),
            "fitted": True,
            "note": "hand made",
            "rmse_cm": None,
        },
        notices=(
            Notice("caution", "services-not-checked", "Buried services were not checked."),
            Notice("note", "left-out", "One reading is left out."),
        ),
    )


def with_identity(plan: Plan) -> Plan:
    """Return `plan` with the fingerprint that follows from it."""
    names = ("boundary", "working_crs", "cone", "pits", "settings", "hazards", "zones")
    made_from = {name: getattr(plan, name) for name in names}
    return dataclasses.replace(plan, plan_id=plan_id(**made_from))


@pytest.fixture(scope="session")
def plan() -> Plan:
    return build_plan()


@pytest.fixture
def changed(plan: Plan) -> Callable[..., Plan]:
    """Return the plan with some of its facts changed, its fingerprint following."""

    return lambda **facts: with_identity(dataclasses.replace(plan, **facts))


@pytest.fixture(scope="session")
def written(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder that the plan was written to."""
    folder = tmp_path_factory.mktemp("written") / "plan"
    write_plan(plan, folder)
    return folder


@pytest.fixture(scope="session")
def validator() -> Callable[[str], Draft202012Validator]:
    """Return a maker of validators of the schemas in ``shared/schemas``, by name."""

    def document(name: str) -> dict:
        return json.loads(shared("schemas", f"{name}.schema.json").read_text(encoding="utf-8"))

    zones = Resource.from_contents(document("depth_zones"))
    registry = Registry().with_resource("depth_zones.schema.json", zones)
    return lambda name: Draft202012Validator(document(name), registry=registry)
