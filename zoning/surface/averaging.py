"""The base averaged over what is not known about its covariance.

With few stations the range and the nugget are uncertain, and a prediction at their best values is
too sure of itself. The posterior of ``theta`` is close to a normal round its mode; its integral is
taken at the mode and two points on each principal axis, each weighted by the true density there
times the weight of the rule (a central composite design, as Rue H., Martino S., Chopin N., Journal
of the Royal Statistical Society B 71, 2009, 319-392, section 6.5, use it; from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from zoning.surface.censoring import tobit_readings
from zoning.surface.covariance import Array, Index
from zoning.surface.inference import Inference, Recipe
from zoning.surface.likelihood import Posterior
from zoning.surface.system import System

_STEP = 1e-3
_RADIUS = 1.9
_MOST_LOG_RATIO = 2.0
_LEAST_CENTRE = 0.05
_STEEPEST_SD = 1.5


@dataclass(frozen=True, slots=True, eq=False)
class Averaged:
    """Systems with their weights, which sum to 1; the first is that of the mode."""

    nodes: tuple[tuple[float, System], ...]

    def predict(self, xy_m: Array, part: Index) -> tuple[Array, Array]:
        """Return mean and variance of the mixture at each place, shape ``(m,)`` each."""
        mean, square = np.zeros(len(xy_m)), np.zeros(len(xy_m))
        for weight, system in self.nodes:
            m, v = system.predict(xy_m, part)
            mean += weight * m
            square += weight * (v + m * m)
        return mean, np.maximum(square - mean * mean, 0.0)


def average(base: Inference, recipe: Recipe) -> Averaged:
    """Return the systems of a design round the mode of the covariance's posterior."""
    posterior = base.posterior
    mode = posterior.theta(base.fit.covariance)
    top = posterior(mode)[0]
    nodes: list[tuple[float, System]] = [(1.0, base.system)]
    dims, radius = len(mode), _RADIUS
    for direction in _axes(posterior, mode):
        for sign in (1.0, -1.0):
            theta = mode + sign * radius * direction
            weight = math.exp(min(posterior(theta)[0] - top + 0.5 * radius**2, _MOST_LOG_RATIO))
            nodes.append((weight / (2 * radius**2), _system(base, recipe, theta)))
    weights = np.array([w for w, _ in nodes])
    weights[0] = max(1.0 - dims / radius**2, _LEAST_CENTRE)
    weights /= weights.sum()
    return Averaged(tuple((float(w), s) for w, (_, s) in zip(weights, nodes, strict=True)))


def _system(base: Inference, recipe: Recipe, theta: Array) -> System:
    covariance = base.posterior.covariance(theta)
    working = tobit_readings(base.raw, base.censored, recipe.effects, covariance)
    return System(working, recipe.effects, covariance)


def _axes(posterior: Posterior, mode: Array) -> Array:
    """Return the principal axes of the posterior, each as long as its standard deviation."""
    dims = len(mode)
    hessian = np.empty((dims, dims))
    for k in range(dims):
        step = np.zeros(dims)
        step[k] = _STEP
        hessian[k] = (posterior(mode - step)[1] - posterior(mode + step)[1]) / (2 * _STEP)
    values, vectors = np.linalg.eigh(0.5 * (hessian + hessian.T))
    sd = 1.0 / np.sqrt(np.maximum(values, 1.0 / _STEEPEST_SD**2))
    return np.asarray((vectors * sd).T, dtype=np.float64)
