from __future__ import annotations

import numpy as np
import pytest
from depths.plain_passes import pinball, surface
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from zoning.depths.levels import best_option
from zoning.depths.loss import expected_loss, needed_depth, probability_enough

DEPTHS_CM = np.r_[0.0, np.arange(15.0, 46.0, 2.5)]
means = st.floats(0, 70)
spreads = st.floats(0, 15)
shares = st.floats(0, 1)
assurances = st.floats(0.05, 0.95)
clearances = st.floats(0, 20)


def by_quadrature(
    mean: float, sd: float, pan: float, depth: float, clearance: float, a: float
) -> float:
    """Integrate the loss over the cut-off normal of scipy.stats."""
    base = stats.truncnorm(-mean / sd, np.inf, loc=mean, scale=sd)

    def term(b: float) -> float:
        return float(pinball(depth, b + clearance, assurance=a)) * float(base.pdf(b))

    top = mean + 12 * sd
    bend = min(max(depth - clearance, 0.0), top)
    parts = (
        integrate.quad(term, *ends, epsabs=1e-11, limit=200)[0] for ends in ((0, bend), (bend, top))
    )
    return pan * sum(parts) + (1 - pan) * (1 - a) * depth


@pytest.mark.parametrize("mean", [0.5, 12.0, 33.0, 60.0])
@pytest.mark.parametrize("sd", [0.7, 4.0, 15.0])
@pytest.mark.parametrize("depth", [0.0, 2.0, 15.0, 33.0, 45.0])
def test_closed_form_agrees_with_quadrature(mean: float, sd: float, depth: float) -> None:
    loss = expected_loss(surface([mean], sd, 0.7), [depth], clearance_cm=3, assurance=0.8)
    assert loss[0, 0] == pytest.approx(by_quadrature(mean, sd, 0.7, depth, 3.0, 0.8), abs=1e-8)


def test_worked_example_of_the_critical_fractile() -> None:
    # Critical fractile (Arrow, Harris, Marschak 1951): N(33, 4) at 4 : 1, z = 0.84162.
    place = surface([33.0], 4.0)
    depth = needed_depth(place, clearance_cm=0, assurance=0.8)[0]
    assert depth == pytest.approx(36.37, abs=0.005)
    fine = np.arange(30, 45, 0.001)
    least = fine[np.argmin(expected_loss(place, fine, clearance_cm=0, assurance=0.8))]
    assert least == pytest.approx(depth, abs=0.002)
    assert needed_depth(place, clearance_cm=3, assurance=0.8)[0] == pytest.approx(depth + 3)


@pytest.mark.parametrize(("assurance", "z"), [(0.5, 0.0), (0.75, 0.67449), (0.9, 1.28155)])
def test_needed_depth_is_the_quantile_of_the_normal_table(assurance: float, z: float) -> None:
    # Standard normal quantiles as printed in tables; the surface is 9 deviations away.
    depth = needed_depth(surface([36.0], 4.0), clearance_cm=0, assurance=assurance)[0]
    assert depth == pytest.approx(36 + 4 * z, abs=1e-4)


@given(means, spreads, shares, clearances, assurances)
def test_no_depth_costs_less_than_the_needed_depth(
    mean: float, sd: float, pan: float, clearance: float, a: float
) -> None:
    place = surface([mean], sd, pan)
    depth = needed_depth(place, clearance_cm=clearance, assurance=a)[0]
    others = np.r_[depth, np.linspace(0, 120, 97)]
    loss = expected_loss(place, others, clearance_cm=clearance, assurance=a)[0]
    assert loss[0] <= loss.min() + 1e-8


@given(means, spreads, shares, clearances, assurances)
def test_loss_is_convex_along_the_depths_and_never_negative(
    mean: float, sd: float, pan: float, clearance: float, a: float
) -> None:
    loss = expected_loss(
        surface([mean], sd, pan), np.arange(0, 61.0), clearance_cm=clearance, assurance=a
    )[0]
    assert (np.diff(loss, 2) >= -1e-9).all()
    assert (loss >= 0).all()


