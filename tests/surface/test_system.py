"""The kriging system against textbooks, PyKrige and plain conditioning of a normal vector."""

from __future__ import annotations

import numpy as np
import pytest
from pykrige.ok import OrdinaryKriging
from pykrige.uk import UniversalKriging

from zoning.surface.covariance import Covariance
from zoning.surface.system import Effects, System, chunks_by_code, effect_covariance, same

# Isaaks E.H., Srivastava R.M., An Introduction to Applied Geostatistics, 1989, chapter 12 (the data
# and the published 592.7 and 8.96 are quoted from memory; recomputed by gstat 2.1.0).
SEVEN = np.array(
    [
        [61, 139, 477],
        [63, 140, 696],
        [64, 129, 227],
        [68, 128, 646],
        [71, 140, 606],
        [73, 141, 791],
        [75, 128, 783],
    ],
    float,
)
TARGET = np.array([[65.0, 137.0]])
BODY = np.zeros(1, np.int64)


@pytest.mark.parametrize(
    ("kind", "nugget", "sill", "reach", "mean", "var"),
    [
        ("exponential", 0.0, 10.0, 10 / 3, 592.7289, 8.95605),
        ("exponential", 0.0, 20.0, 10 / 3, 592.7289, 17.9121),
        ("gaussian", 0.0, 10.0, 10 / np.sqrt(3), 559.37, 4.781),
        ("exponential", 5.0, 5.0, 10 / 3, 596.78, 10.306),
        ("exponential", 0.0, 10.0, 20 / 3, 572.39, 5.758),
        ("exponential", 10.0, 0.0, 1.0, 603.7143, 10 * (1 + 1 / 7)),
    ],
)
def test_seven_point_example_and_its_variations(
    make_readings, no_effects, kind, nugget, sill, reach, mean, var
):
    readings = make_readings(SEVEN[:, :2], SEVEN[:, 2])
    got = System(readings, no_effects, Covariance(kind, nugget, sill, reach)).predict(TARGET, BODY)
    assert got[0][0] == pytest.approx(mean, rel=2e-5)
    assert got[1][0] == pytest.approx(var, rel=1e-4)


def test_seven_point_weights(make_readings, no_effects):
    weights = []
    for k in range(7):
        unit = make_readings(SEVEN[:, :2], np.eye(7)[k])
        system = System(unit, no_effects, Covariance("exponential", 0.0, 10.0, 10 / 3))
        weights.append(system.predict(TARGET, BODY)[0][0])
    published = [0.173, 0.318, 0.129, 0.086, 0.151, 0.057, 0.086]
    np.testing.assert_allclose(weights, published, atol=6e-4)
    assert sum(weights) == pytest.approx(1.0, abs=1e-12)


def test_two_point_example(make_readings, no_effects):
    # Kitanidis P.K., Introduction to Geostatistics, 1997, example 3.2: variogram 0.1 + 0.006 h,
    # which an exponential of very long range approaches.
    readings = make_readings([[9.7, 47.6], [43.8, 24.6]], [1.22, 2.822])
    reach = 1e6
    system = System(readings, no_effects, Covariance("exponential", 0.1, 0.006 * reach, reach))
    mean, var = system.predict(np.array([[18.8, 67.9], [43.8, 24.6]]), np.zeros(2, np.int64))
    np.testing.assert_allclose(mean, [1.6364, 2.822], atol=1e-4)
    np.testing.assert_allclose(var, [0.4201, 0.0], atol=1e-4)


