from __future__ import annotations

import numpy as np
import pytest
from depths.sequences import keeps_the_rules, least, runs, total
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from numpy.typing import ArrayLike
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra

from zoning.depths.chain import Driver, runs_of
from zoning.depths.lanes import Chains


def best_sequence(
    cost: ArrayLike,
    length_m: ArrayLike,
    *,
    min_run_m: float,
    change_charge: float,
    closed: bool = False,
) -> np.ndarray:
    """Return the level of each step of one pass on its cheapest way with all levels."""
    table = np.asarray(cost, dtype=float)
    chains = Chains(np.array([0, len(table)]), np.asarray(length_m), np.array([closed]))
    one = Driver(chains, table, min_run_m=min_run_m, change_charge=change_charge)
    return one.sequence(np.arange(table.shape[1]))


@st.composite
def small_chains(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray, float, float, bool]:
    """Draw cost, lengths, shortest run, charge, whether a loop; some steps capped."""
    steps, levels = draw(st.integers(1, 7)), draw(st.integers(1, 3))
    cost = draw(hnp.arrays(float, (steps, levels), elements=st.integers(0, 20)))
    lengths = draw(hnp.arrays(float, steps, elements=st.sampled_from([0.5, 1.0, 1.0, 2.0, 3.0])))
    caps = draw(hnp.arrays(int, steps, elements=st.sampled_from([0, 1, 2, 2, 2])))
    cost[np.arange(levels)[None, :] > caps[:, None]] = np.inf
    if levels > 1 and draw(st.booleans()):  # lifting out is switched off
        cost[caps > 0, 0] = np.inf
    shortest = draw(st.sampled_from([0.0, 1.0, 2.0, 3.0, 4.0]))
    return cost, lengths, shortest, draw(st.sampled_from([0.0, 1.0, 3.0])), draw(st.booleans())


@given(small_chains())
@settings(max_examples=300, deadline=None)
def test_sequence_is_the_cheapest_of_all_that_keep_the_rules(
    chain: tuple[np.ndarray, np.ndarray, float, float, bool],
) -> None:
    cost, lengths, shortest, charge, closed = chain
    best = least(cost, lengths, shortest, charge, closed=closed)
    levels = best_sequence(cost, lengths, min_run_m=shortest, change_charge=charge, closed=closed)
    chosen = tuple(levels.tolist())
    assert keeps_the_rules(chosen, cost, lengths, shortest, closed=closed)
    assert total(chosen, cost, charge, closed=closed) == pytest.approx(best, abs=1e-9)


@given(small_chains())
@settings(max_examples=300, deadline=None)
def test_the_bound_is_never_above_the_least_of_all_and_meets_it_without_a_loop(
    chain: tuple[np.ndarray, np.ndarray, float, float, bool],
) -> None:
    cost, lengths, shortest, charge, closed = chain
    best = least(cost, lengths, shortest, charge, closed=closed)
    chains = Chains(np.array([0, len(cost)]), lengths, np.array([closed]))
    one = Driver(chains, cost, min_run_m=shortest, change_charge=charge)
    (bound,) = one.bound(np.arange(cost.shape[1])[None, :])
    assert one.has_loops is closed
    assert bound <= best + 1e-9
    if not closed:
        assert bound == pytest.approx(best, abs=1e-9)


def shortest_path(cost: np.ndarray, age: int, charge: float) -> float:
    """Return the cheapest way through (step, level, steps held) by Dijkstra's algorithm."""
    steps, levels = cost.shape
    nodes = steps * levels * age

    def node(step: int, level: int, held: int) -> int:
        return (step * levels + level) * age + min(held, age) - 1

    edges = [(nodes, node(0, k, 1), cost[0, k]) for k in range(levels)]
    for i in range(1, steps):
        for k in range(levels):
            edges += [(node(i - 1, k, a), node(i, k, a + 1), cost[i, k]) for a in range(1, age + 1)]
            others = [other for other in range(levels) if other != k]
            edges += [(node(i - 1, o, age), node(i, k, 1), cost[i, k] + charge) for o in others]
    edges += [(node(steps - 1, k, age), nodes + 1, 1.0) for k in range(levels)]
    start, end, weight = np.array(edges).T
    graph = coo_array((weight, (start.astype(int), end.astype(int))), shape=(nodes + 2, nodes + 2))
    return float(dijkstra(graph.tocsr(), indices=nodes)[nodes + 1]) - 1.0