@given(means, spreads, shares, clearances, st.tuples(assurances, assurances))
def test_more_assurance_is_never_shallower(
    mean: float, sd: float, pan: float, clearance: float, pair: tuple[float, float]
) -> None:
    place, (low, high) = surface([mean], sd, pan), sorted(pair)
    less = expected_loss(place, DEPTHS_CM, clearance_cm=clearance, assurance=low)
    more = expected_loss(place, DEPTHS_CM, clearance_cm=clearance, assurance=high)
    assert_not_shallower(less[0], more[0])


@given(means, spreads, shares, st.tuples(clearances, clearances), assurances)
def test_more_clearance_is_never_shallower(
    mean: float, sd: float, pan: float, pair: tuple[float, float], a: float
) -> None:
    place, (low, high) = surface([mean], sd, pan), sorted(pair)
    less = expected_loss(place, DEPTHS_CM, clearance_cm=low, assurance=a)
    more = expected_loss(place, DEPTHS_CM, clearance_cm=high, assurance=a)
    assert_not_shallower(less[0], more[0])


def assert_not_shallower(less: np.ndarray, more: np.ndarray) -> None:
    """Depths that cost the same to 1e-9 are ties, which rounding may break either way."""
    before, after = int(best_option(less[None])[0]), int(best_option(more[None])[0])
    tie = less[after] - less[before] < 1e-9 or more[before] - more[after] < 1e-9
    assert after >= before or tie


def test_base_known_exactly_gives_the_pinball_loss() -> None:
    loss = expected_loss(
        surface([30.0, 30.0], 0.0, 1.0), [25.0, 40.0], clearance_cm=3, assurance=0.8
    )
    assert loss[0] == pytest.approx([0.8 * 8, 0.2 * 7], abs=1e-8)


def test_no_pan_costs_the_depth_and_lifted_legs_cost_the_whole_need() -> None:
    loss = expected_loss(surface([30.0], 1.0, 0.0), [0.0, 20.0], clearance_cm=3, assurance=0.8)
    assert loss[0] == pytest.approx([0.0, 0.2 * 20])
    lifted = expected_loss(surface([30.0], 1.0, 0.5), [0.0], clearance_cm=3, assurance=0.8)
    assert lifted[0, 0] == pytest.approx(0.5 * 0.8 * 33)


def test_probability_enough_agrees_with_scipy() -> None:
    place = surface([20.0], 6.0, 0.6)
    base = stats.truncnorm(-20 / 6, np.inf, loc=20, scale=6)
    enough = probability_enough(place, 27.0, clearance_cm=3)[0]
    assert enough == pytest.approx(0.4 + 0.6 * base.cdf(24.0))
    assert probability_enough(place, 0.0, clearance_cm=3)[0] == pytest.approx(0.4)
    both = probability_enough(surface([20.0, 20.0], 6.0, 0.6), [27.0, 0.0], clearance_cm=3)
    assert both == pytest.approx([enough, 0.4])


def test_need_is_nothing_where_no_pan_is_likely_enough() -> None:
    needed = needed_depth(
        surface([30.0, 30.0], 2.0, np.array([0.19, 0.21])), clearance_cm=3, assurance=0.8
    )
    assert needed[0] == 0.0
    assert needed[1] > 20.0


@pytest.mark.parametrize(
    ("mean", "sd", "pan", "word"),
    [
        (np.nan, 1.0, 1.0, "finite"),
        (30.0, np.inf, 1.0, "finite"),
        (30.0, -1.0, 1.0, "negative"),
        (30.0, 1.0, 1.2, "probability"),
    ],
)
def test_impossible_surfaces_are_refused(mean: float, sd: float, pan: float, word: str) -> None:
    with pytest.raises(ValueError, match=word):
        expected_loss(surface([mean], sd, pan), [20.0], clearance_cm=3, assurance=0.8)
