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
        sizes = np.array([len(lane.rows) for lane in lanes])
        counts = [int(np.sum(sizes > t)) for t in range(sizes.max(initial=0))]
        rows = tuple(np.array([lane.rows[t] for lane in lanes[:n]]) for t, n in enumerate(counts))
        ripe = tuple(np.array([lane.ripe[t] for lane in lanes[:n]]) for t, n in enumerate(counts))
        held = tuple(_held(lanes[:n], t) for t, n in enumerate(counts))
        wait = max((int((t - r).max()) for t, r in enumerate(ripe)), default=0) + 1
        columns = np.array([lane.column for lane in lanes], dtype=np.int64)
        steps_held = np.array([lane.held for lane in lanes], dtype=np.int64)
        return cls(tuple(lanes), rows, ripe, held, columns, steps_held, wait)


def _held(lanes: list[Lane], t: int) -> Ints:
    held = [
        i
        for i, lane in enumerate(lanes)
        if lane.column >= 0 and (t == 0 or t >= len(lane.rows) - lane.held)
    ]
    return np.array(held, dtype=np.int64)


class Sweep:
    """The state of a sweep; `run` carries it out.

    Parameters
    ----------
    timetable
        The lanes.
    cost
        Cost of each level at each row for each set, infinite where it is forbidden, shape
        ``(rows, levels, sets)``. Level 0 is lifted legs.
    forced
        Where a row has no working depth left, shape ``(rows, sets)``.
    change_charge
        Cost of a change of level.
    keep
        Keep what `trace` needs; for one set only.
    """

    def __init__(
        self, timetable: Timetable, cost: Floats, forced: Bools, change_charge: float, *, keep: bool
    ) -> None:
        lanes = len(timetable.lanes)
        shape = (lanes, *cost.shape[1:])
        self._table, self._cost, self._forced, self._charge = timetable, cost, forced, change_charge
        self._sets = shape[2]
        self._cut: Bools = ~np.asarray(np.isfinite(cost).all(axis=(1, 2)))
        self._any_cut = bool(self._cut.any())
        self._any_shut = self._any_cut or bool((timetable.column >= 0).any())
        self._breaks: Bools = np.asarray(forced.any(axis=1))
        self._any_breaks = bool(self._breaks.any())
        self._sum = np.zeros(shape)  # running sum of each level
        self._best = np.full(shape, np.inf)  # least cost of a long enough run, less the running sum
        self._waiting = np.full((timetable.wait, *shape), np.inf)
        self._shut = np.full(
            shape, -1, dtype=np.int64
        )  # last step at which the level was forbidden
        self._since = np.zeros(
            (lanes, shape[2]), dtype=np.int64
        )  # start of the stretch between breaks
        self._start = np.zeros(shape, dtype=np.int64)  # start of the run behind each best
        self._starts: list[Ints] | None = [] if keep else None
        self._before: list[Ints] = []  # level of the step before a run that begins at each step
        self._last = np.zeros(lanes, dtype=np.int64)
        self.cost = np.full((lanes, shape[2]), np.inf)

    def run(self) -> Floats:
        """Return the least cost of each lane for each set, infinite where there is none."""
        for t, rows in enumerate(self._table.rows):
            self._begin(t, len(rows))
            self._step(t, rows)
            self._ripen(t, len(rows))
            self._give_way(t, rows)
            if self._starts is not None:
                self._starts.append(self._start[: len(rows), :, 0].copy())
            self._finish(t, len(rows))
        return self.cost

    def _begin(self, t: int, n: int) -> None:
        """Let a run begin at step `t` at every level."""
        slot = self._waiting[t % self._table.wait, :n]
        if t == 0:
            slot[...] = 0.0
            self._before.append(np.full(n, -1, dtype=np.int64))
            return
        total = self._best[:n] + self._sum[:n]
        np.subtract(total.min(axis=1)[:, None] + self._charge, self._sum[:n], out=slot)
        if self._starts is not None:
            self._before.append(np.argmin(total[:, :, 0], axis=1))

    def _step(self, t: int, rows: Ints) -> None:
        """Add the cost of step `t` and shut the levels that it forbids."""
        n = len(rows)
        cost = self._cost[rows]
        held = self._table.held[t]
        if len(held):
            columns = self._table.column[held]
            kept = cost[held, columns]
            cost[held] = np.inf
            cost[held, columns] = kept
        if len(held) or (self._any_cut and self._cut[rows].any()):
            shut = ~np.isfinite(cost)
            cost[shut] = 0.0
            self._best[:n][shut] = np.inf
            self._shut[:n][shut] = t
        self._sum[:n] += cost

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
        waiting = self._waiting[start % self._table.wait, np.arange(n)]
        if self._any_shut:
            waiting[self._shut[:n] >= start[:, None, None]] = np.inf
        best = self._best[:n]
        if self._starts is not None:
            np.copyto(self._start[:n], start[:, None, None], where=waiting < best)
        np.minimum(best, waiting, out=best)

    def _offer(self, lanes: Ints, sets: Ints, start: Ints) -> None:
        """Let the run begun at `start` compete at every level, for pairs of a lane and a set."""
        waiting = self._waiting[start % self._table.wait, lanes, :, sets]
        waiting[self._shut[lanes, :, sets] >= start[:, None]] = np.inf
        best = self._best[lanes, :, sets]
        self._best[lanes, :, sets] = np.minimum(best, waiting)
        self._start[lanes, :, sets] = np.where(
            waiting < best, start[:, None], self._start[lanes, :, sets]
        )

    def _offer_all(self, lanes: Ints, sets: Ints, starts: Ints) -> None:
        """Let the runs begun at all `starts`, rising, compete: of equals the earliest."""
        waiting = self._waiting[(starts % self._table.wait)[:, None], lanes, :, sets]
        waiting[self._shut[lanes, :, sets] >= starts[:, None, None]] = np.inf
        first = np.argmin(waiting, axis=0)
        least = np.take_along_axis(waiting, first[None], axis=0)[0]
        best = self._best[lanes, :, sets]
        self._best[lanes, :, sets] = np.minimum(best, least)
        self._start[lanes, :, sets] = np.where(
            least < best, starts[first], self._start[lanes, :, sets]
        )

    def _pairs(self, lanes: Ints) -> tuple[Ints, Ints]:
        """Return each of `lanes` paired with each set."""
        return np.repeat(lanes, self._sets), np.tile(np.arange(self._sets), len(lanes))

    def _give_way(self, t: int, rows: Ints) -> None:
        """Let short runs compete where a hazard or the end of a lane stands beside them."""
        table = self._table
        after = table.rows[t + 1] if t + 1 < len(table.rows) else rows[:0]
        if self._any_breaks and self._breaks[rows].any():
            lanes, sets = np.nonzero(self._forced[rows])
            self._offer_all(lanes, sets, np.arange(max(0, t - table.wait + 1), t + 1))
            self._since[lanes, sets] = t + 1
        if self._any_breaks and self._breaks[after].any():
            self._offer_stretch(t, *np.nonzero(self._forced[after]))
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
        since = self._since[lanes, sets]
        waits = (since <= t) & (since > t - self._table.wait)
        self._offer(lanes[waits], sets[waits], since[waits])

    def _finish(self, t: int, n: int) -> None:
        """Note the cost of the lanes that end at step `t`."""
        after = len(self._table.rows[t + 1]) if t + 1 < len(self._table.rows) else 0
        total = self._best[after:n] + self._sum[after:n]
        self._last[after:n] = np.argmin(total[:, :, 0], axis=1)
        self.cost[after:n] = total.min(axis=1)
        for i in range(after, n):
            lane, first = self._table.lanes[i], self._table.lanes[i].rows[0]
            if lane.seam:
                self.cost[i] += self._charge
            if lane.forced is not None:
                self.cost[i, self._forced[first] != lane.forced] = np.inf
            if lane.forced:
                lifted = self._forced[first]
                self.cost[i, lifted] -= self._cost[first, 0, lifted]

    def trace(self, lane: int) -> Ints:
        """Return the level of each step of a lane on its cheapest way, for the first set."""
        if self._starts is None:
            raise ValueError("This sweep did not keep its way.")
        t = len(self._table.lanes[lane].rows) - 1
        levels = np.empty(t + 1, dtype=np.int64)
        level = int(self._last[lane])
        while t >= 0:
            start = int(self._starts[t][lane, level])
            levels[start : t + 1] = level
            level = int(self._before[start][lane])
            t = start - 1
        return levels
