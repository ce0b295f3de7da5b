"""Averaging over families of covariance."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from zoning.surface.averaging import FAMILIES, infer_families, mixed
from zoning.surface.covariance import Covariance
from zoning.surface.inference import Recipe, infer
from zoning.surface.likelihood import CovariancePrior, Posterior
from zoning.surface.priors import rule
from zoning.surface.system import Effects, System

PRIOR = CovariancePrior(16.0, 0.8, 0.15, 1.2, 120.0, 0.8)
NONE = np.empty(0, np.int64)
LEAST = rule("average_least_weight")


def test_mixture_moments_are_those_of_draws():
    rng = np.random.default_rng(0)
    draws = np.where(
        rng.random(500_000) < 0.3, rng.normal(1, 2, 500_000), rng.normal(4, 1, 500_000)
    )
    mean, var = mixed(
        [(0.3, np.array([1.0]), np.array([4.0])), (0.7, np.array([4.0]), np.array([1.0]))]
    )
    assert mean[0] == pytest.approx(draws.mean(), abs=0.02)
    assert var[0] == pytest.approx(draws.var(), abs=0.03)


@pytest.mark.parametrize("kind", FAMILIES)
def test_the_family_the_readings_came_from_weighs_more(drawn, no_effects, kind):
    truth = Covariance(kind, 1.0, 16.0, 40.0 if kind == "exponential" else 45.0)
    log_odds = 0.0
    for seed in range(6):
        recipe = Recipe(no_effects, Covariance("exponential", 1, 1, 1), PRIOR)
        first = infer(drawn(truth, 200, 120, seed), NONE, recipe)
        weight = {i.fit.covariance.kind: w for w, i in infer_families([first], recipe).nodes}
        log_odds += np.log(weight.get(kind, LEAST)) - np.log(max(1 - weight.get(kind, 0), LEAST))
    assert log_odds > 0


def test_weights_sum_to_one_and_rows_agree(drawn, no_effects):
    recipe = Recipe(no_effects, Covariance("exponential", 1, 1, 1), PRIOR)
    readings = drawn(Covariance("exponential", 1.0, 9.0, 40.0), 40, 300, 3)
    averaged = infer_families([infer(readings, NONE, recipe)], recipe)
    assert sum(weight for weight, _ in averaged.nodes) == pytest.approx(1.0)
    assert {inference.fit.covariance.kind for _, inference in averaged.nodes} == set(FAMILIES)
    assert all(np.array_equal(i.used, averaged.best.used) for _, i in averaged.nodes)
    mean, var = averaged.predict(readings.xy_m, readings.part)
    each = [system.predict(readings.xy_m, readings.part) for _, system in averaged.systems]
    assert np.all(mean <= np.max([m for m, _ in each], axis=0) + 1e-9)
    assert np.all(var >= np.min([v for _, v in each], axis=0) - 1e-9)
    assert averaged.leave_one_out()[0].shape == (40,)


PARTS = Effects(np.array([0.0, 3.0, 4.0]), np.array([0.0, 25.0, 25.0]), 0.0, 32.0, 1 / 64)
TRUTH = Covariance("exponential", 2.0, 10.0, 40.0)


def in_parts(drawn, seed, deeper):
    """Return 60 readings, of which every third stands in part 1, so much deeper; none in part 2."""
    readings = drawn(TRUTH, 60, 300, seed, noise=1.0)
    part = np.where(np.arange(60) % 3 == 0, 1, 0)
    return replace(readings, value=readings.value + deeper * part, part=part)


def averaged_over_parts(readings, censored=NONE):
    recipe = Recipe(PARTS, Covariance("exponential", 1, 1, 1), PRIOR, alike_share=0.1)
    return infer_families([infer(readings, censored, recipe)], recipe), recipe


@pytest.mark.parametrize("censored", [NONE, np.array([4, 21, 33])])
def test_odds_of_parts_alike_are_those_of_the_marginal_densities(drawn, censored):
    averaged = averaged_over_parts(in_parts(drawn, 2, 1.0), censored)[0]
    differ = next(i for _, i in averaged.nodes if i.fit.covariance.kind == "exponential")
    data = differ.system.readings
    densities = []
    for weight, inference in averaged.nodes:
        if inference.fit.covariance.kind == "exponential":
            c, effects = inference.fit.covariance, inference.system.effects
            system = System(data, effects, c)
            total = np.linalg.inv(system.precision())
            mean = effects.level + effects.part_mean[data.part]
            prior = Posterior(data, effects, c, PRIOR)
            log_prior = prior.log_prior(prior.theta(c))[0]
            densities.append(
                (weight, multivariate_normal(mean, total).logpdf(data.value), log_prior)
            )
    (w1, l1, p1), (w0, l0, p0) = densities
    assert np.log(w0 / w1) == pytest.approx(l0 + p0 - l1 - p1 + np.log(0.1 / 0.9), abs=1e-5)


def test_parts_that_differ_leave_the_average_as_it_was(drawn):
    readings = in_parts(drawn, 1, 9.0)
    averaged, recipe = averaged_over_parts(readings)
    plain = replace(recipe, alike_share=0.0)
    expected = infer_families([infer(readings, NONE, plain)], plain)
    assert averaged.parts_differ == 1.0
    assert [w for w, _ in averaged.nodes] == [w for w, _ in expected.nodes]


def test_where_parts_differ_in_nothing_their_effect_is_nearer_to_nothing(drawn):
    off: dict[float, list[float]] = {0.1: [], 0.0: []}
    place = np.array([[150.0, 150.0]])
    for seed in range(8):
        readings = in_parts(drawn, seed, 0.0)
        for share, effect in off.items():
            recipe = Recipe(PARTS, Covariance("exponential", 1, 1, 1), PRIOR, alike_share=share)
            averaged = infer_families([infer(readings, NONE, recipe)], recipe)
            body, other = (averaged.predict(place, np.array([k]))[0][0] for k in (0, 1))
            effect.append(abs(other - body))
    assert np.all(np.array(off[0.1]) <= np.array(off[0.0]) + 0.01)
    assert np.median(off[0.1]) < 0.8 * np.median(off[0.0])


def test_a_part_nobody_read_keeps_its_prior(drawn):
    averaged, _ = averaged_over_parts(in_parts(drawn, 3, 0.0))
    assert averaged.parts_differ < 1.0
    for _, inference in averaged.nodes:
        effects = inference.system.effects
        assert (effects.part_mean[2], effects.part_var[2]) == (4.0, 25.0)
