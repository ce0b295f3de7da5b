"""The best few working depths for the passes as they will be driven.

The shortest run and the charge for changes decide which depths pay, so sets of depths are compared
by the cost of the cheapest sequences along the passes, not place by place. The search adds the
depth that helps most, then exchanges one depth at a time for as long as that helps, and so on up to
the number allowed. Then all sets of that many depths are tried by rising lower bound, until no
bound beats the best: if the allowance of trials reaches that far the choice is exact.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations
from math import comb
from typing import TypeGuard

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Columns = tuple[int, ...]
Objective = Callable[[Ints], Floats]

_SAME_COST = 1e-9  # share of the cost by which a set must be better
_BATCH = 32  # sets whose tight bound is looked at at once
_FEW = 4  # sets tried at once


@dataclass(frozen=True, slots=True)
class Found:
    """The set found: its columns, its cost, and whether no other set can be better.

    `fewer` holds the cheapest set that was tried of at most one depth, at most two, and so on.
    """

    columns: Columns
    cost: float
    proven: bool
    trials: int
    fewer: tuple[Columns, ...] = ()


class Search:
    """Searches sets of columns of a cost table; column 0, legs lifted out, belongs to every set.

    Parameters
    ----------
    objective
        Cost of each set, given as columns of shape ``(sets, levels)`` with column 0 first.
    bounds
        Lower bound of the objective, called alike: sets that cannot win are not tried.
    tight
        A tighter one that takes longer; looked at where `bounds` does not rule a set out.
    n_options
        Number of columns.
    trials
        Allowance of sets to try; beyond it depths are still added, but no more exchanged or proven.
    """

    def __init__(
        self,
        objective: Objective,
        bounds: Objective,
        n_options: int,
        *,
        trials: int,
        tight: Objective | None = None,
    ) -> None:
        self._objective, self._bounds, self._tight = objective, bounds, tight or bounds
        self._options, self._trials = range(1, n_options), trials
        self._known: dict[Columns, float] = {}

    def best(self, most: int, *, sets: int) -> Found:
        """Return the best set of at most `most` working depths.

        Parameters
        ----------
        most
            Most working depths.
        sets
            Largest number of sets of which the bounds are looked at for the proof.

        Raises
        ------
        ValueError
            If no single depth can be driven.
        """
        most = min(most, len(self._options))
        single = self._cheapest([(c,) for c in self._options], np.inf)
        if single is None:
            raise ValueError("Some step of a pass allows none of the depths.")
        columns = self._climb(single)
        for _ in range(1, most):
            more = [_with(columns, c) for c in self._options if c not in columns]
            grown = self._cheapest(more, self._known[columns])
            if not self._better(grown, columns):
                break
            columns = self._climb(grown)
        proven = comb(len(self._options), most) <= sets
        if proven:
            every = list(combinations(self._options, most))
            best, proven = self._try(every, self._known[columns], limit=self._trials)
            columns = best if self._better(best, columns) else columns
        return self._found(columns, proven=proven)

    def without(self, found: Found, column: int) -> Found:
        """Return the cheapest set tried of one depth fewer without `column`, or of fewer still.

        The depths of `found` less that one are among them.
        """
        rest = tuple(c for c in found.columns if c != column)
        self._learn([rest])
        tried = (s for s in self._known if len(s) < len(rest) + (column not in s))
        return self._found(min(tried, key=lambda s: (self._known[s], s)), proven=found.proven)

    def _found(self, columns: Columns, *, proven: bool) -> Found:
        fewer = tuple(self._cheapest_tried(size) for size in range(1, len(columns)))
        return Found(columns, self._known[columns], proven, len(self._known), fewer)

    def _cheapest_tried(self, size: int) -> Columns:
        return min((s for s in self._known if len(s) <= size), key=lambda s: (self._known[s], s))

    def _climb(self, columns: Columns) -> Columns:
        """Change one depth at a time for as long as that helps and the allowance reaches."""
        while len(self._known) < self._trials:
            near = [
                _with(tuple(c for c in columns if c != old), new)
                for old in columns
                for new in self._options
                if new not in columns
            ]
            best = self._cheapest(near, self._known[columns])
            if not self._better(best, columns):
                break
            columns = best
        return columns

    def _cheapest(self, sets: list[Columns], below: float) -> Columns | None:
        """Return the cheapest of the sets, `None` if all their bounds reach `below`."""
        return self._try(sets, below, limit=None)[0]

    def _try(
        self, sets: list[Columns], below: float, *, limit: int | None
    ) -> tuple[Columns | None, bool]:
        """Try sets by rising bound until none can be cheaper than `below` or what was found.

        Returns the cheapest tried, the shallowest of equals, and whether the limit was kept.
        """
        best: Columns | None = None
        looked = len(self._known)  # a tight bound takes up to as long as a trial
        if not sets:
            return best, True
        low = self._bounds(_table(sets))
        order = np.argsort(low, kind="stable")
        for first in range(0, len(order), _BATCH):
            batch = [sets[i] for i in order[first : first + _BATCH] if low[i] < below]
            if not batch:
                break
            if limit is not None and looked >= limit:
                return best, False
            looked += sum(one not in self._known for one in batch)
            found = self._try_batch(batch, below)
            if found is not None:
                tried = [found] if best is None else [found, best]
                best = min(tried, key=lambda s: (self._known[s], s))
                below = min(below, self._known[best])
        return best, True

    def _try_batch(self, batch: list[Columns], below: float) -> Columns | None:
        """Try a few sets at a time by rising tight bound; return the cheapest tried, if any."""
        low = self._tight(_table(batch))
        order = np.argsort(low, kind="stable")
        best: Columns | None = None
        for first in range(0, len(order), _FEW):
            few = [batch[i] for i in order[first : first + _FEW] if low[i] <= below]
            if not few:
                break
            self._learn(few)
            tried = few if best is None else [*few, best]
            best = min(tried, key=lambda s: (self._known[s], s))
            below = min(below, self._known[best])
        return best

    def _learn(self, sets: list[Columns]) -> None:
        new = [s for s in sets if s not in self._known]
        if new:
            self._known.update(zip(new, self._objective(_table(new)).tolist(), strict=True))

    def _better(self, one: Columns | None, other: Columns) -> TypeGuard[Columns]:
        """Return whether one set is cheaper than another by more than rounding."""
        if one is None:
            return False
        cost = self._known[other]
        slack = _SAME_COST * abs(cost) if np.isfinite(cost) else 0.0
        return self._known[one] < cost - slack


def _with(columns: Columns, new: int) -> Columns:
    return tuple(sorted((*columns, new)))


def _table(sets: list[Columns]) -> Ints:
    """Return sets of one size as rows of columns with column 0 before them."""
    return np.array([(0, *s) for s in sets], dtype=np.int64)
