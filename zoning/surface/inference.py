"""From readings to a solved system: covariance, censored readings and outliers in turn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from zoning.surface.censoring import first_guess, tobit_readings
from zoning.surface.covariance import Covariance, Index
from zoning.surface.likelihood import CovariancePrior, Fit, Posterior, fit_covariance, start_values
from zoning.surface.local import LocalSystem
from zoning.surface.screening import Screening, worst
from zoning.surface.system import Effects, Readings, System

_CENSORED_ROUNDS = 3


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
    alike_share
        Share of fields whose parts are thought to differ in nothing (`zoning.surface.averaging`).
    """

    effects: Effects
    template: Covariance
    prior: CovariancePrior
    free: tuple[bool, bool, bool] = (True, True, True)
    screening: Screening | None = None
    false_limit_share: float = 0.0
    alike_share: float = 0.0


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
    log_odds
        Log odds of this split into rows used and set aside against all rows used.
    """

    system: System | LocalSystem
    fit: Fit
    used: Index
    outliers: Index
    raw: Readings
    censored: Index
    log_odds: float = 0.0


def infer(readings: Readings, censored: Index, recipe: Recipe) -> Inference:
    """Return the inference from `readings`, of which the rows `censored` are lower limits.

    Readings are set aside as `zoning.surface.screening` tells: of its splits the most probable.
    """
    return likeliest(splits(readings, censored, recipe))


def likeliest(found: Sequence[Inference]) -> Inference:
    """Return the most probable split of `found`."""
    return max(found, key=lambda split: split.log_odds)


def splits(readings: Readings, censored: Index, recipe: Recipe) -> list[Inference]:
    """Return the inference of every split that `zoning.surface.screening` meets.

    The first keeps all readings, each further one sets one more aside.
    """
    found = [_all_kept(readings, censored, recipe)]
    if recipe.screening is not None:
        while len(row := _suspect(found[-1], recipe.screening)):
            found.append(_without(found[-1], int(row[0]), recipe, recipe.screening))
    return found


def again(found: Inference, recipe: Recipe, start: Covariance) -> Inference:
    """Return the inference of the same split by another recipe, searched from `start`."""
    working = found.system.readings
    working, fit = _round(found.raw, working, found.censored, recipe, (start,))
    return replace(found, system=System(working, recipe.effects, fit.covariance), fit=fit)


def _suspect(now: Inference, screening: Screening) -> Index:
    """Return the row of `now.used` to be set aside next, shape ``(1,)`` or ``(0,)``."""
    room = int(screening.most_share * (len(now.used) + len(now.outliers))) - len(now.outliers)
    return worst(now.system, now.censored, screening, min(room, 1))


def _gain(before: Inference, after: Inference, row: int, recipe: Recipe) -> float:
    """Return by how much the readings of `before` without `row` are likelier than all of them.

    Limits keep the pseudo-readings they have in `before`, so that the two can be compared.
    """
    readings = before.system.readings
    kept = readings.take(np.delete(np.arange(len(readings.value)), row))
    return log_posterior(kept, after.fit.covariance, recipe) - log_posterior(
        readings, before.fit.covariance, recipe
    )


def _set_aside(before: Inference, row: int, screening: Screening) -> float:
    """Return the log probability of `row` of the readings of `before` as one that is no pan."""
    mean, var = before.system.leave_one_out()
    residual = float(before.system.readings.value[row] - mean[row])
    gone = len(before.outliers)
    return screening.log_density(residual, float(var[row])) + screening.log_odds(
        gone, gone + len(before.used)
    )


def log_posterior(readings: Readings, covariance: Covariance, recipe: Recipe) -> float:
    """Return the log posterior density of `covariance` given `readings`, up to a constant."""
    posterior = Posterior(readings, recipe.effects, covariance, recipe.prior, recipe.free)
    return posterior(posterior.theta(covariance))[0]


def _all_kept(raw: Readings, censored: Index, recipe: Recipe) -> Inference:
    """Return the inference from all readings, searched from the prior."""
    working = first_guess(raw, censored, recipe.prior.sill)
    starts = start_values(recipe.template, recipe.prior)
    for _ in range(_CENSORED_ROUNDS if len(censored) else 1):
        working, fit = _round(raw, working, censored, recipe, starts)
        starts = (fit.covariance,)
    system = System(working, recipe.effects, fit.covariance)
    return Inference(system, fit, np.arange(len(raw.value)), censored[:0], raw, censored)


def _without(now: Inference, row: int, recipe: Recipe, screening: Screening) -> Inference:
    """Return the inference without `row` of the rows used, searched from `now`.

    Its pseudo-readings are those of `now`, put right once: they hardly change with one reading.
    """
    left = np.delete(np.arange(len(now.used)), row)
    raw, working = now.raw.take(left), now.system.readings.take(left)
    hidden = now.censored - (now.censored > row)
    working, fit = _round(raw, working, hidden, recipe, (now.fit.covariance,))
    outliers = np.union1d(now.outliers, now.used[row])
    system = System(working, recipe.effects, fit.covariance)
    after = Inference(system, fit, now.used[left], outliers, raw, hidden)
    gain = _gain(now, after, row, recipe) + _set_aside(now, row, screening)
    return replace(after, log_odds=now.log_odds + gain)


def _round(
    raw: Readings,
    working: Readings,
    censored: Index,
    recipe: Recipe,
    starts: tuple[Covariance, ...],
) -> tuple[Readings, Fit]:
    """Return the covariance of `working`, and with it pseudo-readings for the limits of `raw`."""
    posterior = Posterior(working, recipe.effects, recipe.template, recipe.prior, recipe.free)
    fit = fit_covariance(posterior, starts)
    share = recipe.false_limit_share
    return tobit_readings(raw, censored, recipe.effects, fit.covariance, share), fit
