from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

sys.path.insert(0, str(Path(__file__).parent))

from floor import Informed, sample_hidden
from truth_scores import (
    Rule,
    best_one_cm,
    by_part_advised_cm,
    by_part_knowing_cm,
    calibration,
    own_best_cm,
    station_needs,
)

RULE = Rule(clearance_cm=3.0, assurance=0.8)
FINE_CM = np.arange(0.0, 60.0, 0.01)


def certain(mean_cm: float, sd_cm: float, share: float = 1.0) -> Informed:
    return Informed(np.array([mean_cm]), np.array([sd_cm]), np.array([share]))


def test_loss_weighs_too_shallow_four_times_too_deep() -> None:
    np.testing.assert_allclose(RULE.loss_cm(np.array([30.0, 40.0]), np.array([35.0, 35.0])), [4, 1])


def test_best_depth_is_the_newsvendor_quantile() -> None:
    # Pan base N(33, 4) cm and costs of 4 to 1: 36.37 cm and then the clearance (critical fractile,
    # Arrow, Harris and Marschak 1951, from memory; z(0.8) = 0.84162)
    best = own_best_cm(certain(33.0, 4.0), FINE_CM, RULE)
    assert best[0] == pytest.approx(36.37 + 3.0, abs=0.01)


def test_best_depth_is_none_where_a_pan_is_unlikely() -> None:
    assert own_best_cm(certain(33.0, 4.0, 0.19), FINE_CM, RULE)[0] == 0.0
    assert own_best_cm(certain(33.0, 4.0, 0.25), FINE_CM, RULE)[0] > 20.0


def test_expected_loss_is_the_mean_of_drawn_losses() -> None:
    rng = np.random.default_rng(3)
    need = np.where(rng.random(200_000) < 0.7, rng.normal(33, 4, 200_000) + 3.0, 0.0)
    for depth in (0.0, 25.0, 40.0):
        drawn = RULE.loss_cm(np.full(need.shape, depth), need).mean()
        assert RULE.expected_cm(depth, certain(33.0, 4.0, 0.7))[0] == pytest.approx(drawn, abs=0.1)


def test_best_one_depth_is_the_weighted_quantile() -> None:
    need = np.arange(1.0, 101.0)  # the 80 % point of 1..100 lies from 80 to 81
    assert 80.0 <= best_one_cm(need, np.arange(0.0, 101.0), RULE) <= 81.0


def test_depth_by_part_is_the_best_of_each_part() -> None:
    need, part = np.array([30.0, 30.0, 45.0, 45.0]), np.array(["a", "a", "b", "b"])
    steps = np.arange(0.0, 60.0, 2.5)
    np.testing.assert_array_equal(by_part_knowing_cm(need, part, steps, RULE), [30, 30, 45, 45])


def test_adviser_falls_back_on_the_field_where_a_part_has_few_stations() -> None:
    needs = pd.DataFrame({"part": ["a"] * 9 + ["b"], "need_cm": [30.0] * 9 + [50.0]})
    depth = by_part_advised_cm(needs, np.array(["a", "b"]), np.arange(0.0, 60.0, 2.5), RULE)
    np.testing.assert_array_equal(depth, [30.0, 30.0])


def test_stations_that_answer_nothing_are_not_asked() -> None:
    stations = pd.DataFrame(
        {
            "part_used": ["body"] * 4,
            "verdict": ["pan", "no_pan", "refused", "pan"],
            "pan_base_cm": [31.0, np.nan, np.nan, 33.0],
            "used": [True, True, True, False],
        }
    )
    assert station_needs(stations, RULE)["need_cm"].tolist() == [34.0, 0.0]


def test_coverage_of_the_right_distribution_is_its_share() -> None:
    rng = np.random.default_rng(5)
    surface = Informed(np.full(20_000, 33.0), np.full(20_000, 4.0), np.full(20_000, 0.7))
    fit = calibration(surface, rng.normal(33, 4, 20_000), rng.random(20_000) < 0.7)
    assert fit.coverage_90 == pytest.approx(0.90, abs=0.01)
    assert fit.brier == pytest.approx(0.21, abs=0.01)  # p (1 - p)


def test_hidden_draws_follow_half_normals_when_nothing_is_correlated() -> None:
    draws = sample_hidden(np.eye(2), np.zeros(2), np.array([True, False]), 1)
    # mean of a half normal: sqrt(2 / pi)
    np.testing.assert_allclose(draws.mean(axis=1), [0.798, -0.798], atol=0.15)
    assert (draws[0] > 0).all()
    assert (draws[1] < 0).all()
