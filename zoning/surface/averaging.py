"""The base averaged over what a few dozen stations cannot tell.

Which readings are no pan: the splits met by `zoning.surface.screening` enter by their odds, for a
reading that is as likely a stone as not is better used by half than wholly or not at all.

How rough the base of the pan is: the families of `FAMILIES` are fitted one by one, each weighted by
its posterior density at its own best parameters.

Whether the parts differ at all: a normal effect never is nothing, so where they do not differ its
error is paid everywhere. Each family is therefore fitted once more with the effects of all parts
that carry readings fixed at 0, their prior mean included; a part nobody read keeps its prior, for
the others say nothing of it. With ``s`` the share of fields that are thought to be so beforehand
(`Recipe.alike_share`) its weight is that of its family times::

    s / (1 - s) * p(y | theta', effects 0) p(theta') / (p(y | theta) p(theta))

(a spike and a slab: Mitchell T.J., Beauchamp J.J., Journal of the American Statistical Association
83, 1988, 1023-1032; from memory). Limits stand on both sides as the same pseudo-readings.

What weighs less than the least weight of the table is left out. On averaging over models in place
of choosing one: Hoeting J.A. and others, Statistical Science 14, 1999, 382-417 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from zoning.surface.blending import Blend
from zoning.surface.covariance import Array, Index, Kind
from zoning.surface.inference import (
    Inference,
    Recipe,
    again,
    infer,
    likeliest,
    log_posterior,
)
from zoning.surface.local import LocalSystem
from zoning.surface.priors import rule
from zoning.surface.system import System

FAMILIES: tuple[Kind, ...] = ("exponential", "matern32")

Node = tuple[float, Inference]  # with the logarithm of its weight, up to a constant


@dataclass(frozen=True, slots=True, eq=False)
class Averaged:
    """Inferences with their weights, which sum to 1.

    Parameters
    ----------
    nodes
        Those whose parts differ first, heaviest first; then those whose parts are alike. Each knows
        which readings it uses.
    variance_factor
        What the uncertain covariance puts on the variance of a prediction.
    parts_differ
        Probability that the parts differ; 1 where only such were fitted.
    blends
        Mean over what the covariance of each node may be, in sum that of all; empty where the best
        covariances are taken as they are.
    """

    nodes: tuple[tuple[float, Inference], ...]
    variance_factor: float = 1.0
    parts_differ: float = 1.0
    blends: tuple[Blend, ...] = ()

    @property
    def best(self) -> Inference:
        """The heaviest of those whose parts differ."""
        return self.nodes[0][1]

    @property
    def systems(self) -> tuple[tuple[float, System | LocalSystem], ...]:
        """Weight and solved system of each."""
        return tuple((weight, inference.system) for weight, inference in self.nodes)

    @property
    def best_split(self) -> tuple[tuple[float, System | LocalSystem], ...]:
        """Weight, in sum 1, and solved system of those that use the same readings as the best."""
        same = [(w, i.system) for w, i in self.nodes if np.array_equal(i.used, self.best.used)]
        total = sum(weight for weight, _ in same)
        return tuple((weight / total, system) for weight, system in same)

    def no_pan_probability(self) -> Array:
        """Return the probability that each reading given is no pan, shape ``(n,)``."""
        probability = np.zeros(len(self.best.used) + len(self.best.outliers))
        for weight, inference in self.nodes:
            probability[inference.outliers] += weight
        # The weights add up to one but for rounding, which the processor decides.
        return np.minimum(probability, 1.0)

    def predict(self, xy_m: Array, part: Index) -> tuple[Array, Array]:
        """Return mean and variance of the mixture at each place, shape ``(m,)`` each.

        How far the nodes lie apart is reckoned at the best covariance of each.
        """
        mean, var = mixed([(w, *system.predict(xy_m, part)) for w, system in self.systems])
        if self.blends:
            mean = np.sum([blend.mean(xy_m, part) for blend in self.blends], axis=0)
        return mean, var * self.variance_factor

    def leave_one_out(self) -> tuple[Array, Array]:
        """Return mean and variance of each reading the best uses from all the others it uses.

        At the best covariance of each node.
        """
        mean, var = mixed([(w, *system.leave_one_out()) for w, system in self.best_split])
        noise = self.best.system.readings.noise_var
        return mean, (var - noise) * self.variance_factor + noise


def mixed(parts: Sequence[tuple[float, Array, Array]]) -> tuple[Array, Array]:
    """Return mean and variance of a mixture of ``(weight, mean, variance)``."""
    mean = np.sum([weight * m for weight, m, _ in parts], axis=0)
    spread = np.sum([weight * (v + (m - mean) ** 2) for weight, m, v in parts], axis=0)
    return np.asarray(mean, np.float64), np.asarray(spread, np.float64)


def infer_average(
    found: Sequence[Inference], recipe: Recipe, families: tuple[Kind, ...] = FAMILIES
) -> Averaged:
    """Return the average over the splits `found`, over `families` and over parts alike or not.

    The splits are those of `zoning.surface.inference.splits`, all of one of the families.
    """
    least = likeliest(found).log_odds + math.log(rule("average_least_weight"))
    likely = sorted(
        (split for split in found if split.log_odds >= least), key=lambda split: -split.log_odds
    )
    differ = [node for kind in families for node in _of_kind(likely, kind, recipe)]
    differ.sort(key=lambda node: -node[0])
    alike = [node for kind in families for node in _parts_alike(differ, kind, recipe)]
    return _averaged(differ, alike)


def _of_kind(likely: Sequence[Inference], kind: Kind, recipe: Recipe) -> list[Node]:
    """Return the splits with covariances of `kind`."""
    own = replace(recipe, template=replace(recipe.template, kind=kind), screening=None)
    known = likely[0].fit.covariance.kind == kind
    return [
        (split.log_odds + other.fit.log_posterior - split.fit.log_posterior, other)
        for split, other in zip(likely, likely if known else _refitted(likely, own), strict=True)
    ]


def _refitted(likely: Sequence[Inference], recipe: Recipe) -> Iterator[Inference]:
    """Yield the splits by another recipe: the first searched from the prior, the rest from it."""
    first = infer(likely[0].raw, likely[0].censored, recipe)
    yield replace(likely[0], system=first.system, fit=first.fit)
    for split in likely[1:]:
        yield again(split, recipe, first.fit.covariance)


def _parts_alike(differ: Sequence[Node], kind: Kind, recipe: Recipe) -> list[Node]:
    """Return the nodes of `kind` once more with the effects of parts at nothing, heaviest first.

    None, and none lighter is looked at, where that would weigh too little.
    """
    same = [node for node in differ if node[1].fit.covariance.kind == kind]
    read = np.unique(differ[0][1].raw.part)
    if recipe.alike_share <= 0 or len(read) < 2:
        return []
    own = _alike_recipe(recipe, kind, read)
    prior = math.log(recipe.alike_share) - math.log1p(-recipe.alike_share)
    least = differ[0][0] + math.log(rule("average_least_weight"))
    alike: list[Node] = []
    for (weight, node), other in zip(same, _refitted([i for _, i in same], own), strict=True):
        readings = node.system.readings
        gain = log_posterior(readings, other.fit.covariance, own)
        gain -= log_posterior(readings, node.fit.covariance, recipe)
        if weight + prior + gain < least:
            break
        alike.append((weight + prior + gain, other))
    return alike


def _alike_recipe(recipe: Recipe, kind: Kind, read: Index) -> Recipe:
    """Return the recipe in which the parts `read` differ in nothing."""
    mean, var = recipe.effects.part_mean.copy(), recipe.effects.part_var.copy()
    mean[read] = var[read] = 0.0
    effects = replace(recipe.effects, part_mean=mean, part_var=var)
    template = replace(recipe.template, kind=kind)
    return replace(recipe, effects=effects, template=template, screening=None)


def _averaged(differ: Sequence[Node], alike: Sequence[Node]) -> Averaged:
    """Return the average of the nodes; the first always stays in it."""
    log_weight = np.array([log for log, _ in (*differ, *alike)])
    weight = np.exp(log_weight - log_weight.max())
    weight[weight < rule("average_least_weight") * weight.sum()] = 0.0
    weight[0] = math.exp(log_weight[0] - log_weight.max())
    weight /= weight.sum()
    nodes = [node for _, node in (*differ, *alike)]
    kept = tuple((float(w), node) for w, node in zip(weight, nodes, strict=True) if w > 0)
    return Averaged(kept, parts_differ=1.0 - float(weight[len(differ) :].sum()))