@pytest.mark.parametrize("kind", ["exponential", "spherical"])
def test_agrees_with_pykrige(make_readings, no_effects, kind):
    rng = np.random.default_rng(4)
    xy, value, places = (
        rng.uniform(0, 100, (40, 2)),
        rng.normal(30, 4, 40),
        rng.uniform(0, 100, (60, 2)),
    )
    reach = 30.0
    parameters = {
        "psill": 9.0,
        "range": 3 * reach if kind == "exponential" else reach,
        "nugget": 2.0,
    }
    other = OrdinaryKriging(
        xy[:, 0], xy[:, 1], value, variogram_model=kind, variogram_parameters=parameters
    )
    mean, var = other.execute("points", places[:, 0], places[:, 1])
    system = System(make_readings(xy, value), no_effects, Covariance(kind, 2.0, 9.0, reach))
    got = system.predict(places, np.zeros(60, np.int64))
    np.testing.assert_allclose(got[0], np.asarray(mean), rtol=1e-9)
    np.testing.assert_allclose(got[1], np.asarray(var), rtol=1e-9)


def test_wide_part_prior_tends_to_universal_kriging(make_readings):
    rng = np.random.default_rng(5)
    xy, places = rng.uniform(0, 100, (40, 2)), rng.uniform(0, 100, (20, 2))
    part, there = (xy[:, 0] < 30).astype(int), (places[:, 0] < 30).astype(int)
    value = 30 + 6.0 * part + rng.normal(0, 2, 40)
    other = UniversalKriging(
        xy[:, 0],
        xy[:, 1],
        value,
        variogram_model="exponential",
        variogram_parameters={"psill": 3.0, "range": 90.0, "nugget": 1.0},
        drift_terms=["specified"],
        specified_drift=[part.astype(float)],
    )
    mean, var = other.execute(
        "points", places[:, 0], places[:, 1], specified_drift_arrays=[there.astype(float)]
    )
    effects = Effects(np.zeros(2), np.array([0.0, 1e7]))
    system = System(
        make_readings(xy, value, part=part), effects, Covariance("exponential", 1.0, 3.0, 30.0)
    )
    got = system.predict(places, there)
    np.testing.assert_allclose(got[0], np.asarray(mean), rtol=1e-6)
    np.testing.assert_allclose(got[1], np.asarray(var), rtol=1e-5)


@pytest.fixture
def conditioned(make_readings):
    """A system with every term, and the same by conditioning one normal vector."""
    rng = np.random.default_rng(6)
    count, extra = 14, 5
    xy = rng.uniform(0, 60, (count + extra, 2))
    xy[count] = xy[2]  # a place that was read
    xy[1] = xy[0]  # two readings at one place
    part = rng.integers(0, 3, count + extra)
    part[1], part[count] = part[0], part[2]
    day = np.concatenate([rng.integers(0, 2, count), np.full(extra, -1)])
    effects = Effects(np.array([0.0, 3.0, 5.0]), np.array([0.0, 16.0, 9.0]), 4.0, 32.0, 1 / 36)
    model = Covariance("exponential", 2.0, 7.0, 25.0)
    noise = rng.uniform(0.5, 2.0, count)
    value = rng.normal(35, 5, count)
    readings = make_readings(xy[:count], value, part=part[:count], day=day[:count])
    system = System(readings.with_values(value, noise), effects, model)
    everything = make_readings(xy, np.zeros(count + extra), part=part, day=day)
    prior = 7.0 * model.correlation(xy, xy) + 2.0 * same(everything.place, everything.place)
    prior += effect_covariance(everything, effects) + 36.0
    mean = 32.0 + effects.part_mean[part]
    known = prior[:count, :count] + np.diag(noise)
    gain = np.linalg.solve(known, prior[:count, count:]).T
    expected = mean[count:] + gain @ (value - mean[:count])
    cov = prior[count:, count:] - gain @ prior[:count, count:]
    return system, (xy[count:], part[count:]), expected, cov


def test_every_term_agrees_with_plain_conditioning(conditioned):
    system, places, expected, cov = conditioned
    mean, var = system.predict(*places)
    np.testing.assert_allclose(mean, expected, rtol=1e-10)
    np.testing.assert_allclose(var, np.diag(cov), rtol=1e-9)


def test_posterior_covariance_agrees_with_plain_conditioning(conditioned):
    system, places, _, cov = conditioned
    np.testing.assert_allclose(system.posterior_covariance(*places, *places), cov, atol=1e-9)


