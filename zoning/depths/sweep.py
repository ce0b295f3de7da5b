"""One sweep of the dynamic programme along many lanes and for many sets of levels at once.

At each step and level the state is the least cost of everything up to there, given that the step
has the level and that its run has reached the shortest run. A run begun at step `j` waits until it
is long enough and then competes with the state. All costs are kept less the running sum of their
level, so that a waiting run needs no work while it waits.

The shortest-run rule gives way at the hazards and nowhere else. Where the caps leave a step no
working depth (the step is forced), a run of lifted legs that holds such a step may be short; and a
run that fills a stretch from one forced step, or end of the lane, to the next may be short.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from zoning.depths.lanes import Lane

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Timetable:
    """The lanes step by step: entry `t` of each tuple speaks of the lanes that have a step `t`.

    Lanes are ordered from the longest, so those that still run are always the first ones.

    Parameters
    ----------
    lanes
        The lanes.
    rows
        Row of the step of each lane, by step.
    ripe
        Last start that is long enough at each lane, by step.
    held
        Lanes that are held at their level at the step.
    column
        Level that each lane is held at, -1 for none.
    steps_held
        Steps before the opening that each lane is held on.
    wait
        Most steps that a run can wait before it is long enough, at least 1.
    """

    lanes: tuple[Lane, ...]
    rows: tuple[Ints, ...]
    ripe: tuple[Ints, ...]
    held: tuple[Ints, ...]
    column: Ints
    steps_held: Ints
    wait: int

    @classmethod
    def of(cls, lanes: list[Lane]) -> Timetable:
        """Return the timetable of `lanes`, which must stand longest first."""
        sizes = np.array([len(lane.rows) for lane in lanes], dtype=np.int64)
        columns = np.array([lane.column for lane in lanes], dtype=np.int64)
        steps_held = np.array([lane.held for lane in lanes], dtype=np.int64)
        step = np.arange(sizes.max(initial=0))
        runs = step[:, None] < sizes
        counts = runs.sum(axis=1).tolist()
        rows, ripe = np.zeros(runs.shape, dtype=np.int64), np.zeros(runs.shape, dtype=np.int64)
        for i, lane in enumerate(lanes):
            rows[: sizes[i], i], ripe[: sizes[i], i] = lane.rows, lane.ripe
        held = runs & (columns >= 0)
        held &= (step[:, None] == 0) | (step[:, None] >= sizes - steps_held)
        return cls(
            tuple(lanes),
            tuple(row[:n] for row, n in zip(rows, counts, strict=True)),
            tuple(row[:n] for row, n in zip(ripe, counts, strict=True)),
            tuple(np.flatnonzero(row[:n]) for row, n in zip(held, counts, strict=True)),
            columns,
            steps_held,
            int((step[:, None] - ripe)[runs].max(initial=0)) + 1,
        )

    def any_by_step(self, of_row: Bools) -> list[bool]:
        """Return for each step whether any row of it is so."""
        if not of_row.any():
            return [False] * len(self.rows)
        return [bool(of_row[rows].any()) for rows in self.rows]


class Sweep:
    """The state of a sweep; `run` carries it out.

    Levels stand first and lanes last in every array, so that what is done to all lanes at once is
    done to numbers that lie side by side.

    Parameters
    ----------
    timetable
        The lanes.
    cost
        Cost of each level at each row for each set, infinite where it is forbidden, shape
        ``(levels, sets, rows)``. Level 0 is lifted legs.
    forced
        Where a row has no working depth left, shape ``(sets, rows)``.
    change_charge
        Cost of a change of level.
    keep
        Keep what `trace` needs; for one set only.
    """

    def __init__(
        self, timetable: Timetable, cost: Floats, forced: Bools, change_charge: float, *, keep: bool
    ) -> None:
        lanes = len(timetable.lanes)
        shape = (*cost.shape[:2], lanes)
        self._table, self._cost, self._forced, self._charge = timetable, cost, forced, change_charge
        self._sets = shape[1]
        self._cut = timetable.any_by_step(~np.asarray(np.isfinite(cost).all(axis=(0, 1))))
        self._any_shut = any(self._cut) or bool((timetable.column >= 0).any())
        self._breaks = timetable.any_by_step(np.asarray(forced.any(axis=0)))
        self._sum = np.zeros(shape)  # running sum of each level
        self._best = np.full(shape, np.inf)  # least cost of a long enough run, less the running sum
        self._waiting = np.full((*shape[:2], timetable.wait, lanes), np.inf)
        self._runs_waiting = self._waiting.reshape(*shape[:2], -1)  # the same numbers
        self._lane = np.arange(lanes)
        self._shut = np.full(
            shape, -1, dtype=np.int64
        )  # last step at which the level was forbidden
        self._since = np.zeros(shape[1:], dtype=np.int64)  # start of the stretch between breaks
        self._start = np.zeros(shape, dtype=np.int64)  # start of the run behind each best, if kept
        self._starts: list[Ints] | None = [] if keep else None
        self._before: list[Ints] = []  # level of the step before a run that begins at each step
        self._last = np.zeros(lanes, dtype=np.int64)
        self.cost = np.full((lanes, shape[1]), np.inf)

    def run(self) -> Floats:
        """Return the least cost of each lane for each set, infinite where there is none."""
        for t, rows in enumerate(self._table.rows):
            self._begin(t, len(rows))
            self._step(t, rows)
            self._ripen(t, len(rows))
            self._give_way(t, rows)
            if self._starts is not None:
                self._starts.append(self._start[:, 0, : len(rows)].copy())
            self._finish(t, len(rows))
        return self.cost

    def _begin(self, t: int, n: int) -> None:
        """Let a run begin at step `t` at every level."""
        slot = self._waiting[:, :, t % self._table.wait, :n]
        if t == 0:
            slot[...] = 0.0
            self._before.append(np.full(n, -1, dtype=np.int64))
            return
        total = self._best[:, :, :n] + self._sum[:, :, :n]
        np.subtract(total.min(axis=0) + self._charge, self._sum[:, :, :n], out=slot)
        if self._starts is not None:
            self._before.append(np.argmin(total[:, 0], axis=0))

    def _step(self, t: int, rows: Ints) -> None:
        """Add the cost of step `t` and shut the levels that it forbids."""
        n = len(rows)
        cost = self._cost.take(rows, axis=2)
        held = self._table.held[t]
        if len(held):
            columns = self._table.column[held]
            kept = cost[columns, :, held]
            cost[:, :, held] = np.inf
            cost[columns, :, held] = kept
        if len(held) or self._cut[t]:
            shut = ~np.isfinite(cost)
            cost[shut] = 0.0
            self._best[:, :, :n][shut] = np.inf
            self._shut[:, :, :n][shut] = t
        self._sum[:, :, :n] += cost

    def _ripen(self, t: int, n: int) -> None:
        """Let the runs compete that have become long enough at step `t`."""
        ripe = self._table.ripe[t]
        known = np.full(n, -1) if t == 0 else self._table.ripe[t - 1][:n]
        for ahead in range(1, int((ripe - known).max(initial=0)) + 1):
            start = known + ahead
            if (start <= ripe).all():
                self._ripen_all(start)
            else:
                lanes = np.flatnonzero(start <= ripe)
                self._offer(*self._pairs(lanes), np.repeat(start[lanes], self._sets))

    def _ripen_all(self, start: Ints) -> None:
        """Let the run begun at `start` compete in every lane that still runs."""
        n = len(start)
        place = start % self._table.wait * self._waiting.shape[3] + self._lane[:n]
        waiting = self._runs_waiting.take(place, axis=2)
        if self._any_shut:
            waiting[self._shut[:, :, :n] >= start] = np.inf
        best = self._best[:, :, :n]
        if self._starts is not None:
            np.copyto(self._start[:, :, :n], start, where=waiting < best)
        np.minimum(best, waiting, out=best)

    def _offer(self, lanes: Ints, sets: Ints, start: Ints) -> None:
        """Let the run begun at `start` compete at every level, for pairs of a lane and a set."""
        waiting = self._waiting[:, sets, start % self._table.wait, lanes]
        waiting[self._shut[:, sets, lanes] >= start] = np.inf
        self._take(lanes, sets, waiting, start)

    def _offer_all(self, lanes: Ints, sets: Ints, starts: Ints) -> None:
        """Let the runs begun at all `starts`, rising, compete: of equals the earliest."""
        waiting = self._waiting[:, sets, (starts % self._table.wait)[:, None], lanes]
        shut = self._shut[:, sets, lanes]
        waiting[shut[:, None] >= starts[:, None]] = np.inf
        first = starts[np.argmin(waiting, axis=1)] if self._starts is not None else starts
        self._take(lanes, sets, waiting.min(axis=1), first)

    def _take(self, lanes: Ints, sets: Ints, least: Floats, start: Ints) -> None:
        """Take what costs less than the best of pairs, shape ``(levels, pairs)``, and its start."""
        best = self._best[:, sets, lanes]
        if self._starts is not None:
            was = self._start[:, sets, lanes]
            self._start[:, sets, lanes] = np.where(least < best, start, was)
        self._best[:, sets, lanes] = np.minimum(best, least)

    def _pairs(self, lanes: Ints) -> tuple[Ints, Ints]:
        """Return each of `lanes` paired with each set."""
        return np.repeat(lanes, self._sets), np.tile(np.arange(self._sets), len(lanes))

    def _give_way(self, t: int, rows: Ints) -> None:
        """Let short runs compete where a hazard or the end of a lane stands beside them."""
        table = self._table
        after = table.rows[t + 1] if t + 1 < len(table.rows) else rows[:0]
        if self._breaks[t]:
            sets, lanes = np.nonzero(self._forced[:, rows])
            self._offer_all(lanes, sets, np.arange(max(0, t - table.wait + 1), t + 1))
            self._since[sets, lanes] = t + 1
        if len(after) and self._breaks[t + 1]:
            sets, lanes = np.nonzero(self._forced[:, after])
            self._offer_stretch(t, lanes, sets)
        ending = np.arange(len(after), len(rows))
        if len(ending):
            self._offer_stretch(t, *self._pairs(ending[table.column[ending] < 0]))
            self._offer_held(t, ending[table.column[ending] >= 0])

    def _offer_held(self, t: int, lanes: Ints) -> None:
        """Let the runs compete that end at the opening of a loop and go on behind it."""
        latest = t + 1 - self._table.steps_held[lanes]
        earliest = max(0, t - self._table.wait + 1)
        for last in np.unique(latest[latest >= earliest]):
            some, sets = self._pairs(lanes[latest == last])
            self._offer_all(some, sets, np.arange(earliest, last + 1))

    def _offer_stretch(self, t: int, lanes: Ints, sets: Ints) -> None:
        """Let the run compete that fills the whole stretch since the last break."""
        since = self._since[sets, lanes]
        waits = (since <= t) & (since > t - self._table.wait)
        if waits.any():
            self._offer(lanes[waits], sets[waits], since[waits])

    def _finish(self, t: int, n: int) -> None:
        """Note the cost of the lanes that end at step `t`."""
        after = len(self._table.rows[t + 1]) if t + 1 < len(self._table.rows) else 0
        if after == n:
            return
        total = self._best[:, :, after:n] + self._sum[:, :, after:n]
        self._last[after:n] = np.argmin(total[:, 0], axis=0)
        self.cost[after:n] = total.min(axis=0).T
        for i in range(after, n):
            lane, first = self._table.lanes[i], self._table.lanes[i].rows[0]
            if lane.seam:
                self.cost[i] += self._charge
            if lane.forced is not None:
                self.cost[i, self._forced[:, first] != lane.forced] = np.inf
            if lane.forced:
                lifted = self._forced[:, first]
                self.cost[i, lifted] -= self._cost[0, lifted, first]

    def trace(self, lane: int) -> Ints:
        """Return the level of each step of a lane on its cheapest way, for the first set."""
        if self._starts is None:
            raise ValueError("This sweep did not keep its way.")
        t = len(self._table.lanes[lane].rows) - 1
        levels = np.empty(t + 1, dtype=np.int64)
        level = int(self._last[lane])
        while t >= 0:
            start = int(self._starts[t][level, lane])
            levels[start : t + 1] = level
            level = int(self._before[start][lane])
            t = start - 1
        return levels
