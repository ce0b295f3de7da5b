"""Averaging over families of covariance."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import expit
from scipy.stats import multivariate_normal, norm

from zoning.surface.averaging import FAMILIES, infer_average, mixed
from zoning.surface.covariance import Covariance
from zoning.surface.inference import Recipe, infer, splits
from zoning.surface.likelihood import CovariancePrior, Posterior
from zoning.surface.priors import rule
from zoning.surface.screening import Screening
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
        weight = {i.fit.covariance.kind: w for w, i in infer_average([first], recipe).nodes}
        log_odds += np.log(weight.get(kind, LEAST)) - np.log(max(1 - weight.get(kind, 0), LEAST))
    assert log_odds > 0


def test_weights_sum_to_one_and_rows_agree(drawn, no_effects):
    recipe = Recipe(no_effects, Covariance("exponential", 1, 1, 1), PRIOR)
    readings = drawn(Covariance("exponential", 1.0, 9.0, 40.0), 40, 300, 3)
    averaged = infer_average([infer(readings, NONE, recipe)], recipe)
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
    return infer_average([infer(readings, censored, recipe)], recipe), recipe


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
    expected = infer_average([infer(readings, NONE, plain)], plain)
    assert averaged.parts_differ == 1.0
    assert [w for w, _ in averaged.nodes] == [w for w, _ in expected.nodes]


def test_where_parts_differ_in_nothing_their_effect_is_nearer_to_nothing(drawn):
    off: dict[float, list[float]] = {0.1: [], 0.0: []}
    place = np.array([[150.0, 150.0]])
    for seed in range(8):
        readings = in_parts(drawn, seed, 0.0)
        for share, effect in off.items():
            recipe = Recipe(PARTS, Covariance("exponential", 1, 1, 1), PRIOR, alike_share=share)
            averaged = infer_average([infer(readings, NONE, recipe)], recipe)
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


SCREENING = Screening(2.5, 0.15, 12, 1 / 30, 4.0)
ODD = 21


def with_an_odd_reading(drawn, no_effects, standard_errors):
    """Return readings, one of them so far off the rest; their average, its covariance known."""
    readings = drawn(TRUTH, 40, 300, 8, noise=1.0)
    mean, var = System(readings, no_effects, TRUTH).leave_one_out()
    value = readings.value.copy()
    value[ODD] = mean[ODD] + standard_errors * np.sqrt(var[ODD])
    readings = readings.with_values(value, readings.noise_var)
    recipe = Recipe(no_effects, TRUTH, PRIOR, (False, False, False), SCREENING)
    return readings, infer_average(splits(readings, NONE, recipe), recipe, ("exponential",))


@pytest.mark.parametrize("standard_errors", [2.6, -3.0, 3.42, -3.8, 4.1])
def test_an_odd_reading_counts_by_the_odds_of_two_normals(drawn, no_effects, standard_errors):
    readings, averaged = with_an_odd_reading(drawn, no_effects, standard_errors)
    stone = norm.logpdf(standard_errors, scale=4.0) - norm.logpdf(standard_errors)
    expected = expit(stone - np.log(29 + 40 - 1))
    expected = 0.0 if expected < LEAST else expected
    assert averaged.no_pan_probability()[ODD] == pytest.approx(expected, abs=1e-6)
    assert np.delete(averaged.no_pan_probability(), ODD).max() == 0.0
    place, rest = readings.xy_m[[ODD]] + 9.0, np.delete(np.arange(40), ODD)
    kept, gone = (
        System(r, no_effects, TRUTH).predict(place, np.zeros(1, np.int64))[0]
        for r in (readings, readings.take(rest))
    )
    assert averaged.predict(place, np.zeros(1, np.int64))[0] == pytest.approx(
        (1 - expected) * kept + expected * gone, abs=1e-6
    )


def test_a_reading_that_moves_away_is_let_go_little_by_little(drawn, no_effects):
    # Choosing one split would let the prediction jump by the whole pull of the reading.
    place, part = drawn(TRUTH, 40, 300, 8).xy_m[[ODD]] + 5.0, np.zeros(1, np.int64)
    means = [
        with_an_odd_reading(drawn, no_effects, far)[1].predict(place, part)[0][0]
        for far in np.arange(2.0, 5.0, 0.05)
    ]
    assert max(means) - means[-1] > 0.5
    assert np.max(np.abs(np.diff(means))) < 0.15 * (max(means) - means[-1])


def test_left_out_are_the_readings_of_the_likeliest_split(drawn, no_effects):
    readings, averaged = with_an_odd_reading(drawn, no_effects, 3.6)
    assert len(averaged.nodes) == 2
    assert averaged.best.outliers.tolist() == [ODD]
    rest = readings.take(np.delete(np.arange(40), ODD))
    expected = System(rest, no_effects, TRUTH).leave_one_out()
    np.testing.assert_allclose(averaged.leave_one_out(), expected)


@pytest.mark.parametrize("shift", [-3000.0, 3000.0])
def test_only_differences_of_log_weights_count(drawn, shift):
    recipe = Recipe(
        PARTS, Covariance("exponential", 1, 1, 1), PRIOR, screening=SCREENING, alike_share=0.1
    )
    found = splits(in_parts(drawn, 3, 0.0), NONE, recipe)
    moved = [replace(split, log_odds=split.log_odds + shift) for split in found]
    expected = [weight for weight, _ in infer_average(found, recipe).nodes]
    assert [weight for weight, _ in infer_average(moved, recipe).nodes] == pytest.approx(expected)


@pytest.mark.parametrize("seed", range(6))
def test_with_many_limits_parts_alike_gain_no_more_than_an_effect_can_cost(drawn, seed):
    # Leaving out an effect of prior N(m, s^2) that the readings tell to within e gains at most
    # log(s / e) + m^2 / (2 s^2) at one covariance: more would come of a search gone astray.
    readings = in_parts(drawn, 40 + seed, 0.0)
    limit = np.quantile(readings.value, 0.5)
    censored = np.flatnonzero(readings.value > limit)
    cut = readings.with_values(np.minimum(readings.value, limit), readings.noise_var)
    averaged, _ = averaged_over_parts(cut, censored)
    told_cm = min(i.system.part_effect(1)[1] for _, i in averaged.nodes[:1])
    most = 5.0 / told_cm * np.exp(0.5 * (3.0 / 5.0) ** 2) * 0.1 / 0.9
    odds = (1 - averaged.parts_differ) / averaged.parts_differ
    assert 0.0 <= odds <= 2.0 * most
