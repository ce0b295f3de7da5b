"""Readings that are no pan, on data whose truth is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import betaln
from scipy.stats import norm

from zoning.surface import KrigingRegressor
from zoning.surface.covariance import Covariance
from zoning.surface.inference import Recipe, infer
from zoning.surface.likelihood import CovariancePrior, Posterior
from zoning.surface.screening import Screening, worst
from zoning.surface.system import System

TRUTH = Covariance("exponential", 1.5, 12.0, 40.0)
PRIOR = CovariancePrior(16.0, 0.8, 0.15, 1.2, 120.0, 0.8)
SCREENING = Screening(2.5, 0.15, 12, 1 / 30, 4.0)
NONE = np.empty(0, np.int64)


def test_prior_odds_are_those_of_the_beta_binomial_law():
    count, b = 60, 29.0

    def log_prior(gone):
        return betaln(1 + gone, b + count - gone)

    for gone in range(6):
        expected = log_prior(gone + 1) - log_prior(gone)
        assert SCREENING.log_odds(gone, count) == pytest.approx(expected)


def test_density_is_that_of_a_normal_four_times_as_wide():
    assert SCREENING.log_density(-11.0, 6.0) == pytest.approx(norm.logpdf(-11, 0, 4 * np.sqrt(6)))


@pytest.mark.parametrize("row", [0, 17, 39])
def test_with_known_covariance_the_odds_are_those_of_two_normals(drawn, no_effects, row):
    # log p(all) - log p(all others) is the log density of the reading given the others.
    readings = drawn(TRUTH, 40, 300, 8, noise=1.0)
    system = System(readings, no_effects, TRUTH)
    mean, var = system.leave_one_out()
    kept = readings.take(np.delete(np.arange(40), row))
    both = [
        (p := Posterior(r, no_effects, TRUTH, None)).likelihood(p.theta(TRUTH))[0]
        for r in (readings, kept)
    ]
    expected = norm.logpdf(readings.value[row], mean[row], np.sqrt(var[row]))
    assert both[0] - both[1] == pytest.approx(expected, abs=1e-8)


@pytest.mark.parametrize(("standard_errors", "gone"), [(-3.2, 0), (3.2, 0), (3.7, 1), (-3.7, 1)])
def test_where_the_odds_turn_one_reading_is_set_aside(drawn, no_effects, standard_errors, gone):
    # Normals 1 and 4 standard errors wide, odds of 1 to 29 + 40 - 1: equal at 3.42 of them.
    readings = drawn(TRUTH, 40, 300, 8, noise=1.0)
    mean, var = System(readings, no_effects, TRUTH).leave_one_out()
    value = readings.value.copy()
    value[21] = mean[21] + standard_errors * np.sqrt(var[21])
    fixed = Recipe(no_effects, TRUTH, PRIOR, (False, False, False), SCREENING)
    found = infer(readings.with_values(value, readings.noise_var), NONE, fixed)
    assert found.outliers.tolist() == [21][:gone]


def test_stones_that_hide_each_other_are_found(drawn, no_effects):
    # With all ten in, the sill is so wide that not half of them stand three standard errors off.
    recipe = Recipe(no_effects, TRUTH, PRIOR, screening=SCREENING)
    stones = set(range(0, 100, 10))
    readings = drawn(TRUTH, 100, 300, 6)
    value = readings.value.copy()
    value[list(stones)] -= 16.0
    wild = readings.with_values(value, readings.noise_var)
    plain = infer(wild, NONE, Recipe(no_effects, TRUTH, PRIOR))
    at_once = worst(plain.system, NONE, Screening(3.0, 1.0, 12, 1 / 30, 4.0), 100)
    found = set(infer(wild, NONE, recipe).outliers.tolist())
    assert len(stones & set(at_once.tolist())) <= 5
    assert len(stones & found) >= 9
    assert len(found - stones) <= 1


def test_sound_readings_are_kept_where_three_standard_errors_would_not(drawn, no_effects):
    lost = beyond = 0
    for seed in range(24):
        readings = drawn(TRUTH, 60, 300, 40 + seed)
        recipe = Recipe(no_effects, TRUTH, PRIOR, screening=SCREENING)
        lost += len(infer(readings, NONE, recipe).outliers)
        mean, var = infer(readings, NONE, Recipe(no_effects, TRUTH, PRIOR)).system.leave_one_out()
        beyond += int(np.sum(np.abs(readings.value - mean) > 3.0 * np.sqrt(var)))
    assert beyond >= 3  # 1,440 readings, of which one in 370 is expected
    assert lost <= 0.5 * beyond


@settings(max_examples=8, deadline=None)
@given(st.floats(0.01, 100.0), st.floats(-50.0, 50.0))
def test_neither_unit_nor_level_changes_what_is_set_aside(scale, level):
    rng = np.random.default_rng(4)
    xy = rng.uniform(0, 200, (40, 2))
    value = np.sin(xy[:, 0] / 40) + 0.2 * rng.standard_normal(40)
    value[[7, 22]] += 6.0
    expected = KrigingRegressor().fit(xy, value).outliers_.tolist()
    assert {7, 22} <= set(expected)
    assert KrigingRegressor().fit(xy, level + scale * value).outliers_.tolist() == expected


def test_searched_from_the_split_before_the_answer_is_that_from_nothing(drawn, no_effects):
    readings = drawn(TRUTH, 80, 300, 5, noise=1.0)
    limit = np.quantile(readings.value, 0.85)
    hidden = np.flatnonzero(readings.value > limit)
    value = np.minimum(readings.value, limit)
    stones = np.setdiff1d(np.arange(0, 80, 16), hidden)
    value[stones] -= 18.0
    cut = readings.with_values(value, readings.noise_var)
    recipe = Recipe(no_effects, TRUTH, PRIOR, screening=SCREENING)
    found = infer(cut, hidden, recipe)
    assert set(stones) <= set(found.outliers.tolist())
    rows = np.flatnonzero(np.isin(found.used, hidden))
    anew = infer(cut.take(found.used), rows, replace(recipe, screening=None))
    mean, var = found.system.predict(readings.xy_m + 7.0, readings.part)
    expected, its_var = anew.system.predict(readings.xy_m + 7.0, readings.part)
    assert np.abs(mean - expected).max() < 0.05 * np.sqrt(its_var).min()
    assert var == pytest.approx(its_var, rel=0.05)
