from __future__ import annotations

import numpy as np
import pytest
from field_truth import HOLD, SmoothField, length_scale_m, matern
from scipy.ndimage import label
from simulate import Simulated


def test_matern_agrees_with_its_closed_forms() -> None:
    # smoothness 1/2, 3/2 and 5/2: Rasmussen & Williams 2006, equation 4.17 (from memory)
    for h in (0.1, 1.0, 3.0):
        assert matern(h, 0.5) == pytest.approx(np.exp(-h))
        assert matern(h, 1.5) == pytest.approx((1 + h) * np.exp(-h))
        assert matern(h, 2.5) == pytest.approx((1 + h + h * h / 3) * np.exp(-h))


def test_practical_range_of_an_exponential_is_three_length_scales() -> None:
    assert length_scale_m(300.0, 0.5) == pytest.approx(300 / np.log(20), rel=1e-9)


@pytest.mark.parametrize("smoothness", [0.5, 1.5, 2.5])
def test_smooth_fields_have_the_stated_spread_and_correlation(smoothness: float) -> None:
    rng = np.random.default_rng(11)
    near, far = [], []
    for _ in range(6):
        field = SmoothField.draw(rng, 100.0, smoothness, 3.0)
        xy = rng.uniform(0, 5000, (1200, 2))
        away = rng.uniform(0, 2 * np.pi, 1200)
        unit = np.column_stack([np.cos(away), np.sin(away)])
        here = field.at(xy)
        near.append(here * field.at(xy + 30 * unit))
        far.append(here * field.at(xy + 100 * unit))
        assert here.std() == pytest.approx(3.0, rel=0.15)
    scale = length_scale_m(100.0, smoothness)
    assert np.mean(near) / 9 == pytest.approx(matern(30 / scale, smoothness), abs=0.05)
    assert np.mean(far) / 9 == pytest.approx(0.05, abs=0.05)


def test_share_without_a_pan_is_the_one_drawn(fields: list[Simulated]) -> None:
    for sim in fields:
        share = 1 - sim.true_pan(sim.grid_m(4.0)).mean()
        assert share == pytest.approx(sim.scenario.no_pan_share, abs=0.01)


def test_ground_without_a_pan_lies_in_patches(fields: list[Simulated]) -> None:
    for sim in fields:
        xy = sim.grid_m(5.0)
        cell = np.round((xy - xy.min(axis=0)) / 5.0).astype(int)
        image = np.zeros(cell.max(axis=0) + 1, dtype=bool)
        image[cell[:, 0], cell[:, 1]] = ~sim.true_pan(xy)
        patches, count = label(image, structure=np.ones((3, 3)))
        sizes = np.bincount(patches.ravel())[1:] if count else np.array([0])
        assert sizes.max() * 25 > 400  # the largest is over 400 m2


def test_parts_shift_the_base_by_what_was_drawn(fields: list[Simulated]) -> None:
    sim = fields[0]
    xy = sim.grid_m(4.0)
    part, local = sim.part(xy), xy - np.array(sim.truth.origin_m)
    rest = sim.true_base_cm(xy) - sim.truth.drift.at(local) - sim.truth.small.at(local)
    for name, effect in (("body", 0.0), ("headland", sim.scenario.headland_cm)):
        here = rest[part == name] - sim.scenario.body_base_cm
        assert np.median(here) == pytest.approx(effect, abs=1e-9)


def test_top_lies_above_base(fields: list[Simulated]) -> None:
    for sim in fields:
        xy = sim.grid_m(20.0)
        assert (sim.truth.top_cm(xy) <= sim.true_base_cm(xy) - 4.0 + 1e-9).all()


def test_gateways_always_have_a_pan(fields: list[Simulated]) -> None:
    assert HOLD["gateway"] == np.inf
    for sim in fields:
        xy = sim.grid_m(3.0)
        gateway = xy[sim.part(xy) == "gateway"]
        assert len(gateway)
        assert sim.true_pan(gateway).all()
