"""The value of the next stations, against refitting the pan model with every outcome simulated."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import norm, spearmanr
from shapely import MultiPoint

sys.path.insert(0, str(Path(__file__).parents[2] / "sample_data"))

from simulate import simulate

from zoning import survey, workflow
from zoning.surface import PanModel
from zoning.surface.averaging import mixed as mixture
from zoning.surface.presence import Counts, fit_presence
from zoning.surface.priors import presence_prior, reporting, rule
from zoning.surface.system import Readings, System
from zoning.survey.choose import State
from zoning.workflow import survey as proposals
from zoning.workflow import survey_value as value

Array = np.ndarray
FOUR = float(reporting().independent(np.array([4.0]))[0])
READINGS = 24


@pytest.fixture(scope="module")
def question(tmp_path_factory: pytest.TempPathFactory) -> tuple[value.Question, object]:
    folder = tmp_path_factory.mktemp("simulated") / "field"
    simulate(6, area_ha=4, stations=20, pits=4).write(folder)
    inputs = workflow.read_for_survey(folder)
    field = proposals._lay_out(inputs, lambda _step: None)
    used = field.stations[field.stations["used"]]
    model = PanModel.fit(used, heading_deg=field.heading_deg)
    places = survey.scattered(field.parts, 200, 10, 1)
    candidates = survey.scattered(field.ground, 20, 1, 5)
    error_cm = value.station_error_cm(used)
    asked = value.Question(model, places, candidates, field.keep_off, error_cm)
    return asked, inputs.settings


def added(readings: Readings, xy_m: Array, part: Array, reading: float, noise: float) -> Readings:
    return Readings(
        np.vstack([readings.xy_m, xy_m]),
        np.append(readings.value, reading),
        np.append(readings.noise_var, noise),
        np.append(readings.part, part),
        np.append(readings.day, -1),
        np.append(readings.place, readings.place.max() + 1),
    )


def brute_force(asked: value.Question, outlook: survey.Outlook, row: int) -> float:
    """Return the fall of the loss by a station, every outcome refitted and planned again."""
    model, codes = asked.model, asked.model.stations.parts
    inward = model.stations.axes.inward
    at, part = inward(asked.candidates.xy_m[[row]]), codes.of([str(asked.candidates.part[row])])
    places, parts = inward(asked.places.xy_m), codes.of(asked.places.part.tolist())

    def loss(mean: Array, sd: Array, chance: Array) -> float:
        found = np.where(outlook.allowed, outlook.loss(mean, sd, chance), np.inf)
        return float(found.min(axis=1) @ outlook.area_ha)

    def chance_if(yes: float) -> Array:
        known = model.stations
        counts = Counts(
            added(known.places, at, part, 0.0, 1.0),
            np.append(known.with_pan, yes),
            np.append(known.known, FOUR),
        )
        again = fit_presence(
            counts, reporting(), presence_prior(codes), rule("presence_least_weight")
        )
        return again.predict(places, parts)

    factor = model.base.variance_factor

    def base_if(reading: float) -> tuple[Array, Array]:
        told = []
        for weight, system in model.base.systems:
            readings = added(system.readings, at, part, reading, asked.error_sd_cm**2 / factor)
            solved = System(readings, system.effects, system.covariance)
            told.append((weight, *solved.predict(places, parts)))
        mean, var = mixture(told)
        return mean, np.sqrt(factor * var)

    pan = float(model.presence.predict(at, part)[0])
    mean, var = (float(each[0]) for each in model.base.predict(at, part))
    steps = norm.ppf((np.arange(READINGS) + 0.5) / READINGS)
    yes = chance_if(FOUR)
    spread = np.sqrt(var + asked.error_sd_cm**2)
    found = np.mean([loss(*base_if(mean + spread * step), yes) for step in steps])
    missed = loss(outlook.base_mean_cm, outlook.base_sd_cm, chance_if(0.0))
    now = loss(outlook.base_mean_cm, outlook.base_sd_cm, outlook.pan_probability)
    return float(now - pan * found - (1 - pan) * missed)


def test_twenty_candidates_rank_as_by_refitting(
    question: tuple[value.Question, object],
) -> None:
    asked, settings = question
    outlook = value.outlook_of(asked, settings)
    table = survey.ValueTable(outlook, value.quadrature())
    found = State(table, value.candidates_of(asked)).gains(np.arange(20))
    simulated = [brute_force(asked, outlook, row) for row in range(20)]
    assert spearmanr(found, simulated).statistic >= 0.9


def test_hazards_bound_the_depths(question: tuple[value.Question, object]) -> None:
    asked, settings = question
    pipe = asked.keep_off.iloc[:0].copy()
    pipe.loc[0, ["kind", "cap_cm"]] = ["service", 0.0]
    xy = asked.places.xy_m
    pipe = pipe.set_geometry([MultiPoint(xy[:20]).convex_hull], crs="EPSG:32631")
    outlook = value.outlook_of(replace(asked, keep_off=pipe), settings)
    held = ~outlook.allowed[:, 1:].any(axis=1)
    assert held.sum() >= 17
    assert outlook.allowed[:, 0].all()


def test_the_price_of_loss_is_the_fuel_of_a_centimetre_too_deep(
    question: tuple[value.Question, object],
) -> None:
    _, settings = question
    levels = np.array([0.0, 25.0, 35.0])
    assert value.price_of_loss(levels, settings) is None
    priced = replace(
        settings,
        costs=replace(settings.costs, currency="EUR", fuel_per_l=1.5),
        tractor=replace(settings.tractor, pto_power_kw=250),
    )
    fuel = value.fuel_l_ha(levels, priced)
    slope = (fuel[2] - fuel[1]) / 10
    assert slope > 0
    assert value.price_of_loss(levels, priced) == pytest.approx(slope * 1.5 / 0.2)
    assert value.price_of_loss(levels[:2], priced) is None


def test_more_stations_than_have_room_to_spread_stand_closer(
    question: tuple[value.Question, object],
) -> None:
    asked, settings = question
    table = survey.ValueTable(value.outlook_of(asked, settings), value.quadrature())
    told = value.candidates_of(asked)
    apart_m = value.next_apart_m(float(asked.places.area_ha.sum()), 19)
    spread, close = (
        survey.choose_next(table, told, survey.Rule(19, 0.0, gap_m)) for gap_m in (apart_m, 10.0)
    )
    found = value.worth_of_next(asked, settings, 19).batch
    assert len(spread.rows) < len(close.rows)
    assert found.rows == close.rows
    few = value.worth_of_next(asked, settings, 2).batch.rows
    gap = float(np.hypot(*(told.xy_m[few[0]] - told.xy_m[few[1]])))
    assert gap >= value.next_apart_m(float(asked.places.area_ha.sum()), 2) > 50
