from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from survey_world import DEPTHS_CM, FINE, World, pinball_loss

from zoning.survey import Batch, Rule, ValueTable, choose_next, expected_change

FUEL_L_HA = np.array([4.0, 14.0, 16.0, 18.0, 20.0])


@pytest.fixture(scope="module")
def batch(world: World) -> Batch:
    return choose_next(ValueTable(world.outlook, FINE), world.candidates, Rule(4, 0.0, 0.0))


def test_nothing_new_changes_nothing(world: World, batch: Batch) -> None:
    same = replace(
        batch,
        base_share=np.zeros(60),
        chance=world.outlook.pan_probability[None],
        weight=np.ones(1),
    )
    change = expected_change(world.outlook, same, FUEL_L_HA, 9)
    assert (change.area_ha, change.depth_cm, change.fuel_l, change.fuel_moved_l) == (0, 0, 0, 0)


def test_against_simulation(world: World, batch: Batch) -> None:
    out = world.outlook
    found = expected_change(out, batch, FUEL_L_HA, 41)
    rng = np.random.default_rng(0)
    now = pinball_loss(out.base_mean_cm, out.base_sd_cm, out.pan_probability).argmin(axis=1)
    areas, moves, fuels, moved = [], [], [], []
    for scenario in rng.choice(len(batch.weight), 3000, p=batch.weight):
        mean = out.base_mean_cm + batch.base_share * out.base_sd_cm * rng.standard_normal(60)
        sd = out.base_sd_cm * np.sqrt(1 - batch.base_share**2)
        new = pinball_loss(mean, sd, batch.chance[scenario]).argmin(axis=1)
        litres = FUEL_L_HA[new] - FUEL_L_HA[now]
        areas.append(out.area_ha @ (new != now))
        moves.append(out.area_ha @ np.abs(DEPTHS_CM[new] - DEPTHS_CM[now]))
        fuels.append(out.area_ha @ litres)
        moved.append(out.area_ha @ np.abs(litres))
    assert found.area_ha == pytest.approx(np.mean(areas), rel=0.1)
    assert found.area_ha * found.depth_cm == pytest.approx(np.mean(moves), rel=0.1)
    assert found.fuel_l == pytest.approx(np.mean(fuels), abs=0.1 * np.mean(moved))
    assert found.fuel_moved_l == pytest.approx(np.mean(moved), rel=0.1)