def test_effects_agree_with_plain_conditioning(conditioned):
    system, *_ = conditioned
    readings, effects = system.readings, system.effects
    total = system.covariance.partial_sill * system.covariance.correlation(
        readings.xy_m, readings.xy_m
    )
    total += system.covariance.nugget * same(readings.place, readings.place) + 36.0
    total += effect_covariance(readings, effects) + np.diag(readings.noise_var)
    across = 16.0 * (readings.part == 1)
    off = readings.value - 32.0 - effects.part_mean[readings.part]
    mean, sd = system.part_effect(1)
    assert mean == pytest.approx(3.0 + across @ np.linalg.solve(total, off))
    assert sd**2 == pytest.approx(16.0 - across @ np.linalg.solve(total, across))
    across = 4.0 * (readings.day == 1)
    mean, sd = system.day_effect(1)
    assert mean == pytest.approx(across @ np.linalg.solve(total, off))
    assert sd**2 == pytest.approx(4.0 - across @ np.linalg.solve(total, across))


def test_leaving_one_out_of_no_readings_gives_none_and_prints_nothing(
    make_readings, no_effects, capfd
):
    readings = make_readings(np.empty((0, 2)), np.empty(0))
    mean, var = System(
        readings, no_effects, Covariance("exponential", 1.0, 1.0, 50.0)
    ).leave_one_out()
    assert (mean.shape, var.shape) == ((0,), (0,))
    assert capfd.readouterr() == ("", "")  # LAPACK writes to the file descriptor


def test_leave_one_out_is_that_of_a_loop(conditioned):
    system, *_ = conditioned
    mean, var = system.leave_one_out()
    for k in (0, 5, 13):
        rest = np.delete(np.arange(14), k)
        without = System(system.readings.take(rest), system.effects, system.covariance)
        # a reading of day 0 or 1 is predicted through a place on that day: add the day's effect
        readings = system.readings
        c = without.covariances(readings.xy_m[[k]], int(readings.part[k]))[:, 0]
        c = c + system.effects.day_var * (without.readings.day == readings.day[k])
        c[without.readings.place == readings.place[k]] += 0.0
        own = system.covariance.sill + system.effects.part_var[readings.part[k]] + 4.0
        missing = 1 - without.solve(np.ones(13)) @ c
        expected = without.level + system.effects.part_mean[readings.part[k]] + without.weights @ c
        assert mean[k] == pytest.approx(expected)
        spread = own - c @ without.solve(c) + missing**2 / without.information
        assert var[k] == pytest.approx(spread + readings.noise_var[k])


def test_no_reading_gives_the_prior(make_readings):
    empty = make_readings(np.empty((0, 2)), np.empty(0))
    effects = Effects(np.array([0.0, 3.0]), np.array([0.0, 16.0]), 0.0, 32.0, 1 / 64)
    mean, var = System(empty, effects, Covariance("exponential", 1.0, 9.0, 20.0)).predict(
        np.zeros((2, 2)), np.array([0, 1])
    )
    np.testing.assert_allclose(mean, [32.0, 35.0])
    np.testing.assert_allclose(var, [74.0, 90.0])


def test_chunks_hold_one_code_and_every_row_once():
    code = np.array([2, 0, 2, 1, 0, 2, 2])
    chunks = chunks_by_code(code, 3)
    assert sorted(np.concatenate(chunks).tolist()) == list(range(7))
    assert all(len(set(code[chunk])) == 1 and len(chunk) <= 3 for chunk in chunks)


def test_many_places_equal_few(make_readings, no_effects):
    rng = np.random.default_rng(8)
    readings = make_readings(rng.uniform(0, 90, (30, 2)), rng.normal(30, 3, 30))
    system = System(readings, no_effects, Covariance("matern32", 1.0, 8.0, 20.0))
    places = rng.uniform(0, 90, (40_000, 2))
    mean, var = system.predict(places, np.zeros(len(places), np.int64))
    few = system.predict(places[-5:], np.zeros(5, np.int64))
    np.testing.assert_allclose((mean[-5:], var[-5:]), few, rtol=1e-12)
