"""The next stations, one after the other, each with those before it taken into account."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from zoning.survey.answers import Answers
from zoning.survey.link import Known, Link
from zoning.survey.value import Floats, ValueTable

Ints = NDArray[np.int64]

_ROWS = 128
_TINY = 1e-12
_LEAST_CHANCE = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """Where a station might stand, and what it would tell.

    Parameters
    ----------
    xy_m
        Shape ``(candidates, 2)`` [m].
    chance
        Probability of a pan now, shape ``(candidates,)``.
    base, presence
        What a station tells about the base, and about where there is a pan.
    error_var_cm2
        Variance of the error of the base of a station.
    """

    xy_m: Floats
    chance: Floats
    base: Link
    presence: Link
    error_var_cm2: float


@dataclass(frozen=True, slots=True)
class Rule:
    """When to stop, and how far apart to stay.

    Parameters
    ----------
    count
        Most stations.
    least_cm_ha
        Choosing ends when the best further station gains less than this [cm ha].
    apart_m
        Least distance between stations of a batch [m].
    """

    count: int
    least_cm_ha: float
    apart_m: float


@dataclass(frozen=True, slots=True, eq=False)
class Batch:
    """Stations chosen, in the order of choice.

    Parameters
    ----------
    rows
        Candidates chosen.
    gain_cm_ha
        How much each lowers the expected loss of the plan, those before it known [cm ha].
    base_share
        Share of the standard deviation of the base that all of them explain, shape ``(places,)``.
    chance, weight
        Scenarios of their answers: probability of a pan at the places, shape ``(scenarios,
        places)``, and how likely each is.
    """

    rows: tuple[int, ...]
    gain_cm_ha: tuple[float, ...]
    base_share: Floats
    chance: Floats
    weight: Floats


class State:
    """The field with the stations taken so far: what their readings explain, what they may say.

    Parameters
    ----------
    table
        Value of every share and chance at the places.
    candidates
        Where a station might stand.
    """

    def __init__(self, table: ValueTable, candidates: Candidates) -> None:
        self._table = table
        self._candidates = candidates
        self.base = Known(candidates.base)
        self.answers = Answers(
            candidates.presence,
            table.outlook.pan_probability,
            candidates.chance,
            table.quadrature.scenarios,
        )

    def loss_cm_ha(self) -> float:
        """Return the loss of the field to be expected as things stand [cm ha]."""
        chance = self.answers.place_chance
        share = np.broadcast_to(self.base.share, chance.shape)
        return float(self.answers.weight @ self._table.at(share, chance) @ self._area)

    def gains(self, rows: Ints) -> Floats:
        """Return how much a station at each of `rows` is expected to lower the loss [cm ha].

        Where it finds a pan it also reads the base; where it finds none it does not.
        """
        read = self.base.share_with(rows, self._candidates.error_var_cm2)
        unread = np.broadcast_to(self.base.share, read.shape)
        yes = self.answers.chance_at(rows)
        after = np.zeros(len(rows))
        for scenario, weight in enumerate(self.answers.weight):
            with_pan, without = self.answers.after(rows, scenario)
            found = self._table.at(read, with_pan) @ self._area
            missed = self._table.at(unread, without) @ self._area
            after += weight * (yes[scenario] * found + (1.0 - yes[scenario]) * missed)
        return self.loss_cm_ha() - after

    def take(self, row: int) -> None:
        """Take the candidate `row`.

        The base is read there only if there is a pan: the variance that it explains is lessened by
        that chance, the error set to match.
        """
        chance = float(self.answers.weight @ self.answers.chance_at(np.array([row]))[:, 0])
        own, error = float(self.base.own[row]), self._candidates.error_var_cm2
        self.base.take(row, (own + error) / max(chance, _LEAST_CHANCE) - own)
        self.answers.take(row)

    @property
    def _area(self) -> Floats:
        return self._table.outlook.area_ha


def choose_next(table: ValueTable, candidates: Candidates, rule: Rule) -> Batch:
    """Return the candidates of greatest expected gain, chosen one after the other.

    A gain that was worked out before the last station was taken serves as a bound for the next
    (lazy greedy; Minoux M., 1978, from memory): a further station rarely makes another worth more.
    """
    state = State(table, candidates)
    bound = np.concatenate([state.gains(rows) for rows in _blocks(np.arange(len(candidates.xy_m)))])
    rows: list[int] = []
    gains: list[float] = []
    while len(rows) < rule.count:
        row = int(np.argmax(bound)) if not rows else _best(state, bound)
        if bound[row] <= max(rule.least_cm_ha, _TINY):
            break
        rows.append(row)
        gains.append(float(bound[row]))
        state.take(row)
        near = np.hypot(*(candidates.xy_m - candidates.xy_m[row]).T) < rule.apart_m
        bound[near] = -np.inf
        bound[row] = -np.inf
    answers = state.answers
    return Batch(tuple(rows), tuple(gains), state.base.share, answers.place_chance, answers.weight)


def _best(state: State, bound: Floats) -> int:
    """Return the candidate of greatest gain; `bound` is brought up to date where need be."""
    order = np.argsort(-bound, kind="stable")
    best = -np.inf  # once it reaches the bounds not yet brought up to date, no other is greater
    for rows in _blocks(order[np.isfinite(bound[order])]):
        if best >= bound[rows[0]]:
            break
        bound[rows] = state.gains(rows)
        best = max(best, float(bound[rows].max()))
    return int(np.argmax(bound))


def _blocks(rows: Ints) -> list[Ints]:
    return [rows[start : start + _ROWS] for start in range(0, len(rows), _ROWS)]
