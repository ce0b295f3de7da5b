"""Fields of one farm together: truths made here are found again."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pandas as pd
import pytest
from scipy.stats import multivariate_normal

from zoning.surface import FieldEvidence, PanModel, field_evidence, shared_prior
from zoning.surface.evidence import between, grid
from zoning.surface.priors import base_covariance_prior, rule

SHIFT = {"body": 0.0, "headland": 7.0, "wheeling": 1.0}


def stations_of(seed: int, count: int = 20, *, sill: float = 4.0, reach_m: float = 60.0):
    """Return stations of a field whose base is a Gaussian field with an exponential covariance."""
    rng = np.random.default_rng(seed)
    xy = rng.uniform(0, 200, (count, 2))
    part = np.resize(["body", "headland", "body", "wheeling"], count)
    distance = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1))
    cov = sill * np.exp(-3 * distance / reach_m)
    base = 30 + np.array([SHIFT[p] for p in part]) + rng.multivariate_normal(np.zeros(count), cov)
    return pd.DataFrame(
        {
            "station": [f"s{i}" for i in range(count)], "kind": "cone", "x_m": xy[:, 0],
            "y_m": xy[:, 1], "n_pan": 2, "n_known": 2,
            "pan_base_cm": base + rng.normal(0, 0.5, count), "error_sd_cm": 0.5,
            "censored": False, "date": "", "part_used": part, "used": True,
        }
    )  # fmt: skip


@pytest.fixture(scope="module")
def evidence() -> list[FieldEvidence]:
    return [field_evidence(stations_of(seed)) for seed in range(12)]


def test_the_likelihood_is_that_of_a_normal_distribution(evidence: list[FieldEvidence]) -> None:
    """Against the density of scipy.stats, with the effects put into the covariance by hand."""
    one = stations_of(0).sort_values(["x_m", "y_m"])
    xy = one[["x_m", "y_m"]].to_numpy()
    distance = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1))
    part = one["part_used"].to_numpy()
    same = (part[:, None] == part[None]) & (part[:, None] != "body")
    sd = np.array([1.0 if p == "body" else rule(f"base_shift_sd_{p}_cm") for p in part])
    mean = rule("base_level_cm") + np.array(
        [0.0 if p == "body" else rule(f"base_shift_{p}_cm") for p in part]
    )
    known = same * np.outer(sd, sd) + rule("base_level_sd_cm") ** 2 + 0.25 * np.eye(len(xy))
    for row in (0, 57, 200, len(grid()) - 1):
        log_sill, logit, log_range = grid()[row]
        share = 1 / (1 + np.exp(-logit))
        spatial = (1 - share) * np.exp(-3 * distance / np.exp(log_range)) + share * np.eye(len(xy))
        density = multivariate_normal(mean, known + np.exp(log_sill) * spatial)
        wanted = density.logpdf(one["pan_base_cm"])
        assert evidence[0].log_likelihood[row] == pytest.approx(wanted, abs=0.05)


def test_the_fine_grid_goes_through_the_coarse_one_and_bends_like_a_parabola() -> None:
    def parabola(points: np.ndarray) -> np.ndarray:
        return -((points - [2.0, -1.0, 5.0]) ** 2 @ [1.0, 0.3, 2.0])

    assert between(parabola(grid())) == pytest.approx(parabola(grid(fine=True)), abs=1e-8)


def test_a_farm_is_found_again_better_than_the_table_knows_it(
    evidence: list[FieldEvidence],
) -> None:
    prior = shared_prior(evidence)
    usual = base_covariance_prior()
    c = prior.covariance
    assert abs(np.log(c.sill / 4.0)) < abs(np.log(usual.sill / 4.0)) / 2
    assert abs(np.log(c.practical_range_m / 60)) < abs(np.log(usual.practical_range_m / 60))
    assert c.log_sill_sd < usual.log_sill_sd
    assert c.log_range_sd < usual.log_range_sd
    shifts = {s.part: s for s in prior.shifts}
    assert shifts["body"].mean_cm == pytest.approx(30.0, abs=1.0)
    assert shifts["headland"].mean_cm == pytest.approx(7.0, abs=1.0)
    assert shifts["wheeling"].mean_cm == pytest.approx(1.0, abs=1.0)
    for name in ("headland", "wheeling"):
        assert 0 < shifts[name].sd_cm < rule(f"base_shift_sd_{name}_cm")


def test_a_part_without_a_reading_keeps_the_usual_prior(
    evidence: list[FieldEvidence],
) -> None:
    gateway = {s.part: s for s in shared_prior(evidence).shifts}["gateway"]
    assert gateway.mean_cm == pytest.approx(rule("base_shift_gateway_cm"), rel=1e-6)
    assert gateway.sd_cm == pytest.approx(rule("base_shift_sd_gateway_cm"), rel=1e-6)


def test_the_order_of_the_fields_does_not_matter(evidence: list[FieldEvidence]) -> None:
    assert shared_prior(evidence[::-1]).facts() == shared_prior(evidence).facts()


def test_few_fields_and_few_bases_share_nothing(evidence: list[FieldEvidence]) -> None:
    assert shared_prior(evidence[:2]) is None
    assert field_evidence(stations_of(1, count=2)) is None


def test_a_field_with_few_stations_predicts_better_with_the_farm(
    evidence: list[FieldEvidence],
) -> None:
    """Log score of the stations left unread, mean over twelve further fields of the farm."""
    prior = shared_prior(evidence)
    scores = []
    for seed in range(100, 112):
        whole = stations_of(seed, count=26)
        told, unread = whole.iloc[:6], whole.iloc[6:]
        for shared in (None, prior):
            model = PanModel.fit(told, shared=shared)
            said = model.predict(unread[["x_m", "y_m"]].to_numpy(), unread["part_used"].tolist())
            var = said.base_sd_cm**2 + 0.25
            miss = (unread["pan_base_cm"].to_numpy() - said.base_mean_cm) ** 2
            scores.append(float((-0.5 * (np.log(var) + miss / var)).mean()))
    alone, shared = np.array(scores).reshape(-1, 2).mean(axis=0)
    assert shared > alone


def test_the_report_says_what_was_shared(evidence: list[FieldEvidence]) -> None:
    prior = shared_prior(evidence)
    told = stations_of(100, count=6)
    report = PanModel.fit(told, shared=prior).report
    assert {k: v for k, v in report.items() if k.startswith("shared_prior_")} == prior.facts()
    assert not [k for k in PanModel.fit(told).report if k.startswith("shared_prior_")]


def test_a_field_alone_loads_no_splines() -> None:
    code = "import sys, zoning.surface; sys.exit('scipy.interpolate' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
