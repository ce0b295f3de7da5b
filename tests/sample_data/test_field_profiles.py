from __future__ import annotations

import numpy as np
import pytest
from field_profiles import Ground, cone_index_mpa, draw_log
from field_scenario import draw, override
from scipy.optimize import brentq
from simulate import Simulated

FINE_CM = np.arange(0.5, 80.0, 0.5)


def grounds(fields: list[Simulated]) -> list[Ground]:
    return [g for sim in fields for g in sim.insertions["ground"]]


def excess(ground: Ground, depth: float) -> float:
    return float(cone_index_mpa(np.array([depth]), ground)[0]) - ground.limit_mpa


def test_without_noise_the_limit_is_crossed_at_the_true_top_and_base(
    fields: list[Simulated],
) -> None:
    pans = [g for g in grounds(fields) if not np.isnan(g.base_cm) and not g.hard]
    assert len(pans) > 300
    for g in pans:
        middle = (g.top_cm + g.base_cm) / 2
        assert excess(g, middle) > 0
        top = brentq(lambda z, g=g: excess(g, z), 0.5, middle)
        base = brentq(lambda z, g=g: excess(g, z), middle, g.base_cm + 5)
        assert top == pytest.approx(g.top_cm, abs=0.1)
        assert base == pytest.approx(g.base_cm, abs=0.1)


def test_soil_is_soft_above_the_pan_and_for_some_way_below(fields: list[Simulated]) -> None:
    for g in grounds(fields):
        if np.isnan(g.base_cm) or g.hard:
            continue
        index = cone_index_mpa(FINE_CM, g)
        above, below = g.top_cm - 0.01 > FINE_CM, g.base_cm + 0.01 < FINE_CM
        near = below & (g.base_cm + min(g.stiff_from_cm, 80.0) - 0.01 > FINE_CM)
        assert (index[above] < g.limit_mpa).all()
        assert (index[near] < g.limit_mpa).all()


def test_without_a_pan_the_limit_is_never_reached(fields: list[Simulated]) -> None:
    soft = [g for g in grounds(fields) if np.isnan(g.base_cm) and not g.hard]
    assert soft
    assert max(cone_index_mpa(FINE_CM, g).max() for g in soft) < 2.0


def test_insertions_read_the_pan_that_lies_there(fields: list[Simulated]) -> None:
    for sim in fields:
        xy = sim.insertions[["x_m", "y_m"]].to_numpy()
        np.testing.assert_array_equal(sim.insertions["pan"], sim.true_pan(xy))
        read = np.array([g.base_cm for g in sim.insertions["ground"]])
        error = (read - sim.true_base_cm(xy))[sim.insertions["pan"]]
        sd = sim.scenario.within_sd_cm
        assert abs(error.mean()) < 4 * sd / np.sqrt(len(error))
        assert 0.7 * sd < error.std() < 1.3 * sd


def test_readings_are_the_ground_with_noise_where_nothing_happened(
    fields: list[Simulated],
) -> None:
    sim = next(s for s in fields if s.scenario.day_cv == 0)
    quiet = sim.insertions["stone_at_cm"].isna() & sim.insertions["refused_at_cm"].isna()
    for row in sim.insertions[quiet].itertuples():
        log = sim.cone[
            (sim.cone["station"] == row.station) & (sim.cone["insertion"] == row.insertion)
        ]
        clean = cone_index_mpa(log["depth_cm"].to_numpy(), row.ground)
        ratio = log["cone_index_mpa"].to_numpy() / clean
        assert np.abs(np.log(ratio)).max() < 5 * sim.scenario.noise_cv + 0.03


def test_stones_and_stops_are_as_common_as_stated() -> None:
    scenario = override(draw(np.random.default_rng(1)), stone_share=0.15, refusal_share=0.06)
    rng = np.random.default_rng(2)
    ground = Ground(20, 30, 0.8, 3.5, 1.2, 2, 2, np.inf, hard=False, limit_mpa=2.0)
    logs = [draw_log(scenario, rng, ground, 1.0) for _ in range(2000)]
    stones = np.mean([not np.isnan(log.stone_at_cm) for log in logs])
    stops = [log for log in logs if not np.isnan(log.refused_at_cm)]
    # four standard errors of a share from 2000 draws
    assert stones == pytest.approx(0.15, abs=4 * np.sqrt(0.15 * 0.85 / 2000))
    assert len(stops) / 2000 == pytest.approx(0.06, abs=4 * np.sqrt(0.06 * 0.94 / 2000))
    for log in stops:
        after = log.depth_cm > log.refused_at_cm
        assert (log.cone_index_mpa[after] == 0).all()
        assert log.cone_index_mpa[log.depth_cm == log.refused_at_cm][0] >= 5
