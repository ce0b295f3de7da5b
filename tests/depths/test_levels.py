from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from depths.plain_passes import surface
from hypothesis import given
from hypothesis import strategies as st

from zoning.depths.levels import (
    allowed_options,
    best_option,
    choose_levels,
    deepest_within,
    depth_options,
)
from zoning.depths.loss import expected_loss
from zoning.errors import PlanRefused
from zoning.model.settings import MachineSection

OPTIONS_CM = depth_options(MachineSection())


def test_steps_are_counted_from_the_shallowest_setting() -> None:
    machine = MachineSection(depth_min_cm=15, depth_max_cm=45, depth_step_cm=2.5)
    assert depth_options(machine).tolist() == [0.0, *(15 + 2.5 * i for i in range(13))]


def test_a_deepest_depth_between_two_settings_is_not_reached() -> None:
    machine = MachineSection(depth_min_cm=15, depth_max_cm=44, depth_step_cm=5)
    assert depth_options(machine).tolist() == [0, 15, 20, 25, 30, 35, 40]


@pytest.mark.parametrize("step", [0.1, 0.3, 0.7, 2.54])
def test_rounding_does_not_lose_the_last_setting(step: float) -> None:
    machine = MachineSection(depth_min_cm=10, depth_max_cm=10 + 30 * step, depth_step_cm=step)
    assert len(depth_options(machine)) == 32


def test_one_setting_is_enough() -> None:
    machine = MachineSection(depth_min_cm=30, depth_max_cm=30)
    assert depth_options(machine).tolist() == [0, 30]


def test_range_the_wrong_way_round_is_refused() -> None:
    with pytest.raises(PlanRefused, match="depth_max_cm"):
        depth_options(MachineSection(depth_min_cm=40, depth_max_cm=30))


def test_caps_are_rounded_down_to_a_setting() -> None:
    caps = np.array([0.0, 14.99, 15.0, 17.4, 17.5, 44.0, 300.0, np.inf])
    assert deepest_within(OPTIONS_CM, caps).tolist() == [0, 0, 15, 15, 17.5, 42.5, 45, 45]


def test_lifting_is_forced_below_the_shallowest_setting_even_where_it_is_switched_off() -> None:
    caps = np.array([np.inf, 20.0, 10.0])
    kept = allowed_options(OPTIONS_CM, caps, lift_out=False)
    assert kept[:, 0].tolist() == [False, False, True]
    assert kept.sum(axis=1).tolist() == [13, 3, 1]
    assert allowed_options(OPTIONS_CM, caps, lift_out=True)[:, 0].all()


def test_a_cap_that_is_no_number_is_refused() -> None:
    with pytest.raises(ValueError, match="not a number"):
        allowed_options(OPTIONS_CM, np.array([np.nan]), lift_out=True)


@given(
    st.floats(5, 60),
    st.floats(0, 10),
    st.floats(0, 1),
    st.tuples(st.floats(0, 60), st.floats(0, 60)),
)
def test_a_higher_cap_never_makes_a_cell_shallower(
    mean: float, sd: float, pan: float, caps: tuple[float, float]
) -> None:
    loss = expected_loss(surface([mean], sd, pan), OPTIONS_CM, clearance_cm=3, assurance=0.8)
    allowed = allowed_options(OPTIONS_CM, np.sort(caps), lift_out=True)
    chosen = best_option(np.where(allowed, loss, np.inf))
    assert chosen[1] >= chosen[0]
    assert (OPTIONS_CM[chosen] <= np.sort(caps)).all()


cells = st.lists(
    st.tuples(st.floats(5, 60), st.floats(0, 8), st.floats(0, 1)), min_size=1, max_size=12
)


@given(
    cells, st.integers(1, 5), st.booleans(), st.lists(st.floats(15, 60), min_size=12, max_size=12)
)
def test_levels_agree_with_trying_every_set(
    places: list[tuple[float, float, float]], most: int, lift_out: bool, caps: list[float]
) -> None:
    mean, sd, pan = np.array(places).T
    options = OPTIONS_CM[::2] if lift_out else OPTIONS_CM[1::2]
    loss = expected_loss(surface(mean, sd, pan), options, clearance_cm=3, assurance=0.8)
    cost = np.where(options[None, :] <= np.array(caps)[: len(mean), None], loss, np.inf)
    working = [i for i, option in enumerate(options) if option > 0]
    free = [i for i, option in enumerate(options) if option == 0]
    sets = [
        (*free, *s)
        for size in range(0 if free else 1, most + 1)
        for s in combinations(working, size)
    ]
    least = min(cost[:, list(s)].min(axis=1).sum() for s in sets)
    chosen = choose_levels(cost, options, max_depths=most)
    columns = [*free, *np.searchsorted(options, chosen)]
    assert len(chosen) <= most
    assert cost[:, columns].min(axis=1).sum() == pytest.approx(least, rel=1e-12, abs=1e-9)


def test_one_level_for_known_depths_at_even_odds_is_their_median() -> None:
    # At equal weights the loss is half the absolute deviation, which the median makes least.
    needs = np.array([20.0, 22.5, 25.0, 35.0, 42.5])
    loss = expected_loss(surface(needs, 0.0), OPTIONS_CM[1:], clearance_cm=0, assurance=0.5)
    assert choose_levels(loss, OPTIONS_CM[1:], max_depths=1).tolist() == [25.0]


def test_no_more_levels_than_pay() -> None:
    loss = expected_loss(
        surface([27.0, 27.0, 37.0], 0.0), OPTIONS_CM, clearance_cm=3, assurance=0.8
    )
    assert choose_levels(loss, OPTIONS_CM, max_depths=6).tolist() == [30.0, 40.0]


def test_no_level_where_nothing_is_needed() -> None:
    loss = expected_loss(surface([30.0], 2.0, 0.0), OPTIONS_CM, clearance_cm=3, assurance=0.8)
    assert choose_levels(loss, OPTIONS_CM, max_depths=4).tolist() == []


def test_a_place_without_any_depth_is_refused() -> None:
    with pytest.raises(ValueError, match="none of the depths"):
        choose_levels(
            np.array([[1.0, 2.0], [np.inf, np.inf]]), np.array([15.0, 20.0]), max_depths=2
        )
