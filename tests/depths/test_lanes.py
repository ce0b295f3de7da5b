from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from zoning.depths.lanes import Chains, lay_lanes

LENGTH_M = np.full(12, 5.0)


def lanes(*, closed: bool, lowest: int = 0, levels: int = 3, min_run_m: float = 15.0) -> list:
    chains = Chains(np.array([0, 12]), LENGTH_M, np.array([closed]))
    return lay_lanes(chains, np.array([lowest]), levels, min_run_m)


def test_an_open_pass_is_one_lane() -> None:
    (lane,) = lanes(closed=False)
    assert lane.rows.tolist() == list(range(12))
    assert lane.ripe.tolist() == [-1, -1, 0, 1, 2, 3, 4, 5, 6, 7, 8, 9]


@given(st.lists(st.floats(0.1, 9), min_size=1, max_size=15), st.floats(0, 40))
def test_a_ripe_run_is_long_enough_and_the_next_is_not(
    lengths: list[float], least_m: float
) -> None:
    length = np.array(lengths)
    chains = Chains(np.array([0, len(length)]), length, np.array([False]))
    (lane,) = lay_lanes(chains, np.array([0]), 2, least_m)
    for step, start in enumerate(lane.ripe):
        assert start <= step
        assert start < 0 or length[start : step + 1].sum() >= least_m - 2e-6
        assert start == step or length[start + 1 : step + 1].sum() < least_m


def test_a_loop_opens_before_its_lowest_step() -> None:
    assert {lane.rows[0] for lane in lanes(closed=True, lowest=7)} == {7}


def test_a_loop_has_a_lane_for_each_level_and_each_length_before_its_opening() -> None:
    found = lanes(closed=True)
    held = {(lane.column, lane.held) for lane in found if lane.column >= 0}
    assert held == {(column, count) for column in range(3) for count in (1, 2, 3)}
    assert sum(lane.seam for lane in found) == 1
    assert [len(lane.rows) for lane in found if lane.forced] == [13]


def test_length_before_the_opening_counts_towards_the_first_run() -> None:
    one = next(lane for lane in lanes(closed=True) if lane.column == 1 and lane.held == 2)
    assert one.ripe[0] == 0  # 10 m before and 5 m after reach 15 m


def test_a_loop_shorter_than_the_shortest_run_keeps_one_level() -> None:
    found = [lane for lane in lanes(closed=True, min_run_m=100.0) if not lane.forced]
    assert [(lane.column, lane.held) for lane in found] == [(0, 12), (1, 12), (2, 12)]


def test_longest_lanes_come_first() -> None:
    chains = Chains(np.array([0, 2, 7, 12]), LENGTH_M, np.array([False, True, False]))
    sizes = [len(lane.rows) for lane in lay_lanes(chains, np.array([0, 2, 7]), 2, 15.0)]
    assert sizes == sorted(sizes, reverse=True)


def test_rows_of_a_chain() -> None:
    chains = Chains(np.array([0, 2, 5]), LENGTH_M[:5], np.array([False, True]))
    assert chains.rows(1).tolist() == [2, 3, 4]


def test_a_very_long_shortest_run_opens_a_loop_in_a_dozen_ways() -> None:
    chains = Chains(np.array([0, 400]), np.full(400, 5.0), np.array([True]))
    found = lay_lanes(chains, np.array([0]), 2, 1000.0)
    held = sorted({lane.held for lane in found if lane.column == 0})
    assert len(held) == 12
    assert (held[0], held[-1]) == (1, 200)
