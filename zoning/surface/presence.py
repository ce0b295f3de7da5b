"""Probability that a pan is there.

The state of a place is ``pan`` with probability ``Phi(g)``, where the latent ``g`` has a level, a
part effect and a smooth spatial residual, so that ground without a pan lies in patches. A station
reports ``k`` of ``n`` insertions with a pan; an insertion shows a pan that is there with
probability `sensitivity` and one that is not with ``1 - specificity``. Insertions of one station
are not independent: with the intraclass correlation ``r`` they weigh as ``n / (1 + (n - 1) r)``
independent ones (Kish L., Survey Sampling, 1965, design effect; from memory). So the likelihood of
a station is ``a Phi(g) + b (1 - Phi(g))``, brought into the kriging system by expectation
propagation. Range and strength of the residual are averaged over a grid, each point weighted by its
evidence and its prior.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from zoning.surface.covariance import Array, Covariance, Index, Kind, practical_factor
from zoning.surface.propagation import Sites, Tilt, propagate
from zoning.surface.system import Effects, Readings, System, latent_covariance

_LEAST_LIKELIHOOD = 1e-300
KIND: Kind = "matern52"


@dataclass(frozen=True, slots=True, eq=False)
class PresencePrior:
    """Priors of the presence of a pan, on the scale of the total spread of the latent.

    Parameters
    ----------
    level, level_sd
        Normal prior of the level; ``Phi(level)`` is the share of ground with a pan.
    part_mean, part_sd
        Normal prior of the effect of each part, shape ``(parts,)``.
    ranges_m, range_weight
        Practical ranges of the grid [m] and their prior weights.
    strengths, strength_weight
        Standard deviations of the spatial residual (the unit is that of the probit noise) and their
        prior weights.
    """

    level: float
    level_sd: float
    part_mean: Array
    part_sd: Array
    ranges_m: tuple[float, ...]
    range_weight: tuple[float, ...]
    strengths: tuple[float, ...]
    strength_weight: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Reporting:
    """How insertions report: see the module."""

    sensitivity: float
    specificity: float
    intraclass: float

    def independent(self, insertions: Array) -> Array:
        """Return for how many independent insertions those of each station count."""
        return insertions / (1.0 + (np.maximum(insertions, 1.0) - 1.0) * self.intraclass)

    def likelihoods(self, with_pan: Array, known: Array) -> tuple[Array, Array]:
        """Return the likelihood of each answer where there is a pan, and where there is none.

        Parameters
        ----------
        with_pan, known
            As those of `Counts`.
        """
        yes, no = with_pan, known - with_pan
        there = self.sensitivity**yes * (1 - self.sensitivity) ** no
        absent = (1 - self.specificity) ** yes * self.specificity**no
        return there, absent


class Presence:
    """Probability of a pan at any place, averaged over a grid of covariances.

    Parameters
    ----------
    nodes
        Weight and system of each point of the grid, heaviest first; weights sum to 1.
    with_pan, known
        As those of `Counts`.
    """

    def __init__(
        self, nodes: tuple[tuple[float, System], ...], with_pan: Array, known: Array
    ) -> None:
        self.nodes = nodes
        self.with_pan = with_pan
        self.known = known

    @property
    def practical_range_m(self) -> float:
        """Practical range of presence, averaged over the grid [m]."""
        return sum(w * system.covariance.practical_range_m for w, system in self.nodes)

    def predict(self, xy_m: Array, part: Index) -> Array:
        """Return the probability of a pan at each place, shape ``(m,)``."""
        total = np.zeros(len(xy_m))
        for weight, system in self.nodes:
            mean, var = system.predict(xy_m, part)
            total += weight * ndtr(mean / np.sqrt(1.0 + var))
        return total

    def leave_one_out(self) -> Array:
        """Return the probability of a pan at each station from all the others, shape ``(n,)``."""
        total = np.zeros(len(self.nodes[0][1].readings.value))
        for weight, system in self.nodes:
            mean, var = system.leave_one_out()
            latent = np.maximum(var - system.readings.noise_var, 0.0)
            total += weight * ndtr(mean / np.sqrt(1.0 + latent))
        return total


@dataclass(frozen=True, slots=True, eq=False)
class Counts:
    """Stations, with the independent answers that show a pan and all of them, ``(n,)`` each."""

    places: Readings
    with_pan: Array
    known: Array


def fit_presence(
    stations: Counts, reporting: Reporting, prior: PresencePrior, least_weight: float
) -> Presence:
    """Return the presence model of the stations.

    Points of the grid with less than `least_weight` of the heaviest are dropped.
    """
    likelihoods = reporting.likelihoods(stations.with_pan, stations.known)
    found = [
        _point(stations.places, likelihoods, prior, (reach, strength))
        for reach in range(len(prior.ranges_m))
        for strength in range(len(prior.strengths))
    ]
    top = max(weight for weight, _ in found)
    kept = [(math.exp(w - top), s) for w, s in found if w - top > math.log(least_weight)]
    kept.sort(key=lambda node: -node[0])
    total = sum(weight for weight, _ in kept)
    nodes = tuple((weight / total, system) for weight, system in kept)
    return Presence(nodes, stations.with_pan, stations.known)


def _point(
    places: Readings,
    likelihoods: tuple[Array, Array],
    prior: PresencePrior,
    point: tuple[int, int],
) -> tuple[float, System]:
    """Return log weight and system of one point of the grid."""
    reach, strength = prior.ranges_m[point[0]], prior.strengths[point[1]]
    covariance = Covariance(KIND, 0.0, strength**2, reach / practical_factor(KIND))
    effects = _effects(prior, strength)
    sites = _station_sites(places, effects, covariance, likelihoods)
    system = System(places.with_values(sites.value, sites.noise_var), effects, covariance)
    weight = prior.range_weight[point[0]] * prior.strength_weight[point[1]]
    return sites.log_evidence + math.log(weight), system


def _effects(prior: PresencePrior, strength: float) -> Effects:
    scale = math.sqrt(1.0 + strength**2)
    return Effects(
        prior.part_mean * scale,
        (prior.part_sd * scale) ** 2,
        level=prior.level * scale,
        level_precision=1.0 / (prior.level_sd * scale) ** 2,
    )


def _station_sites(
    stations: Readings, effects: Effects, covariance: Covariance, likelihoods: tuple[Array, Array]
) -> Sites:
    there, absent = likelihoods

    def report(cavity_mean: Array, cavity_var: Array) -> Tilt:
        spread = np.sqrt(1.0 + cavity_var)
        z = cavity_mean / spread
        total = np.maximum(absent + (there - absent) * ndtr(z), _LEAST_LIKELIHOOD)
        density = np.exp(-0.5 * z * z) / math.sqrt(2 * math.pi)
        slope = (there - absent) * density / (spread * total)
        return Tilt(np.log(total), slope, slope * (z / spread + slope))

    cov = latent_covariance(stations, effects, covariance) + 1.0 / effects.level_precision
    cov[np.diag_indices_from(cov)] *= 1.0 + 1e-9
    return propagate(effects.level + effects.part_mean[stations.part], cov, report)
