"""The next stations, one after the other, each with those before it taken into account."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from zoning.survey.value import Floats, ValueTable

Column = Callable[[int], Floats]
_ROWS = 400
_TINY = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class Link:
    """How one quantity at the candidates hangs together with the same at the places.

    Parameters
    ----------
    covariance
        Covariance of candidates and places given the readings, shape ``(candidates, places)``.
    own
        Variance at each candidate of what a reading there measures, shape ``(candidates,)``.
    noise
        Variance of the reading's error, shape ``(candidates,)``.
    variance
        Variance at each place, shape ``(places,)``.
    column
        Covariance of all candidates with the one given, shape ``(candidates,)``.
    """

    covariance: Floats
    own: Floats
    noise: Floats
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

    def explained_with(self, rows: NDArray[np.int64]) -> Floats:
        """Return the variance explained at each place with each of `rows` added, (rows, places)."""
        total = self.own[rows] + self._link.noise[rows]
        return self.explained + self.covariance[rows] ** 2 / total[:, None]

    def share(self, explained: Floats) -> Floats:
        """Return the share of the standard deviation that the variance `explained` makes up."""
        most = np.maximum(self._link.variance, _TINY)
        return np.sqrt(np.clip(explained / most, 0.0, 1.0))

    def take(self, row: int) -> None:
        """Take the candidate `row`: a reading there counts from now on."""
        root = float(np.sqrt(self.own[row] + self._link.noise[row]))
        towards = self._link.column(row).copy()
        for earlier in self._taken:
            towards -= earlier * earlier[row]
        towards /= root
        at_places = self.covariance[row] / root
        self.explained = self.explained + at_places**2
        self.covariance -= np.outer(towards, at_places)
        self.own = np.maximum(self.own - towards**2, 0.0)
        self._taken.append(towards)


@dataclass(frozen=True, slots=True, eq=False)
class Batch:
    """Stations chosen, in the order of choice.

    Parameters
    ----------
    rows
        Candidates chosen.
    gain_cm_ha
        How much each lowers the expected loss of the plan, those before it known [cm ha].
    base_share, presence_share
        Shares explained at each place by all of them; see `zoning.survey.value`.
    """

    rows: tuple[int, ...]
    gain_cm_ha: tuple[float, ...]
    base_share: Floats
    presence_share: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Rule:
    """When to stop, and how far apart to stay.

    Parameters
    ----------
    count
        Most stations.
    least_cm_ha
        Choosing ends when the best further station gains less than this [cm ha].
    apart_m
        Least distance between stations of a batch [m]: an answer yes or no taken again close by
        says less than the Gaussian answer it is reckoned as.
    """

    count: int
    least_cm_ha: float
    apart_m: float


def choose_next(table: ValueTable, base: Link, presence: Link, xy_m: Floats, rule: Rule) -> Batch:
    """Return the candidates of greatest expected gain, chosen one after the other.

    Parameters
    ----------
    table
        Value of every share explained at the places.
    base, presence
        What a station at each candidate tells about the base and about where there is a pan.
    xy_m
        The candidates, shape ``(candidates, 2)`` [m].
    rule
        When to stop.
    """
    known = Known(base), Known(presence)
    loss = total_loss(table, *(k.share(k.explained) for k in known))
    rows: list[int] = []
    gains: list[float] = []
    free = np.ones(len(xy_m), dtype=bool)
    while len(rows) < rule.count and free.any():
        after = np.where(free, losses_after(table, *known), np.inf)
        row = int(np.argmin(after))
        gain = loss - float(after[row])
        if gain <= max(rule.least_cm_ha, _TINY):
            break
        for each in known:
            each.take(row)
        loss = float(after[row])
        free[row] = False
        free &= np.hypot(*(xy_m - xy_m[row]).T) >= rule.apart_m
        rows.append(row)
        gains.append(gain)
    shares = [k.share(k.explained) for k in known]
    return Batch(tuple(rows), tuple(gains), *shares)


def total_loss(table: ValueTable, base_share: Floats, presence_share: Floats) -> float:
    """Return the expected loss of the field [cm ha]."""
    return float(table.at(base_share, presence_share) @ table.outlook.area_ha)


def losses_after(table: ValueTable, base: Known, presence: Known) -> Floats:
    """Return the loss of the field to be expected with each candidate added [cm ha]."""
    count = len(base.own)
    losses = np.empty(count)
    for start in range(0, count, _ROWS):
        rows = np.arange(start, min(start + _ROWS, count))
        shares = [known.share(known.explained_with(rows)) for known in (base, presence)]
        losses[rows] = table.at(*shares) @ table.outlook.area_ha
    return losses
