"""What one more station at each candidate would tell about the pan at other places.

The covariance of a Gaussian model does not depend on what is read, so it is known beforehand.
Families of covariance are averaged by matching the mean and covariance of their mixture.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from zoning.surface.covariance import Array, Index
from zoning.surface.pan import PanModel
from zoning.surface.threads import one_thread


@dataclass(frozen=True, slots=True, eq=False)
class Spots:
    """Places ``(n, 2)`` in the axes of a model's stations [m], each with the code of its part."""

    xy_m: Array
    part: Index

    @classmethod
    def of(cls, model: PanModel, xy_m: Array, parts: Sequence[str]) -> Spots:
        """Return the spots of places of the working CRS whose parts are named."""
        places = np.asarray(xy_m, np.float64).reshape(-1, 2)
        return cls(model.stations.axes.inward(places), model.stations.parts.of(parts))

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
    variance
        Its variance at the places, as far as readings can lower it, shape ``(places,)``.
    column
        Returns its covariance at all candidates with that at the candidate given.
    """

    covariance: Array
    own: Array
    variance: Array
    column: Callable[[int], Array]


@one_thread
def base_exchange(model: PanModel, places: Spots, candidates: Spots) -> Exchange:
    """Return what a station tells about the depth of the base [cm2].

    Parameters
    ----------
    model
        The fitted model.
    places, candidates
        Where the base matters, and where a station might stand.
    """
    off_places, off_candidates = _offsets(model, places), _offsets(model, candidates)

    def between(b: Spots, off_b: Sequence[Array]) -> Array:
        total = np.zeros((len(candidates.xy_m), len(b.xy_m)))
        families = zip(model.base.systems, off_candidates, off_b, strict=True)
        for (weight, system), off, other in families:
            part = system.posterior_covariance(candidates.xy_m, candidates.part, b.xy_m, b.part)
            total += weight * (part + np.outer(off, other))
        return total * model.base.variance_factor

    return Exchange(
        between(places, off_places),
        model.base.predict(candidates.xy_m, candidates.part)[1],
        model.base.predict(places.xy_m, places.part)[1],
        lambda row: between(candidates.one(row), [off[[row]] for off in off_candidates])[:, 0],
    )


@one_thread
def presence_exchange(model: PanModel, places: Spots, candidates: Spots) -> Exchange:
    """Return what a station tells about where there is a pan.

    The quantity is the latent of unit variance whose sign says whether there is a pan: the smooth
    latent and the probit's own noise, scaled. What is noise at a place can be learnt there alone.

    Parameters
    ----------
    model, places, candidates
        As for `base_exchange`.
    """
    at_places, at_candidates = _spreads(model, places), _spreads(model, candidates)
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
        np.ones(len(candidates.xy_m)),
        np.sum([w * v / (1.0 + v) for w, v in zip(weights, at_places, strict=True)], axis=0),
        column,
    )


def _offsets(model: PanModel, spots: Spots) -> list[Array]:
    """Return how far the mean of each family lies from that of all."""
    own = [(w, system.predict(spots.xy_m, spots.part)[0]) for w, system in model.base.systems]
    mean = np.sum([weight * each for weight, each in own], axis=0)
    return [each - mean for _, each in own]


def _spreads(model: PanModel, spots: Spots) -> list[Array]:
    return [system.predict(spots.xy_m, spots.part)[1] for _, system in model.presence.nodes]
