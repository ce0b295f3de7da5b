"""The best few working depths for the passes as they will be driven.

The shortest run and the charge for changes decide which depths pay, so sets of depths are compared
by the cost of the cheapest sequences along the passes, not cell by cell. The search adds the depth
that helps most, then changes one depth at a time for as long as that helps, and so on up to the
number allowed; more depths therefore never cost more. Then every other set of that many depths
whose lower bound beats the best is tried, the most promising first, as far as the allowance of
trials reaches: if it reaches to the end the choice is exact.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations
from math import comb

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Columns = tuple[int, ...]
Objective = Callable[[Ints], Floats]

_SAME_COST = 1e-9  # share of the cost by which a set must be better


@dataclass(frozen=True, slots=True)
class Found:
    """The set found: its columns, its cost, and whether no other set can be better."""

    columns: Columns
    cost: float
    proven: bool
    trials: int


class Search:
    """Searches sets of columns of a cost table; column 0, legs lifted out, belongs to every set.

    Parameters
    ----------
    objective
        Cost of each set, given as columns of shape ``(sets, levels)`` with column 0 first.
    n_options
        Number of columns.
    """

    def __init__(self, objective: Objective, n_options: int) -> None:
        self._objective, self._options = objective, range(1, n_options)
        self._known: dict[Columns, float] = {}

    def best(self, most: int, *, bounds: Callable[[Ints], Floats], trials: int, sets: int) -> Found:
        """Return the best set of at most `most` working depths.

        Parameters
        ----------
        most
            Most working depths.
        bounds
            Lower bound of the objective, called as the objective is.
        trials
            Allowance of sets to try for the proof.
        sets
            Largest number of sets of which the bounds are looked at.
        """
        columns: Columns = ()
        for _ in range(min(most, len(self._options))):
            grown = self._climb(self._add(columns))
            if columns and not self._better(grown, columns):
                break
            columns = grown
        columns, proven = self._prove(columns, min(most, len(self._options)), bounds, trials, sets)
        return Found(columns, self._known[columns], proven, len(self._known))

    def _add(self, columns: Columns) -> Columns:
        return self._cheapest([_with(columns, c) for c in self._options if c not in columns])

    def _climb(self, columns: Columns) -> Columns:
        """Change one depth at a time for as long as that helps."""
        while True:
            near = [
                _with(tuple(c for c in columns if c != old), new)
                for old in columns
                for new in self._options
                if new not in columns
            ]
            best = self._cheapest(near) if near else columns
            if not self._better(best, columns):
                return columns
            columns = best

    def _prove(
        self,
        columns: Columns,
        most: int,
        bounds: Callable[[Ints], Floats],
        trials: int,
        sets: int,
    ) -> tuple[Columns, bool]:
        if comb(len(self._options), most) > sets:
            return columns, False
        others = list(combinations(self._options, most))
        low = bounds(_table(others))
        order = np.argsort(low, kind="stable")
        untried = [others[i] for i in order if others[i] not in self._known]
        left = {others[i]: low[i] for i in order}
        for first in range(0, len(untried), _BATCH):
            batch = [s for s in untried[first : first + _BATCH] if left[s] < self._known[columns]]
            if not batch:
                return columns, True
            if first >= trials:
                return columns, False
            best = self._cheapest(batch)
            columns = best if self._better(best, columns) else columns
        return columns, True

    def _better(self, one: Columns, other: Columns) -> bool:
        cost = self._known[other]
        return (
            self._known[one] < cost - _SAME_COST * abs(cost)
            if np.isfinite(cost)
            else (np.isfinite(self._known[one]))
        )

    def _cheapest(self, sets: list[Columns]) -> Columns:
        """Return the cheapest of the sets, the shallowest of equals."""
        new = [s for s in sets if s not in self._known]
        if new:
            self._known.update(zip(new, self._objective(_table(new)).tolist(), strict=True))
        return min(sets, key=lambda s: (self._known[s], s))


_BATCH = 32  # sets tried at once for the proof


def _with(columns: Columns, new: int) -> Columns:
    return tuple(sorted((*columns, new)))


def _table(sets: list[Columns]) -> Ints:
    """Return sets of one size as rows of columns with column 0 before them."""
    return np.array([(0, *s) for s in sets], dtype=np.int64)
