"""What one more station at each candidate would tell about the pan at other places.

The covariance of a Gaussian model does not depend on what is read, so it is known beforehand.
Families of covariance are averaged by matching the mean and covariance of their mixture.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from zoning.surface.covariance import Array, Index
from zoning.surface.pan import PanModel
from zoning.surface.priors import reporting
from zoning.surface.threads import one_thread

_SURE = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Spots:
    """Places ``(n, 2)`` [m], each with the code of its part."""

    xy_m: Array
    part: Index

    @classmethod
    def of(cls, model: PanModel, xy_m: Array, parts: Sequence[str]) -> Spots:
        """Return the spots of places whose parts are named."""
        return cls(np.asarray(xy_m, np.float64).reshape(-1, 2), model.stations.parts.of(parts))

    def one(self, row: int) -> Spots:
        """Return one of them."""
        return Spots(self.xy_m[[row]], self.part[[row]])


@dataclass(frozen=True, slots=True, eq=False)
class Exchange:
    """What a station at each candidate tells about one quantity at the places.

    Parameters
    ----------
    covariance
        Of the quantity at candidates and places, given the readings: ``(candidates, places)``.
    own
        Its variance at the candidates, shape ``(candidates,)``.
    noise
        Variance of the error of what a station there says about it, shape ``(candidates,)``.
    variance
        Its variance at the places, as far as readings can lower it, shape ``(places,)``.
    column
        Returns its covariance at all candidates with that at the candidate given.
    """

    covariance: Array
    own: Array
    noise: Array
    variance: Array
    column: Callable[[int], Array]


@one_thread
def base_exchange(
    model: PanModel, places: Spots, candidates: Spots, error_sd_cm: float
) -> Exchange:
    """Return what a station tells about the depth of the base [cm2].

    A base is read only where there is a pan: with probability `p` of one, the variance that the
    reading explains is `p` times that of a sure reading, and the error is set to match.

    Parameters
    ----------
    model
        The fitted model.
    places, candidates
        Where the base matters, and where a station might stand.
    error_sd_cm
        Standard error of the base of a station [cm].
    """

    def between(a: Spots, b: Spots) -> Array:
        return _mixed_covariance(model, a, b)

    own = model.base.predict(candidates.xy_m, candidates.part)[1]
    variance = model.base.predict(places.xy_m, places.part)[1]
    pan = np.maximum(model.presence.predict(candidates.xy_m, candidates.part), _SURE)
    noise = (own + error_sd_cm**2) / pan - own
    return Exchange(
        between(candidates, places),
        own,
        noise,
        variance,
        lambda row: between(candidates, candidates.one(row))[:, 0],
    )


@one_thread
def presence_exchange(
    model: PanModel, places: Spots, candidates: Spots, insertions: int
) -> Exchange:
    """Return what a station tells about where there is a pan.

    The quantity is the latent of unit variance whose sign says whether there is a pan. An answer
    explains the share ``((a + b - 1) phi(h))^2 / (q (1 - q))`` of its variance at the station, with
    `h` the probit of the pan's probability, `a` and `b` the probability of a true answer where
    there is a pan and where there is none, and `q` that of the answer yes (variance between the
    means of the two halves of a cut normal distribution).

    Parameters
    ----------
    model, places, candidates
        As for `base_exchange`.
    insertions
        Insertions at a station.
    """
    yes, no = _true_answers(insertions)
    pan = np.clip(model.presence.predict(candidates.xy_m, candidates.part), _SURE, 1.0 - _SURE)
    said = yes * pan + (1.0 - no) * (1.0 - pan)
    density = np.exp(-0.5 * ndtri(pan) ** 2) / math.sqrt(2.0 * math.pi)
    told = ((yes + no - 1.0) * density) ** 2 / (said * (1.0 - said))
    at_places = _spreads(model, places)
    at_candidates = _spreads(model, candidates)
    weights = [weight for weight, _ in model.presence.nodes]

    def between(a: Spots, b: Spots, va: Sequence[Array], vb: Sequence[Array]) -> Array:
        total = np.zeros((len(a.xy_m), len(b.xy_m)))
        for (weight, system), u, v in zip(model.presence.nodes, va, vb, strict=True):
            part = system.posterior_covariance(a.xy_m, a.part, b.xy_m, b.part)
            total += weight * part / np.sqrt(np.outer(1.0 + u, 1.0 + v))
        return total

    def column(row: int) -> Array:
        here = [v[[row]] for v in at_candidates]
        towards = between(candidates, candidates.one(row), at_candidates, here)[:, 0]
        towards[row] = 1.0  # the state of the place itself
        return towards

    return Exchange(
        between(candidates, places, at_candidates, at_places),
        np.ones(len(pan)),
        1.0 / told - 1.0,
        np.sum([w * v / (1.0 + v) for w, v in zip(weights, at_places, strict=True)], axis=0),
        column,
    )


def _mixed_covariance(model: PanModel, a: Spots, b: Spots) -> Array:
    mean_a = model.base.predict(a.xy_m, a.part)[0]
    mean_b = model.base.predict(b.xy_m, b.part)[0]
    total = np.zeros((len(a.xy_m), len(b.xy_m)))
    for weight, system in model.base.systems:
        part = system.posterior_covariance(a.xy_m, a.part, b.xy_m, b.part)
        off_a = system.predict(a.xy_m, a.part)[0] - mean_a
        off_b = system.predict(b.xy_m, b.part)[0] - mean_b
        total += weight * (part + np.outer(off_a, off_b))
    return total


def _spreads(model: PanModel, spots: Spots) -> list[Array]:
    return [system.predict(spots.xy_m, spots.part)[1] for _, system in model.presence.nodes]


def _true_answers(insertions: int) -> tuple[float, float]:
    """Return the probability of a true answer where there is a pan and where there is none."""
    all_of_them, known = np.array([float(insertions)]), np.array([float(insertions)])
    there, absent = reporting().likelihoods(all_of_them, known)
    there_no, absent_no = reporting().likelihoods(np.zeros(1), known)
    yes = there[0] / (there[0] + there_no[0])
    no = absent_no[0] / (absent_no[0] + absent[0])
    return float(yes), float(no)
