"""The pan model on fields with a known truth, and on what is hardly a field at all."""

from __future__ import annotations

import warnings

import numpy as np
import pytest

from zoning.errors import PlanRefused
from zoning.surface import PanModel

PLACES = np.random.default_rng(1).uniform(0, 300, (50, 2))
PARTS = ["body", "headland", "wheeling", "old track", "gateway"] * 10


def fields(make):
    day = np.where(np.arange(10) < 5, "2026-08-01", "2026-08-09")
    return {
        "one": make(1),
        "two": make(2, [30.0, 36.0]),
        "three": make(3, [30.0, 35.0, 41.0]),
        "all equal": make(30),
        "all at one place": make(10, np.arange(30.0, 40.0), x_m=5.0, y_m=5.0),
        "one exact twice": make(
            4, [30.0, 34.0, 33.0, 31.0], x_m=[5.0, 5.0, 90.0, 9.0], y_m=5.0, error_sd_cm=0.0
        ),
        "no pan anywhere": make(20, np.nan, n_pan=0, error_sd_cm=np.nan),
        "all censored": make(20, 40.0, censored=True),
        "one censored": make(1, 40.0, censored=True),
        "no error given": make(10, error_sd_cm=np.nan),
        "two days": make(10, np.arange(28.0, 38.0), date=day),
        "named areas": make(6, part_used=["old track", "body", "wet hollow"] * 2),
        "no answer beside a base": make(
            3, [30.0, np.nan, np.nan], n_pan=[1, 0, 0], n_known=[1, 0, 0]
        ),
    }


NAMES = list(fields(lambda *_, **__: None))


@pytest.mark.parametrize("name", NAMES)
def test_hardly_a_field_still_gets_finite_wide_answers(make_stations, name):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        pan = PanModel.fit(fields(make_stations)[name], heading_deg=20).predict(PLACES, PARTS)
    for values in (pan.base_mean_cm, pan.base_sd_cm, pan.pan_probability):
        assert values.shape == (50,)
        assert np.all(np.isfinite(values))
    assert np.all(pan.base_sd_cm > 0)
    assert np.all((pan.pan_probability > 0) & (pan.pan_probability < 1))
    unread = pan.base_sd_cm[[4, 9, 14]]  # gateways, never read here
    assert np.all(unread > 4)


def test_few_stations_are_less_sure_than_many(make_stations):
    rng = np.random.default_rng(3)
    spread = [
        PanModel.fit(make_stations(n, 33 + 3 * rng.standard_normal(n)))
        .predict(PLACES, ["body"] * 50)
        .base_sd_cm.mean()
        for n in (1, 3, 40)
    ]
    assert spread[0] > spread[1] > spread[2]


def test_no_pan_anywhere_is_believed(make_stations):
    stations = make_stations(20, np.nan, n_pan=0, error_sd_cm=np.nan)
    pan = PanModel.fit(stations).predict(PLACES, ["body"] * 50)
    assert pan.pan_probability.max() < 0.25
    assert pan.base_sd_cm.min() > 6


@pytest.mark.parametrize("columns", [{"n_known": 0}, {"used": False}])
def test_nothing_to_go_on_is_refused(make_stations, columns):
    with pytest.raises(PlanRefused, match="pan"):
        PanModel.fit(make_stations(3, np.nan, n_pan=0, **columns))


@pytest.mark.parametrize("name", ["three", "two days", "named areas", "one exact twice"])
def test_order_of_rows_does_not_matter(make_stations, name):
    stations = fields(make_stations)[name]
    first = PanModel.fit(stations)
    second = PanModel.fit(stations.sample(frac=1, random_state=4))
    one, two = first.predict(PLACES, PARTS), second.predict(PLACES, PARTS)
    assert np.array_equal(one.base_mean_cm, two.base_mean_cm)
    assert np.array_equal(one.base_sd_cm, two.base_sd_cm)
    assert np.array_equal(one.pan_probability, two.pan_probability)
    assert dict(first.report) == dict(second.report)