@pytest.mark.parametrize("seed", range(6))
def test_long_passes_agree_with_the_shortest_path_of_scipy(seed: int) -> None:
    rng = np.random.default_rng(seed)
    cost = rng.uniform(1, 20, (80, 4))
    charge = float(rng.choice([0.5, 5.0, 20.0]))
    levels = best_sequence(cost, np.full(80, 5.0), min_run_m=25.0, change_charge=charge)
    found = total(tuple(levels.tolist()), cost, charge, closed=False)
    assert found == pytest.approx(shortest_path(cost, 5, charge))


def driver(cost: np.ndarray, **changes: object) -> Driver:
    """Return a driver of an open pass of 20 steps, a loop of 24 and a short pass of 3."""
    chains = Chains(np.array([0, 20, 44, 47]), np.full(47, 5.0), np.array([False, True, False]))
    rules = {"min_run_m": 25.0, "change_charge": 4.0} | changes
    return Driver(chains, cost, **rules)


def test_many_sets_at_once_cost_what_each_pass_costs_alone() -> None:
    rng = np.random.default_rng(3)
    cost = rng.uniform(0, 20, (47, 5))
    cost[rng.random(47) < 0.1, 2:] = np.inf
    sets = [(0, 1, 4), (0, 2, 3), (0, 3, 4)]
    together = driver(cost).objective(sets)
    for columns, found in zip(sets, together, strict=True):
        alone = 0.0
        for first, last, closed in ((0, 20, False), (20, 44, True), (44, 47, False)):
            part = cost[first:last, list(columns)]
            lengths = np.full(last - first, 5.0)
            levels = best_sequence(part, lengths, min_run_m=25, change_charge=4, closed=closed)
            alone += total(tuple(levels.tolist()), part, 4.0, closed=closed)
        assert found == pytest.approx(alone)


def test_sequence_costs_what_the_objective_says() -> None:
    cost = np.random.default_rng(5).uniform(0, 20, (47, 5))
    one = driver(cost)
    options = one.sequence((0, 2, 4))
    assert set(options.tolist()) <= {0, 2, 4}
    parts = [(0, 20, False), (20, 44, True), (44, 47, False)]
    found = sum(
        total(tuple(options[a:b].tolist()), cost[a:b], 4.0, closed=closed) for a, b, closed in parts
    )
    assert found == pytest.approx(one.objective([(0, 2, 4)])[0])


@given(st.integers(0, 10_000), st.booleans())
@settings(max_examples=40, deadline=None)
def test_direction_of_travel_changes_no_cost(seed: int, closed: bool) -> None:
    rng = np.random.default_rng(seed)
    cost, lengths = rng.uniform(0, 20, (30, 3)), rng.uniform(3, 6, 30)
    rules = {"min_run_m": 20.0, "change_charge": 3.0, "closed": closed}
    forth = best_sequence(cost, lengths, **rules)
    back = best_sequence(cost[::-1], lengths[::-1], **rules)
    assert total(tuple(forth.tolist()), cost, 3.0, closed=closed) == pytest.approx(
        total(tuple(back.tolist()), cost[::-1], 3.0, closed=closed)
    )


@given(st.integers(0, 10_000), st.integers(1, 29))
@settings(max_examples=40, deadline=None)
def test_where_a_loop_begins_changes_no_cost(seed: int, turn: int) -> None:
    rng = np.random.default_rng(seed)
    cost, lengths = rng.uniform(0, 20, (30, 3)), rng.uniform(3, 6, 30)
    rules = {"min_run_m": 20.0, "change_charge": 3.0, "closed": True}
    one = best_sequence(cost, lengths, **rules)
    other = best_sequence(np.roll(cost, turn, axis=0), np.roll(lengths, turn), **rules)
    assert total(tuple(one.tolist()), cost, 3.0, closed=True) == pytest.approx(
        total(tuple(other.tolist()), np.roll(cost, turn, axis=0), 3.0, closed=True)
    )


@given(st.integers(0, 10_000))
@settings(max_examples=30, deadline=None)
def test_a_shorter_shortest_run_and_a_lower_charge_never_cost_more(seed: int) -> None:
    cost = np.random.default_rng(seed).uniform(0, 20, (47, 4))
    sets = [(0, 1, 2, 3)]
    usual = driver(cost).objective(sets)[0]
    assert driver(cost, min_run_m=15.0).objective(sets)[0] <= usual + 1e-9
    assert driver(cost, change_charge=1.0).objective(sets)[0] <= usual + 1e-9
    assert driver(cost).objective([(0, 1, 2)])[0] >= usual - 1e-9


def test_a_pass_shorter_than_the_shortest_run_has_one_level() -> None:
    cost = np.array([[9.0, 1.0, 5.0], [9.0, 5.0, 1.0], [9.0, 5.0, 1.0]])
    levels = best_sequence(cost, [5.0, 5.0, 5.0], min_run_m=25.0, change_charge=0.0)
    assert levels.tolist() == [2, 2, 2]


