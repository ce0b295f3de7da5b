from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from zoning.depths.chain import Driver
from zoning.depths.lanes import Chains
from zoning.depths.search import Search


def field(seed: int, options: int = 8) -> tuple[np.ndarray, Driver]:
    """Return the cost of options that is convex along them, and a driver of two passes."""
    rng = np.random.default_rng(seed)
    need = np.repeat(rng.uniform(0, options, 20), 2)
    cost = np.maximum(
        0.8 * (need[:, None] - np.arange(options)), 0.2 * (np.arange(options) - need[:, None])
    )
    chains = Chains(np.array([0, 22, 40]), np.full(40, 5.0), np.zeros(2, dtype=bool))
    return cost, Driver(chains, cost, min_run_m=15.0, change_charge=0.3)


def bound(cost: np.ndarray):
    return lambda sets: np.array([cost[:, columns].min(axis=1).sum() for columns in sets])


def best(seed: int, most: int, **limits: int) -> tuple:
    cost, driver = field(seed)
    asked = {"trials": 1000, "sets": 1000} | limits
    search = Search(driver.objective, bound(cost), cost.shape[1], trials=asked["trials"])
    return search.best(most, sets=asked["sets"]), cost, driver


@given(st.integers(0, 10_000), st.integers(1, 4))
@settings(max_examples=30, deadline=None)
def test_a_proven_set_is_the_best_of_all(seed: int, most: int) -> None:
    found, cost, driver = best(seed, most)
    sets = [(0, *s) for s in combinations(range(1, cost.shape[1]), most)]
    assert found.proven
    assert found.cost == pytest.approx(driver.objective(sets).min(), rel=1e-8)
    assert driver.objective([(0, *found.columns)])[0] == pytest.approx(found.cost)


@given(st.integers(0, 10_000), st.integers(2, 4))
@settings(max_examples=15, deadline=None)
def test_without_a_depth_stands_a_set_no_dearer_than_the_others_alone(seed: int, most: int) -> None:
    cost, driver = field(seed)
    search = Search(driver.objective, bound(cost), cost.shape[1], trials=1000)
    found = search.best(most, sets=1000)
    for column in found.columns if len(found.columns) > 1 else ():
        fewer = search.without(found, column)
        rest = [c for c in found.columns if c != column]
        assert len(fewer.columns) < len(found.columns)
        assert column not in fewer.columns or len(fewer.columns) < len(rest)
        assert found.cost <= fewer.cost <= driver.objective([(0, *rest)])[0] + 1e-9
        assert all(len(few) <= i for i, few in enumerate(fewer.fewer, start=1))


def rounds(seed: int, options: int = 7) -> tuple[np.ndarray, Driver]:
    """Return the cost of options and a driver of two loops and a pass, capped here and there."""
    rng = np.random.default_rng(seed)
    need = np.repeat(rng.uniform(0, options, 15), 4)
    off = need[:, None] - np.arange(options)
    cost = np.where(off > 0, 0.8 * off, -0.2 * off)
    cost[20:23, int(rng.integers(1, options)) :] = np.inf
    chains = Chains(np.array([0, 24, 44, 60]), np.full(60, 5.0), np.array([True, True, False]))
    return cost, Driver(chains, cost, min_run_m=20.0, change_charge=0.4)


@given(st.integers(0, 10_000), st.integers(1, 4))
@settings(max_examples=15, deadline=None)
def test_a_tight_bound_finds_the_best_of_all_with_fewer_trials(seed: int, most: int) -> None:
    cost, driver = rounds(seed)
    plain = Search(driver.objective, bound(cost), cost.shape[1], trials=1000)
    tight = Search(driver.objective, bound(cost), cost.shape[1], trials=1000, tight=driver.bound)
    one, other = plain.best(most, sets=1000), tight.best(most, sets=1000)
    sets = [(0, *s) for s in combinations(range(1, cost.shape[1]), most)]
    assert other.proven
    assert other.cost == pytest.approx(driver.objective(sets).min(), rel=1e-8)
    assert (one.columns, one.fewer) == (other.columns, other.fewer)
    assert other.trials <= one.trials


@given(st.integers(0, 10_000))
@settings(max_examples=20, deadline=None)
def test_more_depths_never_cost_more(seed: int) -> None:
    costs = [best(seed, most)[0].cost for most in range(1, 6)]
    assert (np.diff(costs) <= 1e-9).all()