def drawn_field(make_stations, rng, count=50):
    """Body at 30 cm, headland 6 deeper, spatial sd 3 cm, reading error 1.2; truth at 300 places."""
    places = rng.uniform(0, 300, (count + 300, 2))
    part = np.where(places[:, 1] < 45, "headland", "body")
    apart = np.linalg.norm(places[:, None] - places[None], axis=2)
    total = 9.0 * np.exp(-apart / 35.0) + 1e-9 * np.eye(len(places))
    truth = (
        30
        + 6.0 * (part == "headland")
        + np.linalg.cholesky(total) @ rng.standard_normal(len(places))
    )
    read = truth[:count] + 1.2 * rng.standard_normal(count)
    stations = make_stations(
        count,
        read,
        x_m=places[:count, 0],
        y_m=places[:count, 1],
        part_used=part[:count],
        error_sd_cm=1.2,
    )
    return stations, places[count:], part[count:], truth[count:]


def test_intervals_cover_the_truth_and_parts_are_found(make_stations):
    rng = np.random.default_rng(5)
    covered, bias, effect = [], [], []
    for _ in range(8):
        stations, places, part, truth = drawn_field(make_stations, rng)
        model = PanModel.fit(stations)
        pan = model.predict(places, list(part))
        covered.append(np.abs(truth - pan.base_mean_cm) < 1.6449 * pan.base_sd_cm)
        bias.append(np.mean(pan.base_mean_cm - truth))
        effect.append(model.report["part_effect_headland_cm"])
    assert 0.85 <= np.mean(covered) <= 0.95
    assert abs(np.mean(bias)) < 0.5
    assert np.mean(effect) == pytest.approx(6.0, abs=1.2)


def test_stations_near_are_counted(make_stations):
    model = PanModel.fit(make_stations(3, x_m=[0.0, 50.0, 500.0], y_m=0.0))
    near = model.predict(np.array([[0.0, 0.0], [500.0, 10.0], [2000.0, 0.0]]), ["body"] * 3)
    assert near.stations_near.tolist() == [2, 1, 0]


def test_many_stations_go_through_neighbourhoods(make_stations):
    rng = np.random.default_rng(7)
    stations = make_stations(
        900, 33 + rng.normal(0, 2, 900), n_pan=(rng.random(900) < 0.9).astype(int)
    )
    model = PanModel.fit(stations)
    pan = model.predict(PLACES, ["body"] * 50)
    assert len(model.presence.known) <= 400
    assert np.abs(pan.base_mean_cm - 33).max() < 2
    assert model.report["bases_read"] == 900


@pytest.mark.parametrize("count", [12, 850])
def test_a_field_turned_with_its_heading_keeps_its_pan(make_stations, count):
    """Also where very many readings share neighbourhoods, and with whole blocks left out."""
    rng, angle_deg = np.random.default_rng(count), 213.0
    stations = make_stations(
        count, 33 + rng.normal(0, 2, count), n_pan=(rng.random(count) < 0.9).astype(int)
    )
    places, part = rng.uniform(0, 300, (40, 2)), ["body"] * 40
    sin, cos = np.sin(np.radians(angle_deg)), np.cos(np.radians(angle_deg))
    turn = np.array([[cos, -sin], [sin, cos]])
    xy = stations[["x_m", "y_m"]].to_numpy() @ turn
    one = PanModel.fit(stations, heading_deg=20.0)
    two = PanModel.fit(stations.assign(x_m=xy[:, 0], y_m=xy[:, 1]), heading_deg=20.0 + angle_deg)
    here, there = one.predict(places, part), two.predict(places @ turn, part)
    for name in ("base_mean_cm", "base_sd_cm", "pan_probability"):
        np.testing.assert_allclose(getattr(here, name), getattr(there, name), rtol=1e-5)
    told = [{k: v for k, v in model.report.items() if isinstance(v, float)} for model in (one, two)]
    assert told[0] == pytest.approx(told[1], rel=1e-4, abs=1e-6)


def test_the_date_written_on_a_pit_moves_nothing(make_stations):
    table = make_stations(20, date="2026-08-25")
    pits = table["station"].isin(table["station"].head(4))
    table["kind"] = np.where(pits, "pit", "cone")
    later = table.assign(date=np.where(pits, "2026-08-26", "2026-08-25"))
    places = np.column_stack([table["x_m"] + 7.0, table["y_m"] - 3.0])
    first, second = (PanModel.fit(t).predict(places, ["body"] * 20) for t in (table, later))
    np.testing.assert_array_equal(first.base_mean_cm, second.base_mean_cm)
    np.testing.assert_array_equal(first.base_sd_cm, second.base_sd_cm)