def test_legs_are_lifted_over_a_service_alone_and_the_short_runs_are_told() -> None:
    cost = np.tile([30.0, 1.0], (12, 1))
    cost[5:7, 1] = np.inf
    chains = Chains(np.array([0, 12]), np.full(12, 5.0), np.array([False]))
    one = Driver(chains, cost, min_run_m=50.0, change_charge=0.0)
    levels = one.sequence((0, 1))
    assert levels.tolist() == [1] * 5 + [0] * 2 + [1] * 5
    told = [(run.first, run.last, run.level, run.length_m) for run in one.short_runs(levels)]
    assert told == [(0, 4, 1, 25.0), (5, 6, 0, 10.0), (7, 11, 1, 25.0)]


@pytest.mark.parametrize(
    ("closed", "at", "lifting", "kept"),
    [(False, (1, 5), True, [0, 0, 1, 1, 1, 0]),  # 3 m before the first lift, 9 m between two
     (False, (1, 5), False, [1, 0, 1, 1, 1, 0]),  # legs may be lifted at hazards alone
     (False, (2, 5), True, [1, 1, 0, 1, 1, 0]),  # 6 m each
     (True, (1, 4), True, [1, 0, 1, 1, 0, 1]),  # 6 m across the opening of a loop
     (True, (1, 5), True, [0, 0, 1, 1, 1, 0])],
)  # fmt: skip
def test_work_too_short_for_the_legs_to_sink_beside_a_lift_is_left_out(
    closed: bool, at: tuple[int, ...], lifting: bool, kept: list[int]
) -> None:
    cost = np.tile([30.0 if lifting else np.inf, 1.0], (6, 1))
    cost[at, :] = 0.0, np.inf
    chains = Chains(np.array([0, 6]), np.full(6, 3.0), np.array([closed]))
    one = Driver(chains, cost, min_run_m=12.0, change_charge=0.0)
    assert one.without_slivers(one.sequence((0, 1)), 5.0).tolist() == kept


@given(small_chains(), st.floats(0.0, 4.0))
@settings(max_examples=200, deadline=None)
def test_nothing_else_is_lifted_with_what_is_too_short_to_sink_on(
    chain: tuple[np.ndarray, np.ndarray, float, float, bool], least_m: float
) -> None:
    cost, lengths, shortest, charge, closed = chain
    chains = Chains(np.array([0, len(cost)]), lengths, np.array([closed]))
    one = Driver(chains, cost, min_run_m=shortest, change_charge=charge)
    levels = one.sequence(np.arange(cost.shape[1]))
    left = one.without_slivers(levels, least_m)
    assert np.isfinite(cost[np.arange(len(cost)), left]).all()
    assert (left[left != levels] == 0).all()
    for own in runs(tuple(levels.tolist()), closed=closed):
        length_m = sum(lengths[own])
        if length_m >= min(least_m, shortest) or (left[own] == levels[own]).all():
            assert (left[own] == levels[own]).all()
        else:
            assert (left[own] == 0).all()
    worked = [run for run in one.short_runs(left) if run.level > 0 and run.length_m < least_m - 0.1]
    assert all(not np.isfinite(cost[run.first : run.last + 1, 0]).all() for run in worked)


def test_a_shallower_stretch_over_a_drain_keeps_the_shortest_run() -> None:
    cost = np.tile([np.inf, 5.0, 1.0], (12, 1))
    cost[5:7, 2] = np.inf
    levels = best_sequence(cost, np.full(12, 5.0), min_run_m=20.0, change_charge=0.0)
    assert np.count_nonzero(levels == 1) == 4
    assert (levels[5:7] == 1).all()


def test_runs_of_a_loop_join_across_its_opening() -> None:
    chains = Chains(np.array([0, 6]), np.arange(1.0, 7.0), np.array([True]))
    found = runs_of(chains, np.array([1, 1, 2, 2, 2, 1]), 0)
    assert [(run.first, run.last, run.level, run.length_m) for run in found] == [
        (2, 4, 2, 12.0),
        (5, 1, 1, 9.0),
    ]


def test_a_step_without_any_level_is_refused() -> None:
    with pytest.raises(ValueError, match="none of the depths"):
        best_sequence([[1.0, 2.0], [np.inf, np.inf]], [5.0, 5.0], min_run_m=5, change_charge=0)


def test_a_set_that_leaves_a_step_without_a_level_costs_infinity() -> None:
    cost = np.random.default_rng(1).uniform(0, 9, (47, 4))
    cost[:, 0] = np.inf
    cost[30, 2:] = np.inf
    found = driver(cost).objective([(0, 1, 2), (0, 2, 3)])
    assert np.isfinite(found).tolist() == [True, False]
