"""The blended mean against the sum of the systems it stands for."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from zoning.surface.blending import Blend, Solved
from zoning.surface.covariance import Covariance
from zoning.surface.inference import Inference, Recipe, infer
from zoning.surface.likelihood import CovariancePrior
from zoning.surface.system import Effects, System

PRIOR = CovariancePrior(16.0, 0.8, 0.15, 1.2, 120.0, 0.6)
NONE = np.empty(0, np.int64)
EFFECTS = Effects(np.array([0.0, 3.0, 4.0]), np.array([0.0, 25.0, 16.0]), 0.0, 32.0, 1 / 64)
ALIKE = replace(EFFECTS, part_mean=np.array([0.0, 0.0, 4.0]), part_var=np.array([0.0, 0.0, 16.0]))


@pytest.fixture
def base(drawn) -> Inference:
    readings = drawn(Covariance("exponential", 2.0, 10.0, 40.0), 40, 300, 1, noise=1.0)
    readings = replace(readings, part=np.where(np.arange(40) % 3 == 0, 1, 0))
    return infer(readings, NONE, Recipe(EFFECTS, Covariance("exponential", 1, 1, 1), PRIOR))


def without(base: Inference, row: int) -> Inference:
    left = np.delete(np.arange(len(base.used)), row)
    raw = base.raw.take(left)
    return replace(base, used=left, raw=raw, system=System(raw, ALIKE, base.fit.covariance))


def solved(inference: Inference, covariances, weight):
    systems = [System(inference.system.readings, inference.system.effects, c) for c in covariances]
    return systems, [
        Solved(weight / len(systems), s.covariance, s.level, s.weights) for s in systems
    ]


@pytest.mark.parametrize(("ranges", "off_cm"), [(3, 1e-9), (40, 0.005)])
def test_mean_is_the_sum_of_the_systems(base, ranges, off_cm):
    rng = np.random.default_rng(2)
    reach = np.exp(rng.uniform(np.log(15), np.log(120), ranges))
    covariances = [
        Covariance("exponential", *rng.uniform(0.5, 9.0, 2), float(r)) for r in np.repeat(reach, 3)
    ]
    other = without(base, 7)
    nodes = [(base, solved(base, covariances, 0.7)), (other, solved(other, covariances, 0.3))]
    blend = Blend([(inference, points) for inference, (_, points) in nodes])
    places = np.vstack([rng.uniform(-50, 350, (60, 2)), base.raw.xy_m])
    part = np.concatenate([rng.integers(0, 3, 60), base.raw.part])
    expected = sum(
        point.weight * system.predict(places, part)[0]
        for _, (systems, points) in nodes
        for system, point in zip(systems, points, strict=True)
    )
    np.testing.assert_allclose(blend.mean(places, part), expected, rtol=0, atol=off_cm)


def test_heading_is_kept(base):
    longer = replace(base.fit.covariance, across_ratio=2.5, heading_deg=30.0)
    turned = replace(
        base,
        fit=replace(base.fit, covariance=longer),
        system=System(base.raw, EFFECTS, longer),
    )
    places = np.random.default_rng(3).uniform(0, 300, (30, 2))
    part = np.zeros(30, np.int64)
    systems, points = solved(turned, [longer], 1.0)
    np.testing.assert_allclose(
        Blend([(turned, points)]).mean(places, part), systems[0].predict(places, part)[0]
    )
