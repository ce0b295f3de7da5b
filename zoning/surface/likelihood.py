"""Covariance parameters by restricted maximum likelihood with weak priors.

The log posterior of ``theta = (log partial sill, log nugget, log range)`` given residuals ``z``
is::

    -1/2 (log|V| + log Q + z'P z + (n - 1) log 2 pi) + log prior(theta)

with ``V``, ``Q`` and ``P`` as in `zoning.surface.system` (``log Q`` only where the level of the
field is flat or has a prior). It is restricted likelihood in the sense of Patterson and Thompson
(Biometrika 58, 1971, 545-554) and equals the marginal likelihood of a Gaussian process with a flat
level. The prior is normal in the log of the sill, the logit of the nugget share and the log of the
practical range.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.linalg import LinAlgError, cho_factor, cho_solve
from scipy.optimize import minimize
from scipy.spatial.distance import cdist

from zoning.surface.covariance import (
    Array,
    Covariance,
    correlation_and_slope,
    correlation_in_place,
    practical_factor,
)
from zoning.surface.system import Effects, Readings, effect_covariance, same

_BOUND = 12.0
_IMPOSSIBLE = 1e25


@dataclass(frozen=True, slots=True)
class CovariancePrior:
    """Normal priors of the logs of a covariance.

    Parameters
    ----------
    sill, log_sill_sd
        Median of nugget plus partial sill, and standard deviation of its logarithm.
    nugget_share, logit_share_sd
        Median of nugget / sill, and standard deviation of its logit.
    practical_range_m, log_range_sd
        Median of the practical range [m], and standard deviation of its logarithm.
    """

    sill: float
    log_sill_sd: float
    nugget_share: float
    logit_share_sd: float
    practical_range_m: float
    log_range_sd: float


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """A fitted covariance.

    Parameters
    ----------
    covariance
        At the highest posterior density.
    log_posterior, log_likelihood
        There, the second without the prior.
    """

    covariance: Covariance
    log_posterior: float
    log_likelihood: float


class Posterior:
    """Log posterior of the covariance parameters for given readings.

    Parameters
    ----------
    readings, effects
        What is known.
    start
        Its kind, its anisotropy and the values of parameters that are not free.
    prior
        Priors; ``None`` is plain restricted likelihood.
    free
        Which of partial sill, nugget and range are to be estimated.
    """

    def __init__(
        self,
        readings: Readings,
        effects: Effects,
        start: Covariance,
        prior: CovariancePrior | None,
        free: tuple[bool, bool, bool] = (True, True, True),
    ) -> None:
        places = start.isotropic(readings.xy_m)
        self._distance = cdist(places, places)
        self._nugget = same(readings.place, readings.place)
        self._fixed = effect_covariance(readings, effects) + np.diag(readings.noise_var)
        self._z = readings.value - effects.part_mean[readings.part] - effects.level
        self._q, self._level = effects.level_precision, effects.level
        self._start, self._prior, self._free = start, prior, np.array(free)

    def theta(self, covariance: Covariance) -> Array:
        """Return the logarithms of partial sill, nugget and range."""
        values = (covariance.partial_sill, covariance.nugget, covariance.range_m)
        return np.log(np.maximum(values, np.exp(-30.0)))

    def covariance(self, theta: Array) -> Covariance:
        """Return the covariance with the logarithms `theta`; fixed parameters keep their value."""
        sill, nugget, reach = (float(v) for v in np.exp(theta))
        start = self._start
        return start.with_values(
            nugget if self._free[1] else start.nugget,
            sill if self._free[0] else start.partial_sill,
            reach if self._free[2] else start.range_m,
        )

    def likelihood(self, theta: Array) -> tuple[float, Array]:
        """Return log restricted likelihood and its gradient by `theta`."""
        c = self.covariance(theta)
        rho, slope = correlation_and_slope(c.kind, self._distance, c.range_m)
        total = c.partial_sill * rho + c.nugget * self._nugget + self._fixed
        try:
            factor = cho_factor(total, lower=True, check_finite=False)
        except LinAlgError:
            return -_IMPOSSIBLE, np.zeros(3)
        inverse = cho_solve(factor, np.eye(len(total)), check_finite=False)
        w = inverse.sum(axis=1)
        q = float(w.sum() + self._q)
        if q > 0:
            inverse -= np.outer(w, w) / q
        a = inverse @ self._z
        dof = len(a) - (1 if self._q == 0 else 0)
        value = -np.log(np.diag(factor[0])).sum() - 0.5 * (
            a @ self._z + dof * math.log(2 * math.pi)
        )
        value -= 0.5 * math.log(q / (self._q or 1.0))
        core = np.outer(a, a) - inverse
        gradient = 0.5 * np.array(
            [
                c.partial_sill * float((core * rho).sum()),
                c.nugget * float((core * self._nugget).sum()),
                c.partial_sill * float((core * slope).sum()),
            ]
        )
        return float(value), gradient

    def solve(self, covariance: Covariance, correlation: Array) -> tuple[float, float, Array]:
        """Return log likelihood, level and weights of the readings (`zoning.surface.blending`).

        `correlation` is that of the readings by `covariance`, which the caller may use again.
        """
        total = covariance.partial_sill * correlation + covariance.nugget * self._nugget
        total += self._fixed
        factor = cho_factor(total, lower=True, overwrite_a=True, check_finite=False)
        right = np.column_stack([np.ones(len(self._z)), self._z])
        ones, solved = cho_solve(factor, right, check_finite=False).T
        q = float(ones.sum() + self._q)
        above = float(solved.sum()) / q if q > 0 else 0.0
        weights = solved - above * ones
        value = -np.log(np.diag(factor[0])).sum() - 0.5 * float(weights @ self._z)
        dof = len(self._z) - (1 if self._q == 0 else 0)
        value -= 0.5 * (dof * math.log(2 * math.pi) + math.log(q / (self._q or 1.0)))
        return float(value), self._level + above, weights

    def correlation(self, covariance: Covariance) -> Array:
        """Return the correlation of the readings by `covariance`, shape ``(n, n)``."""
        return correlation_in_place(covariance.kind, self._distance.copy(), covariance.range_m)

    def log_prior(self, theta: Array) -> tuple[float, Array]:
        """Return the log prior density (up to a constant) and its gradient by `theta`."""
        if self._prior is None:
            return 0.0, np.zeros(3)
        p, c = self._prior, self.covariance(theta)
        share = c.nugget / c.sill if c.sill > 0 else 0.5
        sill_z = (math.log(max(c.sill, 1e-30)) - math.log(p.sill)) / p.log_sill_sd
        logit = theta[1] - theta[0] - math.log(p.nugget_share / (1 - p.nugget_share))
        share_z = logit / p.logit_share_sd
        reach = math.log(c.range_m * practical_factor(c.kind) / p.practical_range_m)
        reach_z = reach / p.log_range_sd
        by_sill, by_share = sill_z / p.log_sill_sd, share_z / p.logit_share_sd
        gradient = -np.array(
            [by_sill * (1 - share) - by_share, by_sill * share + by_share, reach_z / p.log_range_sd]
        )
        return -0.5 * (sill_z**2 + share_z**2 + reach_z**2), gradient

    def __call__(self, theta: Array) -> tuple[float, Array]:
        """Return log posterior and gradient by `theta`."""
        value, gradient = self.likelihood(theta)
        prior, slope = self.log_prior(theta)
        return value + prior, gradient + slope

    def maximise(self, first: Array) -> Array:
        """Return the `theta` of highest posterior density reached from `first`."""
        free = np.flatnonzero(self._free)
        if not len(free):
            return first

        def down(x: Array) -> tuple[float, Array]:
            theta = first.copy()
            theta[free] = x
            value, gradient = self(theta)
            return -value, -gradient[free]

        bounds = [(first[i] - _BOUND, first[i] + _BOUND) for i in free]
        found = minimize(
            down,
            first[free],
            jac=True,
            method="L-BFGS-B",
            bounds=bounds,
            options={"maxiter": 60, "ftol": 1e-10, "gtol": 1e-4},
        )
        theta = first.copy()
        theta[free] = found.x
        return theta


def fit_covariance(posterior: Posterior, starts: tuple[Covariance, ...]) -> Fit:
    """Return the covariance of highest posterior density, searched from the best of `starts`."""
    thetas = [posterior.theta(start) for start in starts]
    first = max(thetas, key=lambda theta: posterior(theta)[0]) if len(thetas) > 1 else thetas[0]
    theta = posterior.maximise(first)
    likelihood = posterior.likelihood(theta)[0]
    return Fit(posterior.covariance(theta), likelihood + posterior.log_prior(theta)[0], likelihood)


def start_values(template: Covariance, prior: CovariancePrior) -> tuple[Covariance, ...]:
    """Return starting points round the prior: three ranges by two nugget shares."""
    factor = practical_factor(template.kind)
    return tuple(
        template.with_values(
            prior.sill * share, prior.sill * (1 - share), prior.practical_range_m * times / factor
        )
        for times in (0.4, 1.0, 2.5)
        for share in (0.15, 0.6)
    )
