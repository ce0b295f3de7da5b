from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from depths.plain_passes import rules, surface
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from zoning.depths.compare import Weighed, insured_option, losses_of
from zoning.depths.levels import allowed_options, deepest_within, depth_options
from zoning.depths.loss import expected_loss, pinball
from zoning.model import PanSurface
from zoning.model.settings import MachineSection

OPTIONS_CM = depth_options(MachineSection(depth_step_cm=5), lift_out=True)


def weighed(
    place: PanSurface, cap_cm: np.ndarray | float = np.inf, *, lift_out: bool = True
) -> Weighed:
    caps = np.broadcast_to(np.asarray(cap_cm, dtype=float), place.base_mean_cm.shape)
    loss = expected_loss(place, OPTIONS_CM, clearance_cm=3, assurance=0.8)
    allowed = allowed_options(OPTIONS_CM, caps, lift_out=lift_out)
    cap = np.searchsorted(OPTIONS_CM, deepest_within(OPTIONS_CM, caps))
    return Weighed(loss, np.full(len(loss), 4.0), allowed, cap, OPTIONS_CM)


def field(seed: int, n: int = 30) -> PanSurface:
    rng = np.random.default_rng(seed)
    return surface(rng.uniform(10, 45, n), rng.uniform(0, 6, n), rng.uniform(0, 1, n))


@given(st.integers(0, 10_000), st.integers(1, 3), st.booleans())
@settings(max_examples=30, deadline=None)
def test_the_few_are_the_best_few_under_caps(seed: int, most: int, lift_out: bool) -> None:
    caps = np.random.default_rng(seed).choice([0.0, 17.0, 31.0, np.inf], 30)
    ground = weighed(field(seed), caps, lift_out=lift_out)
    found = ground.mean(ground.best_of(ground.few(most)))
    cost = np.where(ground.allowed, ground.loss_cm, np.inf)
    every = [
        cost[:, [0, *s]].min(axis=1).mean() for s in combinations(range(1, len(OPTIONS_CM)), most)
    ]
    assert found == pytest.approx(min(every))


def test_single_depth_is_the_best_of_all_and_gives_way_to_caps() -> None:
    ground = weighed(surface([20.0, 30.0, 31.0], 0.0), np.array([np.inf, np.inf, 22.0]))
    depths = np.minimum(OPTIONS_CM[:, None], [45, 45, 20])
    losses = pinball(depths, np.array([23.0, 33.0, 34.0]), assurance=0.8).mean(axis=1)
    single = ground.best_single(lift_out=True)
    assert single == np.argmin(losses)
    assert ground.mean(ground.everywhere(single)) == pytest.approx(losses.min())


def test_not_working_counts_as_a_single_depth_only_where_lifting_is_allowed() -> None:
    ground = weighed(surface([30.0], 1.0, 0.0))
    assert ground.best_single(lift_out=True) == 0
    assert ground.best_single(lift_out=False) == 1


def test_insured_depth_is_enough_on_95_per_cent() -> None:
    # Pan base N(30, 4) everywhere: 30 + 3 + 1.645 * 4 = 39.6 cm, so the step of 40 cm.
    place = surface(np.full(5, 30.0), 4.0)
    ground = weighed(place)
    assert OPTIONS_CM[insured_option(place, ground, clearance_cm=3)] == 40.0
    assert stats.norm.cdf(40 - 3, 30, 4) > 0.95 > stats.norm.cdf(35 - 3, 30, 4)


def test_insured_depth_beyond_the_machine_is_its_deepest() -> None:
    place = surface([60.0], 2.0)
    assert insured_option(place, weighed(place), clearance_cm=3) == len(OPTIONS_CM) - 1


def test_losses_stand_in_their_order() -> None:
    place, settings_ = field(3), rules({"depth_step_cm": 5})
    ground = weighed(place)
    free = ground.best_of(ground.few(settings_.depth.max_depths))
    losses = losses_of(ground, ground.everywhere(4), free, place, settings_.depth)
    assert losses.unconstrained_cm <= losses.single_depth_loss_cm <= losses.driven_cm
    assert losses.single_depth_loss_cm <= losses.point95_loss_cm
    assert losses.driven_cm == pytest.approx(float(ground.loss_cm[:, 4].mean()))
