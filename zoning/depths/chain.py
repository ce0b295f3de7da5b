"""The cheapest sequence of depths along passes, with a shortest run and a charge per change.

A pass is a chain of steps, each with a cost for each level. The sequence of least total cost is
found exactly, by dynamic programming over runs (a hidden semi-Markov chain in the manner of Viterbi
1967).

- Every run is at least the shortest run long, or fills its whole chain.
- Every change of level costs the charge, so what a change brings must be worth making it.
- An infinite cost forbids a level. A step that is left nothing but lifted legs (level 0, all others
  forbidden) is *forced*. Only there the shortest-run rule gives way: a run of lifted legs that
  holds a forced step may be short, and so may a run that fills a stretch between two forced steps,
  or between one and the end of the pass.
- A closed chain is a loop: its last step is followed by its first.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from zoning.depths.lanes import LENGTH_SLACK_M, Chains, lay_lanes
from zoning.depths.sweep import Sweep, Timetable

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

_CELLS_A_SWEEP = 5_000_000  # numbers held at once for each array of a sweep


@dataclass(frozen=True, slots=True)
class Run:
    """A stretch of one level: chain, rows of its first and last step, level, length.

    In a loop the last row may stand before the first.
    """

    chain: int
    first: int
    last: int
    level: int
    length_m: float


class Driver:
    """Finds the cheapest sequences of one field for any set of levels.

    Parameters
    ----------
    chains
        The passes.
    cost
        Cost of each option at each step, infinite where it is forbidden, shape ``(steps,
        options)``. Option 0 is lifted legs, or is forbidden throughout.
    min_run_m
        Shortest run [m].
    change_charge
        Cost of a change of level, in the unit of `cost`; at least 0.
    """

    def __init__(
        self, chains: Chains, cost: Floats, *, min_run_m: float, change_charge: float
    ) -> None:
        self._chains, self._cost = chains, np.ascontiguousarray(cost, dtype=np.float64)
        self._min_run_m, self._charge = min_run_m, change_charge
        self._allowed = np.isfinite(self._cost)
        self._lifts = bool(self._allowed[:, 0].any())
        self._timetables: dict[tuple[int, bool], Timetable] = {}

    def objective(self, sets: ArrayLike) -> Floats:
        """Return the least cost of each set of options, changes included; infinite for none.

        Parameters
        ----------
        sets
            Columns of `cost` that each set may use, option 0 first, shape ``(sets, levels)``.
        """
        return self._least(sets, relaxed=False)

    def bound(self, sets: ArrayLike) -> Floats:
        """Return a lower bound of `objective`: openings of loops ask for nothing.

        Where no chain is a loop it is the objective itself.
        """
        return self._least(sets, relaxed=True)

    @property
    def has_loops(self) -> bool:
        """Whether some chain is a loop."""
        return bool(self._chains.closed.any())

    def _least(self, sets: ArrayLike, *, relaxed: bool) -> Floats:
        columns = self._usable(np.atleast_2d(np.asarray(sets, dtype=np.int64)))
        table = self._timetable(columns.shape[1], relaxed=relaxed)
        one = columns.shape[1] * max(len(self._cost), table.wait * len(table.lanes))
        share = max(1, _CELLS_A_SWEEP // one)
        parts = [
            self._by_chain(table, self._sweep(table, columns[i : i + share], keep=False))[0].sum(0)
            for i in range(0, len(columns), share)
        ]
        return np.concatenate(parts)

    def sequence(self, columns: ArrayLike) -> Ints:
        """Return the option of each step on the cheapest way with one set of options.

        Raises
        ------
        ValueError
            If the set leaves some step without a level.
        """
        chosen = self._usable(np.atleast_2d(np.asarray(columns, dtype=np.int64)))[0]
        timetable = self._timetable(len(chosen))
        sweep = self._sweep(timetable, chosen[None, :], keep=True)
        cost, lanes = self._by_chain(timetable, sweep)
        if not np.isfinite(cost).all():
            raise ValueError("Some step of a pass allows none of the depths.")
        level = np.empty(len(self._cost), dtype=np.int64)
        for lane in lanes[:, 0]:
            level[timetable.lanes[lane].rows] = sweep.trace(int(lane))
        return np.asarray(chosen[level], dtype=np.int64)

    def effort(self, n_levels: int) -> int:
        """Return how many steps are laid to find the cost of one set of `n_levels` levels."""
        return sum(len(rows) for rows in self._timetable(n_levels).rows)

    def short_runs(self, level: Ints) -> list[Run]:
        """Return the runs shorter than the shortest run that do not fill their chain."""
        limit = self._min_run_m - LENGTH_SLACK_M
        found = []
        for chain in range(len(self._chains.closed)):
            runs = runs_of(self._chains, level, chain)
            found += [run for run in runs if len(runs) > 1 and run.length_m < limit]
        return found

    def without_slivers(self, level: Ints, least_m: float) -> Ints:
        """Return `level` with the legs lifted on worked runs that a machine hardly sinks on.

        Such a run lies between two lifts at hazards, or between one and the end of the pass, and is
        shorter than the shortest run and than `least_m`. Where legs may not be lifted it stays.
        """
        lifted = level.copy()
        for run in self.short_runs(level):
            if run.level > 0 and run.length_m < least_m - LENGTH_SLACK_M:
                rows = self._chains.rows(run.chain)
                from_first, to_last = rows >= run.first, rows <= run.last
                across = run.first > run.last  # the opening of a loop
                own = rows[from_first | to_last if across else from_first & to_last]
                if self._allowed[own, 0].all():
                    lifted[own] = 0
        return lifted

    def moved_lifted(self, level: Ints) -> int:
        """Return how often a stretch of another depth follows a lifted stretch of the same pass."""
        chain = np.repeat(np.arange(len(self._chains.closed)), np.diff(self._chains.first))
        worked = np.flatnonzero(level > 0)
        lifted = (np.diff(worked) > 1) & (np.diff(chain[worked]) == 0)
        return int((lifted & (np.diff(level[worked]) != 0)).sum())

    def _usable(self, sets: Ints) -> Ints:
        """Return the sets without option 0 where the legs are lifted nowhere."""
        return sets if self._lifts or sets.shape[1] == 1 else sets[:, 1:]

    def _sweep(self, timetable: Timetable, columns: Ints, *, keep: bool) -> Sweep:
        cost, allowed = self._cost.T[columns.T], self._allowed.T[columns.T]
        forced = allowed[0] & ~allowed[1:].any(axis=0) & self._lifts
        sweep = Sweep(timetable, cost, forced, self._charge, keep=keep)
        sweep.run()
        return sweep

    def _timetable(self, n_levels: int, *, relaxed: bool = False) -> Timetable:
        key = (n_levels, relaxed)
        if key not in self._timetables:
            lowest = _lowest_cap(self._chains, self._allowed)
            lanes = lay_lanes(self._chains, lowest, n_levels, self._min_run_m, relaxed=relaxed)
            self._timetables[key] = Timetable.of(lanes)
        return self._timetables[key]

    def _by_chain(self, timetable: Timetable, sweep: Sweep) -> tuple[Floats, Ints]:
        """Return cost and lane of the cheapest lane of each chain for each set."""
        shape = (len(self._chains.closed), sweep.cost.shape[1])
        cost, best = np.full(shape, np.inf), np.zeros(shape, dtype=np.int64)
        for i, lane in enumerate(timetable.lanes):
            better = sweep.cost[i] < cost[lane.chain]
            best[lane.chain, better] = i
            cost[lane.chain] = np.minimum(cost[lane.chain], sweep.cost[i])
        return cost, best


def runs_of(chains: Chains, level: Ints, chain: int) -> list[Run]:
    """Return the runs of a chain in order; in a loop the one across its opening is last."""
    rows = chains.rows(chain)
    cuts = np.flatnonzero(np.diff(level[rows])) + 1
    groups = np.split(rows, cuts)
    if chains.closed[chain] and len(groups) > 1 and level[rows[0]] == level[rows[-1]]:
        groups = [*groups[1:-1], np.concatenate([groups[-1], groups[0]])]
    return [
        Run(chain, int(g[0]), int(g[-1]), int(level[g[0]]), float(chains.length_m[g].sum()))
        for g in groups
    ]


def _lowest_cap(chains: Chains, allowed: Bools) -> Ints:
    """Return the step of each chain whose deepest option is the shallowest."""
    deepest = allowed.shape[1] - 1 - np.argmax(allowed[:, ::-1], axis=1)
    ends = zip(chains.first[:-1], chains.first[1:], strict=True)
    return np.array([first + np.argmin(deepest[first:end]) for first, end in ends], dtype=np.int64)
