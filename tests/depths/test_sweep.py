from __future__ import annotations

import numpy as np
import pytest

from zoning.depths.lanes import Chains, lay_lanes
from zoning.depths.sweep import Sweep, Timetable


def timetable(*, closed: bool = False) -> Timetable:
    """Return the timetable of passes of 6 and 4 steps of 5 m with a shortest run of 10 m."""
    chains = Chains(np.array([0, 6, 10]), np.full(10, 5.0), np.array([closed, False]))
    return Timetable.of(lay_lanes(chains, np.array([0, 6]), 2, 10.0))


def sweep(cost: np.ndarray, *, charge: float = 1.0, keep: bool = True) -> Sweep:
    """Return the sweep of costs of shape ``(rows, levels, sets)``."""
    forced = np.isfinite(cost[:, 0]) & ~np.isfinite(cost[:, 1:]).any(axis=1)
    by_level = np.ascontiguousarray(cost.transpose(1, 2, 0))
    return Sweep(timetable(), by_level, forced.T, charge, keep=keep)


def test_lanes_that_still_run_are_the_first_ones() -> None:
    table = timetable()
    assert [len(rows) for rows in table.rows] == [2, 2, 2, 2, 1, 1]
    assert table.rows[3].tolist() == [3, 9]


def test_a_loop_is_held_on_its_first_step_and_before_its_opening() -> None:
    table = timetable(closed=True)
    lane = next(i for i, one in enumerate(table.lanes) if one.column == 1 and one.held == 2)
    assert [lane in held.tolist() for held in table.held[:6]] == [
        True,
        False,
        False,
        False,
        True,
        True,
    ]


def test_cost_and_way_of_two_passes_worked_by_hand() -> None:
    # Pass 1: four steps best at level 1, two best at level 0; one change pays. Pass 2: none pays.
    cost = np.full((10, 2, 1), 5.0)
    cost[:4, 1], cost[4:6, 0], cost[6:, 0] = 1.0, 2.0, 3.0
    one = sweep(cost)
    assert one.run()[:, 0].tolist() == [4 * 1.0 + 1.0 + 2 * 2.0, 4 * 3.0]
    assert one.trace(0).tolist() == [1, 1, 1, 1, 0, 0]
    assert one.trace(1).tolist() == [0, 0, 0, 0]


def test_sets_do_not_disturb_each_other() -> None:
    rng = np.random.default_rng(2)
    sets = [rng.uniform(0, 9, (10, 2, 1)) for _ in range(3)]
    sets[1][2, 1] = np.inf  # forced in one set only
    together = sweep(np.concatenate(sets, axis=2), keep=False).run()
    alone = np.column_stack([sweep(one, keep=False).run()[:, 0] for one in sets])
    assert together == pytest.approx(alone)


def test_the_way_is_known_only_where_it_was_kept() -> None:
    one = sweep(np.ones((10, 2, 1)), keep=False)
    one.run()
    with pytest.raises(ValueError, match="did not keep"):
        one.trace(0)
