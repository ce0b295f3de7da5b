"""The report: plain numbers that agree with the readings."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest

from zoning.surface import PanModel
from zoning.surface.report import days_warning
from zoning.surface.stations import read_stations


@pytest.fixture
def stations(make_stations):
    rng = np.random.default_rng(2)
    part = np.where(np.arange(45) % 4 == 0, "headland", "body")
    base = 31 + 5.0 * (part == "headland") + rng.normal(0, 2, 45)
    base[7] = 80.0
    return make_stations(45, base, part_used=part, censored=np.arange(45) == 9)


def test_report_is_plain_and_complete(stations):
    report = PanModel.fit(stations, heading_deg=10).report
    assert json.loads(json.dumps(dict(report), allow_nan=False)) == dict(report)
    assert report["stations"] == 45
    assert report["bases_censored"] == 1
    assert report["outliers"] == "S007"
    assert "S007 (100%)" in str(report["no_pan_probability"])
    assert report["left_out"] == 43  # neither the outlier nor the limit
    assert report["part_effect_headland_cm"] == pytest.approx(5.0, abs=2.5)
    assert str(report["longer_range_along_heading"]).startswith(("yes", "no:"))


def test_whether_parts_differ_is_told_only_where_two_were_read(stations, make_stations):
    assert 0 < PanModel.fit(stations).report["parts_differ_probability"] <= 1
    for count in (1, 12):
        assert PanModel.fit(make_stations(count)).report["parts_differ_probability"] is None


def test_words_carry_the_counts(stations):
    report = PanModel.fit(stations).report
    words = str(report["left_out_words"])
    assert (
        f"Of 43 bases read, each left out in turn, {report['left_out_inside']:.0f} fell inside"
        in words
    )
    assert f"{report['blocks_left_out_inside']:.0f} did" in words
    assert 30 <= report["left_out_inside"] <= 43


def test_days_in_different_places_are_warned_of(make_stations):
    table = make_stations(40)
    apart = table.assign(date=np.where(table["x_m"] < 150, "2026-08-01", "2026-08-09"))
    mixed = table.assign(date=np.where(np.arange(40) % 2 == 0, "2026-08-01", "2026-08-09"))
    assert "moisture" in days_warning(read_stations(apart))
    assert days_warning(read_stations(mixed)) == ""
    assert days_warning(read_stations(table)) == ""
    assert "days_warning" in PanModel.fit(mixed).report
    assert "days_warning" not in PanModel.fit(table).report


def test_pits_do_not_join_two_days_and_stations_repeated_do(make_stations):
    table = make_stations(40)
    apart = table.assign(date=np.where(table["x_m"] < 150, "2026-08-01", "2026-08-09"))
    west = apart[apart["x_m"] < 150].head(8)
    later = {"station": "L" + west["station"], "date": "2026-08-09"}
    dug = pd.concat([apart, west.assign(kind="pit", **later)])
    assert "stations of 2026-08-01 and of 2026-08-09 lie" in days_warning(read_stations(dug))
    again = pd.concat([apart, west.head(2).assign(x_m=west["x_m"] + 3, **later)])
    assert days_warning(read_stations(again)) == ""
    beside = again.assign(part_used=np.where(again["station"].str[0] == "L", "wheeling", "body"))
    assert "the cone stations of 2026-08-01 lie" in days_warning(read_stations(beside))


def test_ground_that_a_day_has_to_itself_is_warned_of_and_rows_in_turn_are_not(make_stations):
    # As walked: 6 columns 55 m apart, 4 rows 78 m apart.
    x, y = (each.ravel() for each in np.meshgrid(np.arange(6) * 55.0, np.arange(4) * 78.0))
    table = make_stations(24).assign(x_m=x, y_m=y)
    cases = {
        "east half": (x > 150, True),
        "two east columns": (x > 200, True),
        "corner of four": ((x > 200) & (y > 150), True),
        "corner of six": ((x > 150) & (y > 150) & ~((x < 200) & (y > 230)), True),
        "every other row": (np.arange(24) // 6 % 2 == 0, False),
        "every other column": (np.arange(24) % 2 == 0, False),
        "chequers": ((np.arange(24) // 6 + np.arange(24)) % 2 == 0, False),
        "two stations": (np.arange(24) >= 22, False),
    }
    told = {}
    for name, (second, _) in cases.items():
        dated = table.assign(date=np.where(second, "2026-08-09", "2026-08-01"))
        told[name] = "of 2026-08-09 lie" in days_warning(read_stations(dated))
    assert told == {name: apart for name, (_, apart) in cases.items()}


def test_a_few_stations_of_a_later_day_among_many_are_not_apart(make_stations):
    table = make_stations(40)
    x, y = table["x_m"], table["y_m"]
    middle = (x.sub(x.median()).abs() + y.sub(y.median()).abs()).nsmallest(4).index
    dated = table.assign(date=np.where(table.index.isin(middle), "2026-08-09", "2026-08-01"))
    assert "of 2026-08-01 lie" not in days_warning(read_stations(dated))
    far = x.nlargest(4).index
    dated = table.assign(date=np.where(table.index.isin(far), "2026-08-09", "2026-08-01"))
    assert "of 2026-08-01 and of 2026-08-09 lie" in days_warning(read_stations(dated))


def test_one_day_in_a_corner_of_three_is_named_alone(make_stations):
    table = make_stations(60)
    mixed = np.where(np.arange(60) % 2 == 0, "2026-08-01", "2026-08-09")
    corner = table.assign(date=np.where(table["x_m"] < 120, "2026-08-15", mixed))
    assert "stations of 2026-08-15 lie" in days_warning(read_stations(corner))


@pytest.mark.parametrize(("bases", "told"), [(1, "1 base was"), (4, "4 bases were")])
def test_too_few_bases_are_no_test(make_stations, bases, told):
    words = PanModel.fit(make_stations(bases)).report["left_out_words"]
    assert words == f"Only {told} read: too few to test the plan by leaving each out in turn."
    assert "Of 5 bases read" in str(PanModel.fit(make_stations(5)).report["left_out_words"])


def test_no_presence_answer_is_said(make_stations):
    assert PanModel.fit(make_stations(3, n_known=0)).report["presence_stations"] == 0
