"""The base averaged over the families its covariance may belong to.

How rough the base of the pan is cannot be told from a few dozen stations, so the families of
`FAMILIES` are fitted one by one and their predictions averaged, each weighted by its posterior
density at its own best parameters.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from zoning.surface.covariance import Array, Index, Kind
from zoning.surface.inference import Inference, Recipe, infer
from zoning.surface.local import LocalSystem
from zoning.surface.system import System

FAMILIES: tuple[Kind, ...] = ("exponential", "matern32")


@dataclass(frozen=True, slots=True, eq=False)
class Averaged:
    """Inferences with their weights, which sum to 1, heaviest first.

    `variance_factor` is what the uncertain covariance puts on the variance of a prediction.
    """

    nodes: tuple[tuple[float, Inference], ...]
    variance_factor: float = 1.0

    @property
    def best(self) -> Inference:
        """The heaviest."""
        return self.nodes[0][1]

    @property
    def systems(self) -> tuple[tuple[float, System | LocalSystem], ...]:
        """Weight and solved system of each family."""
        return tuple((weight, inference.system) for weight, inference in self.nodes)

    def predict(self, xy_m: Array, part: Index) -> tuple[Array, Array]:
        """Return mean and variance of the mixture at each place, shape ``(m,)`` each."""
        mean, var = mixed([(w, *system.predict(xy_m, part)) for w, system in self.systems])
        return mean, var * self.variance_factor

    def leave_one_out(self) -> tuple[Array, Array]:
        """Return mean and variance of each reading used from all the others, shape ``(n,)``."""
        mean, var = mixed([(w, *system.leave_one_out()) for w, system in self.systems])
        noise = self.best.system.readings.noise_var
        return mean, (var - noise) * self.variance_factor + noise


def mixed(parts: Sequence[tuple[float, Array, Array]]) -> tuple[Array, Array]:
    """Return mean and variance of a mixture of ``(weight, mean, variance)``."""
    mean = np.sum([weight * m for weight, m, _ in parts], axis=0)
    spread = np.sum([weight * (v + (m - mean) ** 2) for weight, m, v in parts], axis=0)
    return np.asarray(mean, np.float64), np.asarray(spread, np.float64)


def infer_families(
    first: Inference, recipe: Recipe, families: tuple[Kind, ...] = FAMILIES
) -> Averaged:
    """Return the average over `families`; `first`, of one of them, has screened the readings."""
    found = [first]
    for kind in families:
        if kind != first.fit.covariance.kind:
            template = replace(first.fit.covariance, kind=kind)
            own = replace(recipe, template=template, screening=None)
            other = infer(first.raw, first.censored, own)
            found.append(replace(other, used=first.used, outliers=first.outliers))
    top = max(inference.fit.log_posterior for inference in found)
    weighed = [(math.exp(inference.fit.log_posterior - top), inference) for inference in found]
    weighed.sort(key=lambda node: -node[0])
    total = sum(weight for weight, _ in weighed)
    return Averaged(tuple((weight / total, inference) for weight, inference in weighed))
