"""Small invented fields, and the open data sets where they are present."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from threadpoolctl import threadpool_limits

from zoning.surface.covariance import Array, Covariance
from zoning.surface.stations import place_codes
from zoning.surface.system import Effects, Readings

OPEN_DATA = Path(os.environ.get("ZONING_OPEN_DATA", Path(__file__).parents[3] / "shared" / "data"))

Make = Callable[..., Readings]


@pytest.fixture(autouse=True, scope="session")
def one_core() -> Iterator[None]:
    """Small matrices on a busy machine: one thread."""
    with threadpool_limits(1, "blas"):
        yield


@pytest.fixture
def open_data() -> Callable[[str], pd.DataFrame]:
    """Return a reader of one table of the open data; the test is skipped where it is absent."""

    def read(name: str) -> pd.DataFrame:
        path = OPEN_DATA / name
        if not path.exists():
            pytest.skip(f"open data {name} is absent (ZONING_OPEN_DATA)")
        return pd.read_csv(path)

    return read


@pytest.fixture
def check_values() -> list[dict[str, Any]]:
    """Return the published and twice-computed kriging values, or skip."""
    path = OPEN_DATA / "geostat" / "check_values.json"
    if not path.exists():
        pytest.skip("open data geostat/check_values.json is absent (ZONING_OPEN_DATA)")
    values: list[dict[str, Any]] = json.loads(path.read_text())["kriging_and_variogram"]
    return values


@pytest.fixture
def make_readings() -> Make:
    """Return a maker of readings: part codes, days and noise are optional."""

    def make(
        xy: Array, value: Array, noise: float = 0.0, part: Any = None, day: Any = None
    ) -> Readings:
        count = len(value)
        parts = np.zeros(count, np.int64) if part is None else np.asarray(part)
        days = np.full(count, -1) if day is None else np.asarray(day)
        places = np.asarray(xy, np.float64)
        return Readings(
            places,
            np.asarray(value, np.float64),
            np.full(count, float(noise)),
            parts,
            days,
            place_codes(places, parts),
        )

    return make


@pytest.fixture
def no_effects() -> Effects:
    """One part without an effect, a flat level."""
    return Effects(np.zeros(1), np.zeros(1))


@pytest.fixture
def drawn(make_readings: Make) -> Callable[..., Readings]:
    """Return a maker of readings drawn from a covariance, round a level of 30."""

    def draw(
        covariance: Covariance, count: int, side: float, seed: int, noise: float = 0.0
    ) -> Readings:
        rng = np.random.default_rng(seed)
        xy = rng.uniform(0, side, (count, 2))
        total = covariance.partial_sill * covariance.correlation(xy, xy)
        total += (covariance.nugget + noise + 1e-9) * np.eye(count)
        value = 30.0 + np.linalg.cholesky(total) @ rng.standard_normal(count)
        return make_readings(xy, value, noise)

    return draw


@pytest.fixture
def make_stations() -> Callable[..., pd.DataFrame]:
    """Return a maker of station tables."""

    def make(count: int, base: Any = 35.0, seed: int = 0, **columns: Any) -> pd.DataFrame:
        xy = np.random.default_rng(seed).uniform(0, 300, (count, 2))
        table = pd.DataFrame(
            {
                "station": [f"S{k:03d}" for k in range(count)],
                "kind": "cone",
                "x_m": xy[:, 0],
                "y_m": xy[:, 1],
                "n_pan": 1,
                "n_known": 1,
                "pan_base_cm": np.broadcast_to(np.asarray(base, np.float64), count),
                "error_sd_cm": 1.5,
                "censored": False,
                "date": "",
                "part_used": "body",
                "used": True,
            }
        )
        return table.assign(**columns)

    return make
