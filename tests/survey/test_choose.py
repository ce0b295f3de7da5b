from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from survey_world import FINE, World

from zoning.survey import Rule, ValueTable, choose_next
from zoning.survey.choose import State


@pytest.fixture(scope="module")
def table(world: World) -> ValueTable:
    return ValueTable(world.outlook, FINE)


def test_the_first_is_the_best_single(world: World, table: ValueTable) -> None:
    gains = State(table, world.candidates).gains(np.arange(20))
    batch = choose_next(table, world.candidates, Rule(1, 0.0, 0.0))
    assert batch.rows == (int(np.argmax(gains)),)
    assert batch.gain_cm_ha[0] == pytest.approx(gains.max())


def test_lazy_choice_is_that_of_weighing_every_candidate_each_time(
    world: World, table: ValueTable
) -> None:
    state, rows = State(table, world.candidates), []
    for _ in range(6):
        gains = state.gains(np.arange(20))
        gains[rows] = -np.inf
        rows.append(int(np.argmax(gains)))
        state.take(rows[-1])
    assert list(choose_next(table, world.candidates, Rule(6, 0.0, 0.0)).rows) == rows


def test_gains_add_up_to_the_fall_of_the_loss(world: World, table: ValueTable) -> None:
    batch = choose_next(table, world.candidates, Rule(4, 0.0, 0.0))
    state = State(table, world.candidates)
    before = state.loss_cm_ha()
    for row in batch.rows:
        state.take(row)
    assert sum(batch.gain_cm_ha) == pytest.approx(before - state.loss_cm_ha(), rel=0.15)


def test_a_greedy_pair_is_nearly_the_best_pair(world: World, table: ValueTable) -> None:
    def gain(pair: tuple[int, int]) -> float:
        state = State(table, world.candidates)
        first = state.gains(np.array([pair[0]]))[0]
        state.take(pair[0])
        return float(first + state.gains(np.array([pair[1]]))[0])

    batch = choose_next(table, world.candidates, Rule(2, 0.0, 0.0))
    best = max(gain(pair) for pair in combinations(range(20), 2))
    assert sum(batch.gain_cm_ha) >= 0.9 * best


def test_it_ends_when_the_gain_is_less_than_the_cost(world: World, table: ValueTable) -> None:
    free = choose_next(table, world.candidates, Rule(8, 0.0, 0.0))
    cost = float(np.median(free.gain_cm_ha))
    held = choose_next(table, world.candidates, Rule(8, cost, 0.0))
    assert 0 < len(held.rows) < len(free.rows)
    assert min(held.gain_cm_ha) > cost
    assert choose_next(table, world.candidates, Rule(8, 1e6, 0.0)).rows == ()


def test_stations_of_a_batch_keep_apart(world: World, table: ValueTable) -> None:
    batch = choose_next(table, world.candidates, Rule(20, 0.0, 40.0))
    xy = world.candidates.xy_m[list(batch.rows)]
    gap = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1))
    assert len(xy) > 3
    assert gap[np.triu_indices(len(xy), 1)].min() >= 40.0
