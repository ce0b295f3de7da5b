from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import ndtr
from scipy.stats import multivariate_normal
from survey_world import World

from zoning.survey.answers import Answers, both_positive


def answers(world: World, most: int = 16) -> Answers:
    told = world.candidates
    return Answers(told.presence, world.outlook.pan_probability, told.chance, most)


@given(st.floats(-2.5, 2.5), st.floats(-2.5, 2.5), st.floats(-0.97, 0.97))
@settings(deadline=None)
def test_two_positive_against_scipy(a: float, b: float, r: float) -> None:
    exact = multivariate_normal.cdf([a, b], cov=[[1, r], [r, 1]])
    found = both_positive(np.array([a]), np.array([b]), np.array([r]))[0]
    assert found == pytest.approx(exact, abs=2e-3)


def test_an_answer_moves_the_chance_as_the_bivariate_normal_says(world: World) -> None:
    m = len(world.outlook.area_ha)
    yes, no = answers(world).after(np.array([4]), 0)
    for place in (0, 17, 40):
        r = world.presence_cov[m + 4, place]
        both = multivariate_normal.cdf(
            [world.probit[place], world.probit[m + 4]], cov=[[1, r], [r, 1]]
        )
        chance = ndtr(world.probit[m + 4])
        assert yes[0, place] == pytest.approx(both / chance, abs=2e-3)
        alone = ndtr(world.probit[place])
        assert no[0, place] == pytest.approx((alone - both) / (1 - chance), abs=0.01)


def test_before_an_answer_is_known_it_changes_nothing_on_average(world: World) -> None:
    told = answers(world)
    told.take(2)
    rows = np.arange(20)
    chance = told.chance_at(rows)
    for scenario in range(len(told.weight)):
        yes, no = told.after(rows, scenario)
        mean = chance[scenario][:, None] * yes + (1 - chance[scenario])[:, None] * no
        assert mean == pytest.approx(
            np.broadcast_to(told.place_chance[scenario], mean.shape), abs=1e-3
        )


def test_scenarios_are_as_likely_as_the_answers_and_average_to_what_was(world: World) -> None:
    told = answers(world)
    for row in (3, 12):
        told.take(row)
    m = len(world.outlook.area_ha)
    r = world.presence_cov[m + 3, m + 12]
    both = multivariate_normal.cdf(world.probit[[m + 3, m + 12]], cov=[[1, r], [r, 1]])
    assert told.weight.sum() == pytest.approx(1.0)
    assert told.weight[0] == pytest.approx(both, abs=0.02)
    mean = told.weight @ told.place_chance
    assert mean == pytest.approx(world.outlook.pan_probability, abs=0.02)


def test_chances_after_two_answers_against_simulation(world: World) -> None:
    told, m = answers(world), len(world.outlook.area_ha)
    for row in (3, 12):
        told.take(row)
    rows = np.append(np.arange(m), [m + 3, m + 12])
    root = np.linalg.cholesky(world.presence_cov[np.ix_(rows, rows)])
    draws = np.random.default_rng(0).standard_normal((60_000, len(rows)))
    pan = world.probit[rows] + draws @ root.T > 0
    said = [(True, True), (True, False), (False, True), (False, False)]
    # Scenario: the later answer in the outer order, the earlier in the inner one.
    order = [said[0], said[2], said[1], said[3]]
    for scenario, (first, second) in enumerate(order):
        held = (pan[:, -2] == first) & (pan[:, -1] == second)
        off = told.place_chance[scenario] - pan[held, :-2].mean(axis=0)
        assert np.sqrt(np.mean(off**2)) < 0.05


def test_no_more_scenarios_than_asked_for(world: World) -> None:
    told = answers(world, most=5)
    for row in (0, 5, 9, 15):
        told.take(row)
    assert len(told.weight) == len(told.place_chance) == 5
    assert told.weight.sum() == pytest.approx(1.0)
    assert told.weight @ told.place_chance == pytest.approx(world.outlook.pan_probability, abs=0.15)
