"""How one quantity at candidate places hangs together with the same at the places of the plan."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Column = Callable[[int], Floats]
_TINY = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class Link:
    """Covariances given the readings there are.

    Parameters
    ----------
    covariance
        Covariance of candidates and places, shape ``(candidates, places)``.
    own
        Variance at each candidate of what a reading there measures, shape ``(candidates,)``.
    variance
        Variance at each place, shape ``(places,)``.
    column
        Covariance of all candidates with the one given, shape ``(candidates,)``.
    """

    covariance: Floats
    own: Floats
    variance: Floats
    column: Column


class Known:
    """A link after some candidates have been taken: what they explain, what is left."""

    def __init__(self, link: Link) -> None:
        self._link = link
        self.covariance = link.covariance.copy()
        self.own = link.own.copy()
        self.explained = np.zeros(len(link.variance))
        self._taken: list[Floats] = []

    @property
    def share(self) -> Floats:
        """Share of the standard deviation that is explained at each place."""
        return self._share(self.explained)

    def share_with(self, rows: NDArray[np.int64], noise: float) -> Floats:
        """Return that share with each of `rows` added, shape ``(rows, places)``.

        `noise` is the variance of the error of the reading.
        """
        total = (self.own[rows] + noise)[:, None]
        return self._share(self.explained + self.covariance[rows] ** 2 / total)

    def take(self, row: int, noise: float) -> None:
        """Take the candidate `row`: a reading there, with that variance of error, counts."""
        root = float(np.sqrt(self.own[row] + noise))
        towards = self._link.column(row).copy()
        for earlier in self._taken:
            towards -= earlier * earlier[row]
        towards /= root
        at_places = self.covariance[row] / root
        self.explained = self.explained + at_places**2
        self.covariance -= np.outer(towards, at_places)
        self.own = np.maximum(self.own - towards**2, 0.0)
        self._taken.append(towards)

    def _share(self, explained: Floats) -> Floats:
        most = np.maximum(self._link.variance, _TINY)
        return np.asarray(np.sqrt(np.clip(explained / most, 0.0, 1.0)))
