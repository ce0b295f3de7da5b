"""Cone logs drawn by hand and by seed, for the tests of the room `profiles`."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

ROOT = Path(__file__).parents[2]
LIMIT_MPA = 2.0


def frame(name: str, depth_cm: object, index_mpa: object, **given: object) -> pd.DataFrame:
    """Return one insertion as rows of the cone readings frame."""
    depth = np.asarray(depth_cm, dtype=float)
    station, _, number = name.partition("/")
    head = {
        "station": station,
        "insertion": int(number or 1),
        "x_m": 1000.0,
        "y_m": 2000.0,
        "lon": 10.0,
        "lat": 50.0,
        "date": "2026-09-01",
        "moisture": "friable",
        "part": "body",
        "refused": "",
        "note": "",
        "file": "cone.csv",
    } | given
    table = pd.DataFrame({"depth_cm": depth, "cone_index_mpa": np.asarray(index_mpa, dtype=float)})
    return table.assign(insertion_id=f"{station}/{head['insertion']}", **head).assign(
        row=np.arange(2, len(depth) + 2)
    )


def pan_mpa(depth_cm: object, top_cm: float = 22.0, base_cm: float = 34.0) -> np.ndarray:
    """Return a smooth profile that passes 2 MPa at `top_cm` and at `base_cm` exactly.

    Straight flanks of 0.25 MPa a centimetre, peak 3.2 MPa, soft soil 1.1 MPa.
    """
    depth = np.asarray(depth_cm, dtype=float)
    inside = np.minimum(depth - top_cm, base_cm - depth)
    return np.clip(LIMIT_MPA + 0.25 * inside, 1.1, 3.2)


def pit_frame(**given: object) -> pd.DataFrame:
    """Return one pit as a row of the pits frame."""
    row = {
        "pit": "P1", "date": "2026-09-01", "phase": "before", "x_m": 1000.0, "y_m": 2000.0,
        "lon": 10.0, "lat": 50.0, "part": "", "pan": "yes", "pan_top_cm": 20.0,
        "pan_base_cm": 31.0, "structure_score": np.nan, "moisture": "friable",
        "loosened_at_leg_cm": np.nan, "loosened_between_cm": np.nan, "speed_km_h": np.nan,
        "photo": "", "note": "", "file": "pits.csv", "row": 2,
    }  # fmt: skip
    return pd.DataFrame([row | given])


def insertion_frame(rows: list[dict[str, object]]) -> pd.DataFrame:
    """Return insertions of station A, each row overriding a plain pan from 20 to 30 cm."""
    plain = {
        "station": "A", "x_m": 0.0, "y_m": 0.0, "lon": 10.0, "lat": 50.0, "date": "2026-09-01",
        "moisture": "", "part": "", "n_readings": 20, "deepest_cm": 50.0, "step_cm": 2.5,
        "verdict": "pan", "pan_top_cm": 20.0, "pan_base_cm": 30.0, "censored": False,
        "deeper_cm": float("nan"),
        "max_mpa": 3.0, "over_limit_38": True, "spikes": 0, "reason": "Because.",
        "file": "cone.csv", "row": 2,
    }  # fmt: skip
    full = [plain | {"insertion": k + 1} | row for k, row in enumerate(rows)]
    named = [row | {"insertion_id": f"{row['station']}/{row['insertion']}"} for row in full]
    return pd.DataFrame(named)


@pytest.fixture(scope="session")
def insertion() -> Callable[..., pd.DataFrame]:
    return frame


@pytest.fixture(scope="session")
def pan_profile() -> Callable[..., np.ndarray]:
    return pan_mpa


@pytest.fixture(scope="session")
def pit() -> Callable[..., pd.DataFrame]:
    return pit_frame


@pytest.fixture(scope="session")
def insertions_of() -> Callable[[list[dict[str, object]]], pd.DataFrame]:
    return insertion_frame


@pytest.fixture(scope="session")
def marsden() -> Path:
    """Folder of the open penetrometer data; see the module that uses it for source and licence."""
    data = Path(os.environ.get("ZONING_OPEN_DATA", ROOT.parent / "shared" / "data"))
    folder = data / "penetrometer" / "marsden_2019"
    if not folder.is_dir():
        pytest.skip(f"open data not found: {folder}")
    return folder
