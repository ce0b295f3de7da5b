"""Passes as straight lanes for the dynamic programme, a loop as several lanes.

A loop has no first step to begin at. It is opened before its step of lowest cap and laid out as
lanes of which the cheapest is the answer:

- a change of depth at the opening: one open lane, charged for that change;
- a run across the opening: a lane for each depth it may have and each number of its steps before
  the opening, up to the shortest run. That depth is held on those steps and on the first step, and
  the length before the opening counts towards the first run. Where the shortest run is very many
  steps long only a dozen numbers are told apart: a loop may then miss its best by a little, but
  never its rules;
- where the hazards leave the lowest step nothing but lifted legs, a lane that ends with that step
  once more, at no cost.

A loop whose opening asks for nothing (the runs on both sides may be short, a change there costs
nothing) is one lane instead of dozens, and never costs more than the loop: a lower bound.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

_OPENINGS = 12  # most lengths before the opening of a loop that are told apart
LENGTH_SLACK_M = 1e-6  # a run that misses the shortest run by less than this keeps it


@dataclass(frozen=True, slots=True, eq=False)
class Chains:
    """Steps in driving order, chain after chain; a chain is a stretch driven without a break.

    Parameters
    ----------
    first
        Row of the first step of each chain, and the number of steps at the end, shape ``(chains +
        1,)``.
    length_m
        Length of each step, shape ``(steps,)`` [m].
    closed
        Whether the last step of a chain joins its first, shape ``(chains,)``.
    """

    first: Ints
    length_m: Floats
    closed: Bools

    def rows(self, chain: int) -> Ints:
        """Return the rows of the steps of one chain."""
        return np.arange(self.first[chain], self.first[chain + 1])


@dataclass(frozen=True, slots=True, eq=False)
class Lane:
    """One straight lane.

    Parameters
    ----------
    chain
        Chain it stands for.
    rows
        Rows of its steps in order.
    ripe
        For each step the last start of a run that has reached the shortest run there, -1 for none.
    column
        Level held across the opening of a loop, -1 for none.
    held
        Number of steps before the opening that are held.
    seam
        Whether the change at the opening is charged.
    forced
        ``True``: only where the first step is left no working depth; ``False``: only where it is
        left one; ``None``: always.
    """

    chain: int
    rows: Ints
    ripe: Ints
    column: int = -1
    held: int = 0
    seam: bool = False
    forced: bool | None = None


def lay_lanes(
    chains: Chains, lowest: Ints, n_levels: int, min_run_m: float, *, relaxed: bool = False
) -> list[Lane]:
    """Return the lanes of all chains, the longest first.

    Parameters
    ----------
    chains
        The passes.
    lowest
        Row of the step of each chain that has the lowest cap; only read for loops.
    n_levels
        Number of levels a step may choose from.
    min_run_m
        Shortest run [m].
    relaxed
        Whether the opening of a loop asks for nothing.
    """
    lanes: list[Lane] = []
    for chain in range(len(chains.closed)):
        rows = chains.rows(chain)
        if not chains.closed[chain]:
            lanes.append(Lane(chain, rows, _ripe(chains.length_m[rows], min_run_m)))
            continue
        opened = np.roll(rows, -int(np.searchsorted(rows, lowest[chain])))
        if relaxed:
            lanes.append(_relaxed(chain, opened, chains.length_m[opened], min_run_m))
            continue
        lanes.extend(_loop(chain, opened, chains.length_m[opened], n_levels, min_run_m))
    return sorted(lanes, key=lambda lane: -len(lane.rows))


def _loop(
    chain: int, rows: Ints, length_m: Floats, n_levels: int, min_run_m: float
) -> Iterator[Lane]:
    again = np.append(rows, rows[0])
    yield Lane(chain, again, _ripe(np.append(length_m, 0.0), min_run_m), forced=True)
    tail_m = np.cumsum(length_m[::-1])
    if tail_m[-1] < min_run_m - LENGTH_SLACK_M:
        counts = np.array([len(rows)])
        tail_m = np.full(len(rows), np.inf)
    else:
        yield Lane(chain, rows, _ripe(length_m, min_run_m), seam=True, forced=False)
        enough = int(np.argmax(tail_m >= min_run_m - LENGTH_SLACK_M)) + 1
        counts = _spread(enough)
    for count in counts:
        ripe = _ripe(length_m, min_run_m, before_m=float(tail_m[count - 1]))
        for column in range(n_levels):
            yield Lane(chain, rows, ripe, column, int(count), forced=False)


def _relaxed(chain: int, rows: Ints, length_m: Floats, min_run_m: float) -> Lane:
    ripe = _ripe(length_m, min_run_m, before_m=np.inf)
    ripe[-1] = len(rows) - 1
    return Lane(chain, rows, ripe)


def _spread(most: int) -> Ints:
    """Return the whole numbers from 1 to `most`, or `_OPENINGS` of them spread evenly."""
    return np.unique(np.linspace(1, most, min(most, _OPENINGS)).round().astype(np.int64))


def _ripe(length_m: Floats, min_run_m: float, *, before_m: float = 0.0) -> Ints:
    """Return the last start of a run that is long enough at each step, -1 for none."""
    ends = np.cumsum(length_m)
    starts = ends - length_m
    starts[0] -= before_m
    last = np.searchsorted(starts, ends - min_run_m + LENGTH_SLACK_M, side="right") - 1
    return np.minimum(last, np.arange(len(ends)))
