from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm, spearmanr
from survey_world import FINE, World, make_world, pinball_loss

from zoning.survey import ValueTable
from zoning.survey.choose import State
from zoning.survey.value import hermite


def exact(world: World, place: int, s: float, p: float) -> float:
    """Return V(s, p) at one place by adaptive quadrature."""
    out = world.outlook
    mean, sd = out.base_mean_cm[place], out.base_sd_cm[place]

    def loss(z: float) -> float:
        found = pinball_loss(
            np.array([mean + s * sd * z]), np.array([sd * np.sqrt(1 - s * s)]), np.array([p])
        )
        return float(found.min()) * norm.pdf(z)

    return quad(loss, -7, 7, epsabs=1e-6, limit=400)[0]


@pytest.mark.parametrize("place", [0, 7, 30])
@pytest.mark.parametrize("s", [0.0, 0.245, 0.735])
@pytest.mark.parametrize("p", [0.25, 0.75, 1.0])
def test_the_table_against_adaptive_quadrature(
    world: World, place: int, s: float, p: float
) -> None:
    table = ValueTable(world.outlook, FINE)
    found = table.at(np.full(60, s), np.full(60, p))[place]
    assert found == pytest.approx(exact(world, place, s, p), abs=0.02)


def test_between_the_steps_of_the_table(world: World) -> None:
    table = ValueTable(world.outlook, FINE)
    found = table.at(np.full(60, 0.55), np.full(60, 0.61))
    wanted = [exact(world, place, 0.55, 0.61) for place in range(0, 60, 12)]
    assert found[::12] == pytest.approx(wanted, abs=0.05)


def test_knowing_nothing_more_is_worth_nothing(world: World) -> None:
    out = world.outlook
    found = ValueTable(out, FINE).at(np.zeros(60), out.pan_probability)
    now = pinball_loss(out.base_mean_cm, out.base_sd_cm, out.pan_probability).min(axis=1)
    assert found == pytest.approx(now, abs=0.03)


def test_knowing_more_never_costs(world: World) -> None:
    loss = ValueTable(world.outlook, FINE).loss_cm
    assert (np.diff(loss, axis=0) <= 0.02).all()


def test_the_loss_is_concave_in_the_chance_of_a_pan(world: World) -> None:
    """A mean over answers is never worse than no answer (Jensen)."""
    loss = ValueTable(world.outlook, FINE).loss_cm
    assert (np.diff(loss, 2, axis=1) <= 1e-9).all()


def test_forbidden_depths_are_never_chosen(world: World) -> None:
    none = np.zeros_like(world.outlook.allowed)
    none[:, 0] = True
    out = replace(world.outlook, allowed=none)
    table = ValueTable(out, FINE)
    lifted = pinball_loss(out.base_mean_cm, out.base_sd_cm, np.ones(60))[:, 0]
    for s in (0.0, 0.7):
        assert table.at(np.full(60, s), np.ones(60)) == pytest.approx(lifted)


def test_the_rule_integrates_polynomials() -> None:
    place, weight = hermite(7)
    assert [weight @ place**k for k in (0, 1, 2, 4)] == pytest.approx([1, 0, 1, 3], abs=1e-9)


def brute_force(world: World, candidate: int, pairs: int, rng: np.random.Generator) -> float:
    """Return the fall of the loss by one station, by simulating the ground and the reading.

    The latent of the pan is drawn at places and candidate together; the answer is the sign there.
    Draws that give the same answer stand for what is then known of the pan; the base given a
    reading follows from the normal distribution.
    """
    out, m = world.outlook, len(world.outlook.area_ha)
    c = m + candidate
    rows = np.append(np.arange(m), c)
    root = np.linalg.cholesky(world.presence_cov[np.ix_(rows, rows)])
    draws = rng.standard_normal((4 * pairs, m + 1))
    pan = world.probit[rows] + np.vstack([draws, -draws]) @ root.T > 0
    said = pan[:, -1]
    chance = said.mean()
    var = world.base_cov[c, c] + world.error_sd_cm**2
    gain = world.base_cov[:m, c] / var
    sd = np.sqrt(np.maximum(out.base_sd_cm**2 - gain**2 * var, 1e-9))
    yes, no = pan[said, :-1].mean(axis=0), pan[~said, :-1].mean(axis=0)
    steps = norm.ppf((np.arange(pairs) + 0.5) / pairs) * np.sqrt(var)
    with_pan = np.mean(
        [
            pinball_loss(out.base_mean_cm + gain * step, sd, yes).min(axis=1) @ out.area_ha
            for step in steps
        ]
    )
    without = pinball_loss(out.base_mean_cm, out.base_sd_cm, no).min(axis=1) @ out.area_ha
    now = pinball_loss(out.base_mean_cm, out.base_sd_cm, pan[:, :-1].mean(axis=0)).min(axis=1)
    return float(now @ out.area_ha - chance * with_pan - (1 - chance) * without)


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_the_value_of_twenty_candidates_ranks_as_brute_force_does(seed: int) -> None:
    world = make_world(seed)
    found = State(ValueTable(world.outlook, FINE), world.candidates).gains(np.arange(20))
    rng = np.random.default_rng(seed)
    simulated = [brute_force(world, c, 800, rng) for c in range(20)]
    assert spearmanr(found, simulated).statistic >= 0.9
    assert np.corrcoef(found, simulated)[0, 1] >= 0.95
    assert np.mean(found) == pytest.approx(np.mean(simulated), rel=0.1)