@given(st.integers(0, 10_000))
@settings(max_examples=20, deadline=None)
def test_a_bound_that_is_met_misses_nothing(seed: int) -> None:
    cost, _ = field(seed)
    exact = bound(cost)
    found = Search(exact, exact, cost.shape[1], trials=1000).best(3, sets=1000)
    sets = [(0, *s) for s in combinations(range(1, cost.shape[1]), 3)]
    assert found.cost == pytest.approx(exact(sets).min(), rel=1e-9)


def test_where_only_three_depths_together_help_the_best_of_at_most_two_is_the_single_one() -> None:
    def objective(sets: list[tuple[int, ...]]) -> np.ndarray:
        return np.array([5.0 if len(columns) == 4 else 10.0 + sum(columns) for columns in sets])

    found = Search(objective, objective, 6, trials=1000).best(3, sets=1000)
    assert found.cost == 5.0
    assert found.fewer == ((1,), (1,))


@given(st.integers(0, 10_000), st.integers(1, 4))
@settings(max_examples=30, deadline=None)
def test_sets_of_fewer_depths_hold_no_more_than_they_may_and_never_cost_less(
    seed: int, most: int
) -> None:
    found, _, driver = best(seed, most)
    assert [len(s) <= k + 1 for k, s in enumerate(found.fewer)] == [True] * len(found.fewer)
    costs = [*(driver.objective([(0, *s)])[0] for s in found.fewer), found.cost]
    assert (np.diff(costs) <= 1e-9).all()


def test_without_an_allowance_the_climb_stands_unproven() -> None:
    found, _, driver = best(4, 3, sets=1)
    assert not found.proven
    one = best(4, 1)[0]
    assert found.cost <= one.cost
    assert driver.objective([(0, *found.columns)])[0] == pytest.approx(found.cost)


def test_no_more_depths_than_there_are() -> None:
    found, cost, _ = best(1, 12)
    assert len(found.columns) <= cost.shape[1] - 1


def test_depths_that_bring_nothing_are_left_out() -> None:
    cost = np.tile(np.abs(np.arange(6.0) - 3.0), (10, 1))
    chains = Chains(np.array([0, 10]), np.full(10, 5.0), np.zeros(1, dtype=bool))
    driver = Driver(chains, cost, min_run_m=10.0, change_charge=1.0)
    found = Search(driver.objective, bound(cost), 6, trials=100).best(4, sets=100)
    assert found.columns == (3,)
    assert found.proven


def test_of_equal_sets_the_shallowest_is_taken() -> None:
    search = Search(lambda sets: np.ones(len(sets)), lambda sets: np.zeros(len(sets)), 6, trials=9)
    assert search.best(1, sets=100).columns == (1,)


def test_tight_bounds_are_looked_at_no_longer_than_the_allowance_of_trials_reaches() -> None:
    looks: list[int] = []

    def objective(sets: np.ndarray) -> np.ndarray:
        return 5.0 + np.asarray(sets).sum(axis=1) / np.asarray(sets).shape[1]

    def tight(sets: np.ndarray) -> np.ndarray:
        looks.append(len(sets))
        return objective(sets)

    def spent(trials: int) -> int:
        looks.clear()
        search = Search(objective, lambda s: np.zeros(len(s)), 21, trials=trials, tight=tight)
        assert search.best(3, sets=5000).proven is (trials > 1140)
        return sum(looks)

    # A bound that is met rules out all 1140 sets of the proof, but only by being looked at.
    assert spent(200) - spent(1) <= 200 + 32 + 3 * 57  # the allowance, a batch, and the climb
    assert spent(2000) > 1140


def test_depths_are_added_even_when_the_allowance_is_spent() -> None:
    found, _, driver = best(4, 3, trials=1)
    assert len(found.columns) == 3
    assert not found.proven
    assert found.cost < driver.objective([(0, c) for c in range(1, 8)]).min()


def test_a_field_that_no_depth_fits_is_refused() -> None:
    def endless(sets: np.ndarray) -> np.ndarray:
        return np.full(len(sets), np.inf)

    with pytest.raises(ValueError, match="none of the depths"):
        Search(endless, endless, 4, trials=9).best(2, sets=100)
