"""The base averaged over what a few dozen stations cannot tell.

How rough the base of the pan is: the families of `FAMILIES` are fitted one by one and their
predictions averaged, each weighted by its posterior density at its own best parameters.

Whether the parts differ at all: a normal effect never is nothing, so where they do not differ its
error is paid everywhere. Each family is therefore fitted once more with the effects of all parts
that carry readings fixed at 0, their prior mean included; a part nobody read keeps its prior, for
the others say nothing of it. With ``s`` the share of fields that are thought to be so beforehand
(`Recipe.alike_share`) its weight is that of its family times::

    s / (1 - s) * p(y | theta', effects 0) p(theta') / (p(y | theta) p(theta))

(a spike and a slab: Mitchell T.J., Beauchamp J.J., Journal of the American Statistical Association
83, 1988, 1023-1032; from memory). Limits stand on both sides as the same pseudo-readings. Where the
readings show that parts differ the weight is below the least one of the table, and it is left out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from zoning.surface.covariance import Array, Index, Kind
from zoning.surface.inference import Inference, Recipe, infer, log_posterior
from zoning.surface.local import LocalSystem
from zoning.surface.priors import rule
from zoning.surface.system import System

FAMILIES: tuple[Kind, ...] = ("exponential", "matern32")


# What is gained by leaving out a few effects is their number of prior widths; more than this comes
# of a search gone astray.
_MOST_LOG_ODDS = 20.0

Node = tuple[float, Inference]


@dataclass(frozen=True, slots=True, eq=False)
class Averaged:
    """Inferences with their weights, which sum to 1.

    Parameters
    ----------
    nodes
        Those whose parts differ first, heaviest first; then those whose parts are alike.
    variance_factor
        What the uncertain covariance puts on the variance of a prediction.
    parts_differ
        Probability that the parts differ; 1 where only such were fitted.
    """

    nodes: tuple[tuple[float, Inference], ...]
    variance_factor: float = 1.0
    parts_differ: float = 1.0

    @property
    def best(self) -> Inference:
        """The heaviest of those whose parts differ."""
        return self.nodes[0][1]

    @property
    def systems(self) -> tuple[tuple[float, System | LocalSystem], ...]:
        """Weight and solved system of each."""
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
    return with_parts_alike([(weight / total, inference) for weight, inference in weighed], recipe)


def with_parts_alike(nodes: Sequence[Node], recipe: Recipe) -> Averaged:
    """Return the average of `nodes`, and of each with parts that differ in nothing.

    Their weights sum to 1, the heaviest stands first.
    """
    alike: list[Node] = []
    if recipe.alike_share > 0 and len(np.unique(nodes[0][1].raw.part)) > 1:
        for weight, inference in nodes:
            odds, other = _parts_alike(inference, recipe)
            if weight * odds < rule("parts_alike_least_weight"):
                break
            alike.append((weight * odds, other))
    total = 1.0 + sum(weight for weight, _ in alike)
    both = tuple((weight / total, inference) for weight, inference in (*nodes, *alike))
    return Averaged(both, parts_differ=1.0 / total)


def _parts_alike(differ: Inference, recipe: Recipe) -> Node:
    """Return the odds of parts alike, and what they infer from the readings of `differ`."""
    read = np.unique(differ.raw.part)
    mean, var = recipe.effects.part_mean.copy(), recipe.effects.part_var.copy()
    mean[read] = var[read] = 0.0
    own = replace(
        recipe,
        effects=replace(recipe.effects, part_mean=mean, part_var=var),
        template=replace(recipe.template, kind=differ.fit.covariance.kind),
        screening=None,
    )
    alike = infer(differ.raw, differ.censored, own)
    readings = differ.system.readings
    gain = log_posterior(readings, alike.fit.covariance, own)
    gain -= log_posterior(readings, differ.fit.covariance, recipe)
    sane = gain < _MOST_LOG_ODDS
    odds = (math.exp(gain) if sane else 0.0) * recipe.alike_share / (1.0 - recipe.alike_share)
    return odds, replace(alike, used=differ.used, outliers=differ.outliers)
