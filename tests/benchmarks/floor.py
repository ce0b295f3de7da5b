"""The least loss that readings of a simulated field leave room for.

A reader who knows every parameter the field was drawn with, the true place and part of each station
and the base at each insertion without the noise of a log, still does not know the ground between
them. The pan predicted from that knowledge alone (simple kriging of the base with the true
covariance; a Gibbs sampler for the Gaussian field behind the patches without a pan) gives the
decision of least expected loss. Its distance from this floor is what interpretation, inference and
passes still cost. Of the patches the reader knows the threshold that cuts them out but not that it
was set to give the field its share, so its probabilities are a little too sure of themselves (over
forty fields a Brier score of 0.061 where it expects 0.053): a floor to within a few hundredths.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

sys.path.insert(0, str(Path(__file__).parents[2] / "sample_data"))

from field_probing import PIT_SD_CM
from field_truth import HOLD, length_scale_m
from simulate import Simulated

Numbers = NDArray[np.float64]

SWEEPS = 800
BURN_IN = 200
EVERY = 6
JITTER = 1e-4
ABSENT_SMOOTHNESS = 2.5


@dataclass(frozen=True, slots=True, eq=False)
class Known:
    """What the informed reader knows at each station: base (NaN without a pan) and its variance."""

    xy_m: Numbers
    part: NDArray[np.str_]
    base_cm: Numbers
    variance_cm2: Numbers


@dataclass(frozen=True, slots=True, eq=False)
class Informed:
    """The pan as predicted from that knowledge."""

    base_mean_cm: Numbers
    base_sd_cm: Numbers
    pan_probability: Numbers


def informed_surface(sim: Simulated, xy_m: Numbers) -> Informed:
    """Return the best prediction that the readings allow at places of shape ``(n, 2)``."""
    known, part = known_readings(sim), sim.part(xy_m)
    mean, variance = _base(sim, known, xy_m, part)
    return Informed(mean, np.sqrt(variance), _presence(sim, known, xy_m, part))


def known_readings(sim: Simulated) -> Known:
    """Return the truth of every station and what the pits read."""
    s = sim.scenario
    rows = sim.insertions.assign(base=[g.base_cm for g in sim.insertions["ground"]])
    station = rows.groupby("station").agg(
        x_m=("x_m", "mean"), y_m=("y_m", "mean"), base=("base", "mean"), count=("base", "count")
    )
    cone_xy, pit_xy = (frame[["x_m", "y_m"]].to_numpy() for frame in (station, sim.pits))
    within = s.within_sd_cm**2 / np.maximum(station["count"].to_numpy(), 1)
    variance = np.concatenate([within, np.full(len(pit_xy), PIT_SD_CM**2)]) + s.small_sd_cm**2
    return Known(
        np.vstack([cone_xy, pit_xy]),
        np.concatenate([sim.part(cone_xy), sim.pits["part"].to_numpy(dtype=str)]),
        pd.concat([station["base"], sim.pits["pan_base_cm"]]).to_numpy(dtype=float),
        variance,
    )


def correlation(a: Numbers, b: Numbers, practical_range_m: float, smoothness: float) -> Numbers:
    """Return the Matern correlation between places, shape ``(len(a), len(b))``, in closed form."""
    gap = np.hypot(a[:, None, 0] - b[None, :, 0], a[:, None, 1] - b[None, :, 1])
    h = gap / length_scale_m(practical_range_m, smoothness)
    polynomial = {0.5: 1.0 + 0 * h, 1.5: 1.0 + h, 2.5: 1.0 + h + h * h / 3}[smoothness]
    return np.asarray(polynomial * np.exp(-h))


def _base(
    sim: Simulated, known: Known, xy_m: Numbers, part: NDArray[np.str_]
) -> tuple[Numbers, Numbers]:
    """Return mean and variance of the base: simple kriging about the true mean of each part."""
    s = sim.scenario
    seen = ~np.isnan(known.base_cm)
    effect = sim.truth.effects_cm()

    def level(parts: NDArray[np.str_]) -> Numbers:
        return s.body_base_cm + np.array([effect[p] for p in parts])

    at = known.xy_m[seen]
    data = s.sd_cm**2 * correlation(at, at, s.range_m, s.smoothness)
    data += np.diag(known.variance_cm2[seen])
    towards = s.sd_cm**2 * correlation(xy_m, at, s.range_m, s.smoothness)
    weights = np.linalg.solve(data, towards.T).T
    mean = level(part) + weights @ (known.base_cm[seen] - level(known.part[seen]))
    variance = s.sd_cm**2 - (weights * towards).sum(axis=1) + s.small_sd_cm**2
    return mean, np.maximum(variance, 1e-6)


def _presence(sim: Simulated, known: Known, xy_m: Numbers, part: NDArray[np.str_]) -> Numbers:
    """Return the probability of a pan: the hidden field sampled, given the stations."""
    s = sim.scenario
    hold = np.array([HOLD[p] for p in known.part])
    tells = np.isfinite(hold)
    at, limit = known.xy_m[tells], sim.truth.threshold + hold[tells]
    data = correlation(at, at, s.no_pan_range_m, ABSENT_SMOOTHNESS) + JITTER * np.eye(len(at))
    precision: Numbers = np.asarray(np.linalg.inv(data), dtype=np.float64)
    draws = sample_hidden(precision, limit, np.isnan(known.base_cm[tells]), sim.seed)
    towards = correlation(xy_m, at, s.no_pan_range_m, ABSENT_SMOOTHNESS)
    weights = towards @ precision
    spread = np.sqrt(np.maximum(1 - (weights * towards).sum(axis=1), 1e-6))
    own_hold = np.array([HOLD[p] for p in part])
    own_limit = sim.truth.threshold + np.where(np.isfinite(own_hold), own_hold, 0.0)
    chance = ndtr((own_limit[:, None] - weights @ draws) / spread[:, None]).mean(axis=1)
    return np.where(np.isfinite(own_hold), chance, 1.0)


def sample_hidden(
    precision: Numbers, limit: Numbers, above: NDArray[np.bool_], seed: int
) -> Numbers:
    """Return Gibbs draws of a Gaussian vector known only to lie above or below its limits.

    Shape ``(stations, draws)``. Each element in turn is drawn from its normal distribution given
    the others, cut off at its limit.
    """
    rng = np.random.default_rng(seed)
    z = np.where(above, limit + 0.1, np.minimum(limit - 0.1, 0.0))
    sd = np.diag(precision) ** -0.5
    kept = []
    for sweep in range(SWEEPS):
        for i in range(len(z)):
            mean = z[i] - (precision[i] @ z) * sd[i] ** 2
            below = ndtr((limit[i] - mean) / sd[i])
            u = rng.random()
            share = below + u * (1 - below) if above[i] else u * below
            z[i] = mean + sd[i] * ndtri(min(max(share, 1e-12), 1 - 1e-12))
        if sweep >= BURN_IN and sweep % EVERY == 0:
            kept.append(z.copy())
    return np.array(kept).T
