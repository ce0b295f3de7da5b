"""Covariance and effects of very many readings by Vecchia's likelihood."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve
from scipy.optimize import minimize

from zoning.surface.conditionals import conditionals, earlier_neighbours, shuffled
from zoning.surface.covariance import Array, Covariance
from zoning.surface.likelihood import CovariancePrior, Fit, Posterior
from zoning.surface.system import Effects, Readings, latent_covariance, same

_GIVEN = 14
_LIKELIHOOD_ROWS = 3_000
_EFFECT_ROWS = 20_000
_EXACT_ROWS = 800
_FLAT = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class LinearEffects:
    """Effects of level, parts and days given the readings: means and covariance, level first."""

    mean: Array
    cov: Array
    parts: int

    @property
    def level(self) -> float:
        """The level of the field."""
        return float(self.mean[0])

    def part(self, code: int) -> tuple[float, float]:
        """Return mean and standard deviation of the effect of a part."""
        return self._one(1 + code)

    def day(self, code: int) -> tuple[float, float]:
        """Return mean and standard deviation of the effect of a day."""
        return self._one(1 + self.parts + code)

    def _one(self, row: int) -> tuple[float, float]:
        return float(self.mean[row]), math.sqrt(max(float(self.cov[row, row]), 0.0))


class Vecchia:
    """Vecchia's likelihood of many readings.

    Parameters
    ----------
    readings, effects
        What is known.
    rows
        How many readings take part, each given its neighbours among all: half of them the first of
        the shuffle, far apart, the rest spread over it.
    """

    def __init__(self, readings: Readings, effects: Effects, rows: int) -> None:
        count = len(readings.value)
        order = shuffled(count)
        first = np.arange(2 * _GIVEN, min(count, 2 * _GIVEN + rows // 2))
        rest = np.linspace(first[-1] + 1, count - 1, rows - len(first)).astype(np.int64)
        ranks = np.unique(np.concatenate([first, rest[rest < count]]))
        self._readings = readings
        self._first = order[: min(count, 2 * _GIVEN)]
        self._rows = order[ranks]
        self._near = earlier_neighbours(readings.xy_m, order, ranks, _GIVEN)
        self._z = readings.value - effects.level - effects.part_mean[readings.part]
        parts = len(effects.part_var)
        self._bare = Effects(np.zeros(parts), np.zeros(parts))
        self._design, self._prior_precision = design(readings, effects)

    def whitened(self, covariance: Covariance) -> tuple[Array, Array, float]:
        """Return residuals and design with unit variance, and the sum of log variances.

        The first readings of the shuffle stand together, the others are each given their
        neighbours.
        """
        weights, var = conditionals(self._readings, self._rows, self._near, covariance)
        root = np.sqrt(var)
        z = (self._z[self._rows] - (weights * self._z[self._near]).sum(axis=1)) / root
        x = self._design[self._rows] - np.einsum("tm,tmp->tp", weights, self._design[self._near])
        lower = np.linalg.cholesky(self._first_covariance(covariance))
        together = np.column_stack([self._z[self._first], self._design[self._first]])
        first = np.linalg.solve(lower, together)
        log_var = float(np.log(var).sum() + 2 * np.log(np.diag(lower)).sum())
        return np.append(first[:, 0], z), np.vstack([first[:, 1:], x / root[:, None]]), log_var

    def _first_covariance(self, covariance: Covariance) -> Array:
        first = self._readings.take(self._first)
        total = latent_covariance(first, self._bare, covariance) + np.diag(first.noise_var)
        total[np.diag_indices_from(total)] += 1e-10 * covariance.sill
        return total

    def effects(self, covariance: Covariance) -> LinearEffects:
        """Return level, part and day effects given the covariance."""
        z, x, _ = self.whitened(covariance)
        cov = np.asarray(np.linalg.inv(x.T @ x + np.diag(self._prior_precision)), np.float64)
        return LinearEffects(cov @ (x.T @ z), cov, 0)

    def log_likelihood(self, covariance: Covariance) -> float:
        """Return the log likelihood with the effects integrated out, up to a constant."""
        z, x, log_var = self.whitened(covariance)
        factor = cho_factor(x.T @ x + np.diag(self._prior_precision), lower=True)
        right = x.T @ z
        quadratic = z @ z - right @ cho_solve(factor, right)
        return float(-0.5 * (log_var + quadratic) - np.log(np.diag(factor[0])).sum())


def design(readings: Readings, effects: Effects) -> tuple[Array, Array]:
    """Return the columns of level, parts and days, and the prior precision of each."""
    parts = np.arange(len(effects.part_var))
    days = np.arange(int(readings.day.max(initial=-1)) + 1 if effects.day_var > 0 else 0)
    columns = np.column_stack(
        [np.ones(len(readings.value)), same(readings.part, parts), same(readings.day, days)]
    )
    variance = np.concatenate([effects.part_var, np.full(len(days), effects.day_var)])
    precision = 1.0 / np.maximum(variance, 1e-12)
    return columns, np.concatenate([[max(effects.level_precision, _FLAT)], precision])


def fit_many(
    readings: Readings,
    effects: Effects,
    starts: tuple[Covariance, ...],
    prior: CovariancePrior,
    free: tuple[bool, bool, bool],
) -> Fit:
    """Return the covariance of highest posterior density by Vecchia's likelihood."""
    vecchia = Vecchia(readings, effects, _LIKELIHOOD_ROWS)
    few = np.arange(1)
    posterior = Posterior(readings.take(few), effects, starts[0], prior, free)

    def height(theta: Array) -> float:
        value = vecchia.log_likelihood(posterior.covariance(theta))
        return value + posterior.log_prior(theta)[0]

    thetas = [posterior.theta(start) for start in starts]
    theta = max(thetas, key=height) if any(free) else thetas[0]
    chosen = np.flatnonzero(free)

    def down(x: Array) -> float:
        moved = theta.copy()
        moved[chosen] = x
        return -height(moved)

    best = theta.copy()
    if len(chosen):
        best[chosen] = minimize(
            down,
            theta[chosen],
            method="L-BFGS-B",
            options={"maxiter": 25, "eps": 1e-3, "ftol": 1e-7},
        ).x
    covariance = posterior.covariance(best)
    return Fit(covariance, height(best), vecchia.log_likelihood(covariance))


def effects_of_many(readings: Readings, effects: Effects, covariance: Covariance) -> LinearEffects:
    """Return level, part and day effects of the readings given their covariance.

    Exact for few readings, by Vecchia's likelihood for many.
    """
    parts = len(effects.part_var)
    if len(readings.value) > _EXACT_ROWS:
        found = Vecchia(readings, effects, _EFFECT_ROWS).effects(covariance)
        return LinearEffects(found.mean, found.cov, parts)
    x, precision = design(readings, effects)
    bare = Effects(np.zeros(parts), np.zeros(parts))
    total = latent_covariance(readings, bare, covariance) + np.diag(readings.noise_var)
    total[np.diag_indices_from(total)] += 1e-10 * covariance.sill
    solved = cho_solve(cho_factor(total, lower=True), x)
    cov = np.asarray(np.linalg.inv(x.T @ solved + np.diag(precision)), np.float64)
    z = readings.value - effects.level - effects.part_mean[readings.part]
    return LinearEffects(cov @ (solved.T @ z), cov, parts)
