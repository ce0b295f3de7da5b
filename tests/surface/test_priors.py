"""Priors come from the table, and parts never met have a code."""

from __future__ import annotations

import numpy as np
import pytest

from zoning.surface.priors import (
    OTHER,
    PartCodes,
    base_covariance_prior,
    base_effects,
    presence_prior,
    reporting,
    rule,
)


def test_codes_name_known_named_and_other_parts():
    codes = PartCodes(["body", "wet hollow"])
    assert codes.names == ("body", "headland", "wheeling", "gateway", "wet hollow", OTHER)
    assert codes.of(["wet hollow", "body", "never met"]).tolist() == [4, 0, 5]
    assert codes.of([]).tolist() == []


def test_traffic_is_expected_deeper_and_the_body_is_the_reference():
    # The contract: deeper under headlands, gateways and wheelings than in the body.
    effects = base_effects(PartCodes(["track"]), several_days=False)
    assert effects.part_mean[0] == effects.part_var[0] == 0.0
    assert np.all(effects.part_mean[1:4] > 0)
    assert np.all(effects.part_var[1:] > 0)
    assert effects.day_var == 0.0
    assert base_effects(PartCodes([]), several_days=True).day_var == rule("day_sd_cm") ** 2


def test_presence_weights_sum_to_one():
    prior = presence_prior(PartCodes([]))
    assert sum(prior.range_weight) == pytest.approx(1.0)
    assert sum(prior.strength_weight) == pytest.approx(1.0)
    assert prior.strength_weight[0] == rule("presence_weak_weight")
    assert prior.part_sd[0] == 0.0


def test_covariance_prior_and_reporting_are_probabilities():
    assert 0 < base_covariance_prior().nugget_share < 1
    assert reporting().sensitivity > 0.5
    assert reporting().specificity > 0.5
