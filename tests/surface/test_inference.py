"""Outliers and censored readings on data whose truth is known."""

from __future__ import annotations

import numpy as np

from zoning.surface.covariance import Covariance
from zoning.surface.inference import Recipe, infer
from zoning.surface.likelihood import CovariancePrior
from zoning.surface.screening import Screening

TRUTH = Covariance("exponential", 1.5, 12.0, 40.0)
PRIOR = CovariancePrior(16.0, 0.8, 0.15, 1.2, 120.0, 0.8)
SCREENING = Screening(2.5, 0.1, 12, 0.033, 4.0)
NONE = np.empty(0, np.int64)


def recipe(effects, screening=SCREENING):
    return Recipe(effects, TRUTH, PRIOR, screening=screening)


def test_planted_stones_are_set_aside_and_listed(drawn, no_effects):
    readings = drawn(TRUTH, 60, 300, 1)
    value = readings.value.copy()
    value[[5, 33]] -= 25.0
    found = infer(readings.with_values(value, readings.noise_var), NONE, recipe(no_effects))
    assert {5, 33} <= set(found.outliers.tolist())
    assert len(found.outliers) <= 3
    assert sorted([*found.used, *found.outliers]) == list(range(60))


def test_sound_readings_are_nearly_all_kept(drawn, no_effects):
    lost = sum(
        len(infer(drawn(TRUTH, 50, 300, s), NONE, recipe(no_effects)).outliers) for s in range(6)
    )
    assert lost <= 2


def test_no_more_than_the_share_is_set_aside(drawn, no_effects):
    readings = drawn(TRUTH, 40, 300, 3)
    value = readings.value + np.where(np.arange(40) % 4 == 0, 40.0 * (-1.0) ** np.arange(40), 0.0)
    found = infer(readings.with_values(value, readings.noise_var), NONE, recipe(no_effects))
    assert len(found.outliers) <= 4


def test_few_readings_and_no_screening_keep_all(drawn, no_effects):
    readings = drawn(TRUTH, 10, 300, 4)
    wild = readings.value.copy()
    wild[0] += 60
    wild = readings.with_values(wild, readings.noise_var)
    assert not len(infer(wild, NONE, recipe(no_effects)).outliers)
    longer = drawn(TRUTH, 40, 300, 4)
    assert not len(infer(longer, NONE, recipe(no_effects, None)).outliers)


def test_censored_readings_beat_dropping_and_substitution(drawn, no_effects):
    # A fifth of the readings are cut off at the 80 % point: leaving them out makes the field too
    # shallow (the baselines of the literature on limits of detection).
    bias = {"tobit": [], "dropped": [], "substituted": []}
    for seed in range(12):
        readings = drawn(TRUTH, 80, 300, 100 + seed, noise=1.0)
        limit = np.quantile(readings.value, 0.8)
        cut = readings.with_values(np.minimum(readings.value, limit), readings.noise_var)
        censored = np.flatnonzero(readings.value > limit)
        kept = np.flatnonzero(readings.value <= limit)
        plain = recipe(no_effects, None)
        ways = {
            "tobit": infer(cut, censored, plain),
            "dropped": infer(cut.take(kept), NONE, plain),
            "substituted": infer(cut, NONE, plain),
        }
        places = readings.xy_m
        truth = infer(readings, NONE, plain).system.predict(places, readings.part)[0]
        for name, way in ways.items():
            bias[name].append(np.mean(way.system.predict(places, readings.part)[0] - truth))
    mean = {name: abs(np.mean(values)) for name, values in bias.items()}
    assert mean["tobit"] < 0.15
    assert mean["tobit"] < 0.4 * min(mean["dropped"], mean["substituted"])


def test_censored_rows_stay_marked_after_outliers_leave(drawn, no_effects):
    readings = drawn(TRUTH, 40, 300, 5)
    value = readings.value.copy()
    value[3] -= 30
    censored = np.array([1, 20])
    found = infer(readings.with_values(value, readings.noise_var), censored, recipe(no_effects))
    assert 3 in found.outliers
    assert found.used[found.censored].tolist() == [1, 20]
    assert not set(censored) & set(found.outliers.tolist())
