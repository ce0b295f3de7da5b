from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from depths.plain_passes import pinball, rules, surface
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from zoning.depths.compare import Weighed, insured_option, losses_of
from zoning.depths.levels import allowed_options, deepest_within, depth_options
from zoning.depths.loss import expected_loss
from zoning.model import PanSurface
from zoning.model.settings import MachineSection

OPTIONS_CM = depth_options(MachineSection(depth_step_cm=5))


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


def test_one_depth_is_lifted_out_where_a_cap_is_lower() -> None:
    ground = weighed(surface([20.0, 30.0, 31.0], 0.0), np.array([np.inf, np.inf, 22.0]))
    depths = np.where(OPTIONS_CM[:, None] <= [45, 45, 20], OPTIONS_CM[:, None], 0.0)
    losses = pinball(depths, np.array([23.0, 33.0, 34.0]), assurance=0.8).mean(axis=1)
    told = [ground.mean(ground.everywhere(option)) for option in range(len(OPTIONS_CM))]
    assert told == pytest.approx(losses.tolist())


def test_insured_depth_is_enough_on_95_per_cent() -> None:
    # Pan base N(30, 4) everywhere: 30 + 3 + 1.645 * 4 = 39.6 cm, so the step of 40 cm.
    place = surface(np.full(5, 30.0), 4.0)
    ground = weighed(place)
    assert OPTIONS_CM[insured_option(place, ground, clearance_cm=3)] == 40.0
    assert stats.norm.cdf(40 - 3, 30, 4) > 0.95 > stats.norm.cdf(35 - 3, 30, 4)


def test_insured_depth_beyond_the_machine_is_its_deepest() -> None:
    place = surface([60.0], 2.0)
    assert insured_option(place, weighed(place), clearance_cm=3) == len(OPTIONS_CM) - 1


def test_each_loss_is_that_of_its_choice() -> None:
    place, settings_ = field(3), rules({"depth_step_cm": 5})
    ground = weighed(place)
    free = ground.best_of(ground.few(settings_.depth.max_depths))
    driven, one = ground.everywhere(4), np.where(np.arange(30) < 12, 0, 5)
    losses = losses_of(ground, driven, one, free, place, clearance_cm=3)
    assert losses.driven_cm == pytest.approx(float(ground.loss_cm[:, 4].mean()))
    assert losses.single_depth_cm == OPTIONS_CM[5]
    single = np.append(ground.loss_cm[:12, 0], ground.loss_cm[12:, 5]).mean()
    assert losses.single_depth_loss_cm == pytest.approx(float(single))
    assert losses.unconstrained_cm <= min(losses.driven_cm, losses.single_depth_loss_cm)
