"""What a further station tells, against fitting the same model with that station added."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from zoning.surface import PanModel
from zoning.surface.covariance import Array
from zoning.surface.design import Spots, base_exchange, presence_exchange
from zoning.surface.system import System

PARTS = ["body", "headland"]


@pytest.fixture(scope="module")
def model() -> PanModel:
    rng = np.random.default_rng(5)
    xy = rng.uniform(0, 200, (30, 2))
    pan = rng.random(30) < 0.8
    headland = xy[:, 1] < 40
    base = 32 + 3 * np.sin(xy[:, 0] / 30) + 8 * headland
    return PanModel.fit(
        pd.DataFrame(
            {
                "station": [f"S{i:02d}" for i in range(30)],
                "kind": "cone",
                "x_m": xy[:, 0],
                "y_m": xy[:, 1],
                "n_pan": 4 * pan,
                "n_known": 4,
                "pan_base_cm": np.where(pan, base, np.nan),
                "error_sd_cm": np.where(pan, 1.0, np.nan),
                "censored": False,
                "date": "",
                "part_used": np.array(PARTS)[headland.astype(int)],
                "used": True,
            }
        )
    )


@pytest.fixture(scope="module")
def spots(model: PanModel) -> tuple[Spots, Spots]:
    rng = np.random.default_rng(6)
    places, candidates = rng.uniform(0, 200, (12, 2)), rng.uniform(0, 200, (5, 2))
    return (
        Spots.of(model, places, ["body"] * 8 + ["headland"] * 4),
        Spots.of(model, candidates, ["body"] * 3 + ["headland"] * 2),
    )


def variance_with(model: PanModel, spot: Spots, places: Spots, error_var: float) -> Array:
    """Return the variance at places of each family solved anew with the reading added.

    The factor of the uncertain covariance multiplies the ground's variance and not the reading's.
    """
    factor = model.base.variance_factor
    total = np.zeros(len(places.xy_m))
    for weight, system in model.base.systems:
        old = system.readings
        new = replace(
            old,
            xy_m=np.vstack([old.xy_m, spot.xy_m]),
            value=np.append(old.value, 30.0),
            noise_var=np.append(old.noise_var, error_var / factor),
            part=np.append(old.part, spot.part),
            day=np.append(old.day, -1),
            place=np.append(old.place, old.place.max() + 1),
        )
        solved = System(new, system.effects, system.covariance)
        total += weight * solved.predict(places.xy_m, places.part)[1]
    return total * factor


def test_the_variance_left_is_that_of_solving_again(
    model: PanModel, spots: tuple[Spots, Spots]
) -> None:
    places, candidates = spots
    exchange = base_exchange(model, places, candidates)
    error_var = 1.5
    for row in range(5):
        told = exchange.covariance[row] ** 2 / (exchange.own[row] + error_var)
        again = variance_with(model, candidates.one(row), places, error_var)
        # The families' own difference of means, small here, is not in the second.
        assert exchange.variance - told == pytest.approx(again, rel=0.05, abs=0.1)


def test_columns_are_covariances_of_the_candidates(
    model: PanModel, spots: tuple[Spots, Spots]
) -> None:
    places, candidates = spots
    for exchange in (
        base_exchange(model, places, candidates),
        presence_exchange(model, places, candidates),
    ):
        whole = np.column_stack([exchange.column(row) for row in range(5)])
        assert whole == pytest.approx(whole.T)
        assert np.diag(whole) == pytest.approx(exchange.own)
        assert np.linalg.eigvalsh(whole).min() > -1e-8


def test_a_station_tells_most_near_by_and_no_more_than_all(
    model: PanModel, spots: tuple[Spots, Spots]
) -> None:
    _, candidates = spots
    steps = [candidates.xy_m[[0]] + np.array([[d, 0.0]]) for d in (1.0, 10.0, 40.0)]
    near = Spots(np.vstack(steps), model.stations.parts.of(["body"] * 3))
    for exchange in (
        base_exchange(model, near, candidates),
        presence_exchange(model, near, candidates),
    ):
        told = exchange.covariance[0] ** 2 / exchange.own[0]
        assert told[0] > told[1] > told[2]
        assert (told <= exchange.variance + 1e-9).all()


def test_the_latent_of_presence_has_unit_variance(
    model: PanModel, spots: tuple[Spots, Spots]
) -> None:
    exchange = presence_exchange(model, *spots)
    assert (exchange.own == 1.0).all()
    assert (exchange.variance < 1.0).all()
    assert (np.abs(exchange.covariance) < 1.0).all()
