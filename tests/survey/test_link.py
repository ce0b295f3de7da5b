from __future__ import annotations

import numpy as np
import pytest
from survey_world import World

from zoning.survey.link import Known


def test_taking_stations_gives_the_covariance_of_kriging(world: World) -> None:
    """Against the normal equations solved at once."""
    known, m, noise = Known(world.candidates.base), len(world.outlook.area_ha), 2.5
    taken = [3, 11, 7]
    for row in taken:
        known.take(row, noise)
    c = m + np.array(taken)
    total = world.base_cov[np.ix_(c, c)] + noise * np.eye(3)
    towards = world.base_cov[np.ix_(np.arange(m), c)]
    explained = np.einsum("ij,ji->i", towards, np.linalg.solve(total, towards.T))
    assert known.explained == pytest.approx(explained)
    own = world.base_cov[m + 5, c]
    left = world.base_cov[m + 5, m + 5] - own @ np.linalg.solve(total, own)
    assert known.own[5] == pytest.approx(left)


def test_adding_one_and_taking_it_explain_the_same(world: World) -> None:
    known = Known(world.candidates.base)
    known.take(1, 1.0)
    ahead = known.share_with(np.array([8, 9]), 1.0)
    known.take(9, 1.0)
    assert known.share == pytest.approx(ahead[1])


def test_the_order_of_stations_does_not_change_what_they_explain(world: World) -> None:
    one, two = Known(world.candidates.base), Known(world.candidates.base)
    for row in (2, 9, 14):
        one.take(row, 1.0)
    for row in (14, 2, 9):
        two.take(row, 1.0)
    assert one.explained == pytest.approx(two.explained)


def test_shares_stay_between_nothing_and_all(world: World) -> None:
    known = Known(world.candidates.base)
    for row in range(20):
        known.take(row, 0.01)
    assert (known.share >= 0).all()
    assert (known.share <= 1).all()
