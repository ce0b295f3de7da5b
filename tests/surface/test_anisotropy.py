"""The heading test answers yes on ground drawn out along the heading, and no on other ground."""

from __future__ import annotations

import numpy as np

from zoning.surface.anisotropy import heading_test
from zoning.surface.covariance import Covariance
from zoning.surface.inference import Recipe, infer
from zoning.surface.likelihood import CovariancePrior

PRIOR = CovariancePrior(16.0, 0.8, 0.15, 1.2, 120.0, 0.8)
NONE = np.empty(0, np.int64)


def asked(readings, effects, heading_deg, fewest=40):
    recipe = Recipe(effects, Covariance("exponential", 1, 1, 1), PRIOR)
    return heading_test(infer(readings, NONE, recipe), recipe, heading_deg, fewest, 6.63)


def test_drawn_out_ground_is_seen(drawn, no_effects):
    truth = Covariance("exponential", 0.5, 12.0, 90.0, across_ratio=4.0, heading_deg=30.0)
    found = [asked(drawn(truth, 150, 300, seed), no_effects, 30.0) for seed in range(4)]
    assert sum(test.supported for test in found) >= 3
    yes = next(test for test in found if test.supported)
    assert yes.ratio >= 2
    assert yes.twice_gain > 6.63
    assert yes.covariance.heading_deg == 30.0
    assert yes.answer.startswith("yes")


def test_even_ground_is_left_alone(drawn, no_effects):
    truth = Covariance("exponential", 0.5, 12.0, 40.0)
    found = [asked(drawn(truth, 60, 300, seed), no_effects, 30.0) for seed in range(8)]
    assert sum(test.supported for test in found) <= 1
    no = next(test for test in found if not test.supported)
    assert no.answer.startswith("no")
    assert no.covariance.across_ratio == 1.0


def test_not_tested_without_heading_or_readings(drawn, no_effects):
    readings = drawn(Covariance("exponential", 0.5, 12.0, 40.0), 20, 300, 1)
    assert asked(readings, no_effects, None, 5).answer.startswith("not tested")
    assert not asked(readings, no_effects, 30.0).tested
