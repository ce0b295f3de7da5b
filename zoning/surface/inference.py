"""From readings to a solved system: covariance, censored readings and outliers in turn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from zoning.surface.censoring import first_guess, tobit_readings
from zoning.surface.covariance import Array, Covariance, Index
from zoning.surface.likelihood import CovariancePrior, Fit, Posterior, fit_covariance, start_values
from zoning.surface.local import LocalSystem, typical_spacing
from zoning.surface.system import Effects, Readings, System

_CENSORED_ROUNDS = 3
_NEAR_SPACINGS = 2.0


@dataclass(frozen=True, slots=True)
class Screening:
    """When a reading counts as an outlier.

    Parameters
    ----------
    limit
        Standardised leave-one-out residual beyond which a reading is set aside; for very many
        readings the one that a sound reading in so many passes once is taken.
    most_share
        Largest share of the readings that may be set aside.
    fewest
        Fewest readings with which any is set aside.
    """

    limit: float
    most_share: float
    fewest: int


@dataclass(frozen=True, slots=True, eq=False)
class Recipe:
    """How to infer.

    Parameters
    ----------
    effects
        Priors of level, parts and days.
    template
        Kind and anisotropy, and the values of parameters that are given.
    prior
        Priors of the parameters to be estimated.
    free
        Which of partial sill, nugget and range are to be estimated.
    screening
        ``None``: no reading is set aside.
    false_limit_share
        Share of censored readings that say nothing.
    """

    effects: Effects
    template: Covariance
    prior: CovariancePrior
    free: tuple[bool, bool, bool] = (True, True, True)
    screening: Screening | None = None
    false_limit_share: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Inference:
    """The answer: rows used, rows set aside, the fit and the solved system.

    Parameters
    ----------
    system
        Solved with the rows used; censored readings stand in it as pseudo-readings.
    fit
        Covariance with its log posterior.
    used, outliers
        Rows of the readings given.
    raw
        The rows used as they were given.
    censored
        Which rows of `raw` are censored.
    """

    system: System | LocalSystem
    fit: Fit
    used: Index
    outliers: Index
    raw: Readings
    censored: Index


def infer(readings: Readings, censored: Index, recipe: Recipe) -> Inference:
    """Return the inference from `readings`, of which the rows `censored` are lower limits."""
    used = np.arange(len(readings.value))
    most = int(recipe.screening.most_share * len(used)) if recipe.screening else 0
    start: Covariance | None = None
    while True:
        raw = readings.take(used)
        hidden = np.flatnonzero(np.isin(used, censored))
        system, fit = _fit(raw, hidden, recipe, start)
        outliers = np.setdiff1d(np.arange(len(readings.value)), used)
        bad = worst(system, hidden, recipe.screening, most - len(outliers))
        if not len(bad):
            return Inference(system, fit, used, outliers, raw, hidden)
        used, start = np.delete(used, bad), fit.covariance


def worst(
    system: System | LocalSystem, censored: Index, screening: Screening | None, room: int
) -> Index:
    """Return the rows to set aside, worst first, at most `room`.

    A reading near a worse one waits: the worse one may be why it does not fit.
    """
    count = len(system.readings.value)
    if screening is None or room <= 0 or count < screening.fewest:
        return np.empty(0, np.int64)
    mean, var = system.leave_one_out()
    t = np.abs(system.readings.value - mean) / np.sqrt(var)
    t[censored] = 0.0
    limit = max(screening.limit, float(ndtri(1.0 - 0.5 / count)))
    bad = np.flatnonzero(t > limit)
    bad = bad[np.argsort(-t[bad], kind="stable")]
    xy = system.readings.xy_m
    return _apart(xy, bad, _NEAR_SPACINGS * typical_spacing(xy))[:room]


def _apart(xy_m: Array, rows: Index, distance_m: float) -> Index:
    """Return those of `rows` that lie farther than `distance_m` from all kept before them."""
    kept: list[int] = []
    for row in rows:
        if not kept or np.linalg.norm(xy_m[kept] - xy_m[row], axis=1).min() > distance_m:
            kept.append(int(row))
    return np.array(kept, dtype=np.int64)


def _fit(
    raw: Readings, censored: Index, recipe: Recipe, start: Covariance | None
) -> tuple[System, Fit]:
    effects, template, prior = recipe.effects, recipe.template, recipe.prior
    working = first_guess(raw, censored, prior.sill)
    starts = (start,) if start else start_values(template, prior)
    for _ in range(_CENSORED_ROUNDS if len(censored) else 1):
        posterior = Posterior(working, effects, template, prior, recipe.free)
        fit = fit_covariance(posterior, starts)
        working = tobit_readings(raw, censored, effects, fit.covariance, recipe.false_limit_share)
        starts = (fit.covariance,)
    return System(working, effects, fit.covariance), fit
