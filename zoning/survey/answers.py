r"""Where there is a pan: what answers yes and no at further stations tell about other places.

The pan is there where a latent :math:`u` of unit variance is positive; the probit of the
probability is its mean. An answer at one place tells of another by the bivariate normal
distribution: :math:`P(u_i > 0 \mid u_c > 0) = \Phi_2(t_i, t_c; \rho) / \Phi(t_c)` with :math:`t`
mean over standard deviation. After a station is taken its answers make two scenarios, in which the
latent is taken as Gaussian again with the mean of the cut-off distribution (assumed density
filtering; Minka T., UAI 2001, from memory) and the variance that is left on average.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from zoning.survey.link import Link
from zoning.survey.value import Floats

_SURE = 1e-6
_LEAST_VARIANCE = 1e-6
_ANGLES = 6
_MOST_CORRELATION = 0.9999


class Answers:
    """The chance of a pan at places and candidates in each scenario of answers taken so far.

    Parameters
    ----------
    link
        Covariance of the latent at candidates and places; `variance` is what can be explained of
        the unit variance at a place.
    place_chance, candidate_chance
        Probability of a pan now, shapes ``(places,)`` and ``(candidates,)``.
    most
        Most scenarios kept.
    """

    def __init__(
        self, link: Link, place_chance: Floats, candidate_chance: Floats, most: int
    ) -> None:
        self._column = link.column
        self._most = most
        self._taken: list[Floats] = []
        self._covariance = link.covariance.copy()
        self._place_var = np.ones(len(place_chance))
        self._candidate_var = link.own.copy()
        self._place_mean = _probit(place_chance)[None]
        self._candidate_mean = _probit(candidate_chance)[None]
        self.weight = np.ones(1)

    @property
    def place_chance(self) -> Floats:
        """Probability of a pan at the places, shape ``(scenarios, places)``."""
        return np.asarray(ndtr(self._place_mean / np.sqrt(self._place_var)))

    def chance_at(self, rows: NDArray[np.int64]) -> Floats:
        """Return the probability of a pan at candidates, shape ``(scenarios, rows)``."""
        return np.asarray(ndtr(self._level(rows)))

    def after(self, rows: NDArray[np.int64], scenario: int) -> tuple[Floats, Floats]:
        """Return the probability of a pan at the places after yes and after no at candidates.

        Shape ``(rows, places)`` each.
        """
        level = self._level(rows)[scenario][:, None]
        spread = np.sqrt(np.outer(self._candidate_var[rows], self._place_var))
        correlation = self._covariance[rows] / spread
        place = (self._place_mean[scenario] / np.sqrt(self._place_var))[None]
        both = both_positive(place, level, correlation)
        yes, chance = ndtr(level), ndtr(place)
        after_yes = both / np.maximum(yes, _SURE)
        after_no = (chance - both) / np.maximum(1.0 - yes, _SURE)
        return np.clip(after_yes, 0.0, 1.0), np.clip(after_no, 0.0, 1.0)

    def take(self, row: int) -> None:
        """Take the candidate `row`: each scenario parts in two, and the weights tell how likely."""
        root = float(np.sqrt(self._candidate_var[row]))
        level = self._candidate_mean[:, row] / root
        yes = np.clip(ndtr(level), _SURE, 1.0 - _SURE)
        density = np.exp(-0.5 * level**2) / np.sqrt(2.0 * np.pi)
        shift = np.concatenate([density / yes, -density / (1.0 - yes)])
        towards = self._column(row).copy()
        for earlier in self._taken:
            towards -= earlier * earlier[row]
        to_candidates, to_places = towards / root, self._covariance[row] / root
        self._place_mean = np.tile(self._place_mean, (2, 1)) + np.outer(shift, to_places)
        self._candidate_mean = np.tile(self._candidate_mean, (2, 1)) + np.outer(
            shift, to_candidates
        )
        told = float(self.weight @ (density**2 / (yes * (1.0 - yes))))
        self.weight = np.concatenate([self.weight * yes, self.weight * (1.0 - yes)])
        self._explain(to_candidates * np.sqrt(told), to_places * np.sqrt(told))
        self._thin()

    def _level(self, rows: NDArray[np.int64]) -> Floats:
        return np.asarray(self._candidate_mean[:, rows] / np.sqrt(self._candidate_var[rows]))

    def _explain(self, to_candidates: Floats, to_places: Floats) -> None:
        self._taken.append(to_candidates)
        self._covariance -= np.outer(to_candidates, to_places)
        self._place_var = np.maximum(self._place_var - to_places**2, _LEAST_VARIANCE)
        self._candidate_var = np.maximum(self._candidate_var - to_candidates**2, _LEAST_VARIANCE)

    def _thin(self) -> None:
        """Keep at most `most` scenarios, drawn evenly along their weights (systematic sampling)."""
        if len(self.weight) <= self._most:
            return
        marks = (np.arange(self._most) + 0.5) / self._most
        kept = np.minimum(np.searchsorted(np.cumsum(self.weight), marks), len(self.weight) - 1)
        self._place_mean = self._place_mean[kept]
        self._candidate_mean = self._candidate_mean[kept]
        self.weight = np.full(self._most, 1.0 / self._most)


def both_positive(a: Floats, b: Floats, correlation: Floats) -> Floats:
    """Return ``P(u > 0, v > 0)`` of normal variables of unit variance and means `a` and `b`.

    ``Phi(a) Phi(b) + 1 / (2 pi) int_0^asin(r) exp(-(a^2 + b^2 - 2 a b sin t) / (2 cos^2 t)) dt``
    (Drezner Z., Wesolowsky G.O., J. Statist. Comput. Simul. 35, 1990, 101-107; from memory), by
    Gauss-Legendre quadrature; shapes are broadcast.
    """
    angle = np.arcsin(np.clip(correlation, -_MOST_CORRELATION, _MOST_CORRELATION))
    places, weights = np.polynomial.legendre.leggauss(_ANGLES)
    square, product = a * a + b * b, 2.0 * a * b
    total = np.zeros(np.broadcast_shapes(square.shape, angle.shape))
    for place, weight in zip(places, weights, strict=True):
        sine = np.sin(angle * (0.5 * (place + 1.0)))
        total += weight * np.exp((product * sine - square) / (2.0 * (1.0 - sine * sine)))
    return np.asarray(ndtr(a) * ndtr(b) + total * angle / (4.0 * np.pi))


def _probit(chance: Floats) -> Floats:
    return np.asarray(ndtri(np.clip(chance, _SURE, 1.0 - _SURE)))
