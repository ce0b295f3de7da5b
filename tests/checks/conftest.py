"""A small planned field, and pits behind the machine written by hand."""

from __future__ import annotations

from collections.abc import Callable

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely import box

from zoning.checks.advice import advise
from zoning.checks.caps import bounded
from zoning.checks.groups import judge_groups
from zoning.checks.pits import judge_pits
from zoning.checks.trials import ridge_curve
from zoning.grid import Grid
from zoning.model.check import PlannedGround
from zoning.model.settings import MachineSection

CRS = "EPSG:32631"
Maker = Callable[..., pd.DataFrame]


def no_hazards() -> gpd.GeoDataFrame:
    """Return the keep-off ground of a field without hazards."""
    return gpd.GeoDataFrame({"kind": [], "name": [], "cap_cm": []}, geometry=[], crs=CRS)


def planned_ground(
    base_cm: float = 30.0,
    sd_cm: float = 2.0,
    pan: float = 1.0,
    depth_cm: float = 35.0,
    hazard_zones: gpd.GeoDataFrame | None = None,
    assurance: float = 0.8,
    machine: MachineSection | None = None,
    notice_cm: float = np.inf,
) -> PlannedGround:
    """Return three zones side by side, 100 m each: `depth_cm`, 40 cm, lifted out."""
    zones = gpd.GeoDataFrame(
        {
            "zone": [1, 2, 3],
            "depth_cm": [depth_cm, 40.0, 0.0],
            "area_ha": [1.0, 1.0, 1.0],
            "parts": ["body", "headland", "body"],
            "pan_base_cm": [base_cm] * 3,
            "assurance": [assurance] * 3,
            "cautions": "",
            "cleared": [
                "not deeper than notice depth",
                "not deeper than notice depth",
                "lifted out",
            ],
        },
        geometry=[box(0, 0, 100, 100), box(100, 0, 200, 100), box(200, 0, 300, 100)],
        crs=CRS,
    )
    grid = Grid(0.0, 100.0, 5.0, 20, 60)
    full = np.ones(grid.shape)
    ground = PlannedGround(
        plan_id="a" * 64,
        digests={},
        inputs={},
        zones=zones,
        working_crs=CRS,
        grid=grid,
        bands={
            "pan_base_cm": full * base_cm,
            "pan_base_sd_cm": full * sd_cm,
            "pan_probability": full * pan,
        },
        clearance_cm=3.0,
        ridge_allowance_cm=0.0,
    )
    around = no_hazards() if hazard_zones is None else hazard_zones
    return bounded(ground, around, machine or MachineSection(), run_m=25.0, notice_cm=notice_cm)


def drain(
    cap_cm: float = 35.0, west_m: float = 48.0, east_m: float = 52.0, name: str = ""
) -> gpd.GeoDataFrame:
    """Return the keep-off ground of one drain across the field from south to north."""
    facts = {"kind": ["drain"], "name": [name], "cap_cm": [cap_cm]}
    return gpd.GeoDataFrame(facts, geometry=[box(west_m, -10, east_m, 110)], crs=CRS)


def field_parts() -> gpd.GeoDataFrame:
    """Return no parts: none has so much of `planned_ground` that it asks for its own pit."""
    return gpd.GeoDataFrame({"part": []}, geometry=[], crs=CRS)


def pit_rows(*rows: dict[str, object]) -> pd.DataFrame:
    """Return pits of phase after with what is given; the rest blank, north of one another."""
    usual = {
        "date": "2026-09-10", "phase": "after", "x_m": 50.0, "y_m": 50.0, "lon": 0.8, "lat": 52.7,
        "part": "body", "pan": "", "pan_top_cm": np.nan, "pan_base_cm": np.nan,
        "structure_score": np.nan, "moisture": "", "loosened_at_leg_cm": np.nan,
        "loosened_between_cm": np.nan, "speed_km_h": np.nan, "photo": "", "note": "",
        "file": "pits.csv",
    }  # fmt: skip
    full = [
        usual | {"pit": f"A{i}", "row": i + 2, "y_m": (50.0 + 11.0 * i) % 99} | row
        for i, row in enumerate(rows)
    ]
    columns = ["pit", *usual, "row"]
    return pd.DataFrame(full, columns=columns)


def station_rows(*rows: dict[str, object]) -> pd.DataFrame:
    """Return cone stations of after the work."""
    usual = {
        "zone": 1, "depth_cm": 35.0, "x_m": 50.0, "y_m": 50.0, "part": "body", "verdict": "no_pan",
        "n_known": 1, "date": "2026-09-10", "moisture": "friable",
    }  # fmt: skip
    full = [usual | {"station": f"C{i}"} | row for i, row in enumerate(rows)]
    return pd.DataFrame(full, columns=["station", *usual])


def trial_rows(*runs: tuple[float, float], surface: str = "level") -> pd.DataFrame:
    """Return trial runs at 35 cm: speed and ridge of each."""
    return pd.DataFrame(
        {
            "run": [chr(65 + i) for i in range(len(runs))],
            "speed_km_h": [speed for speed, _ in runs],
            "depth_setting_cm": 35.0,
            "loosened_at_leg_cm": 35.0,
            "loosened_between_cm": [35.0 - ridge for _, ridge in runs],
            "surface": surface,
            "note": "",
            "file": "trials.csv",
            "row": [i + 2 for i in range(len(runs))],
        }
    )


def advised(*rows: dict[str, object]) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Return advice, judged pits and groups of the small field with these pits, no trial runs."""
    planned = planned_ground()
    pits = judge_pits(pit_rows(*rows), planned, read_on="")
    groups = judge_groups(planned, pits, station_rows(), field_parts())
    curve = ridge_curve(trial_rows())
    return advise(groups, pits, curve, MachineSection(), planned.zones), pits, groups


@pytest.fixture
def planned() -> PlannedGround:
    return planned_ground()


@pytest.fixture
def make_planned() -> Callable[..., PlannedGround]:
    return planned_ground


@pytest.fixture
def make_pits() -> Maker:
    return pit_rows


@pytest.fixture
def make_stations() -> Maker:
    return station_rows


@pytest.fixture
def make_trials() -> Maker:
    return trial_rows
