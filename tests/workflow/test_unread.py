"""A part in which no station stands is told as guessed, with its depths and the remedy."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely import box

import zoning
from zoning.cli.summary import summary
from zoning.depths import Places
from zoning.outputs.guessed import GUESSED, unread_parts
from zoning.outputs.sheet.cautions import bold, cautions
from zoning.workflow.unread import unread_notices

PARTS = pd.DataFrame({"part": ["headland", "body", "gateway"]})
STATIONS = pd.DataFrame(
    {"part_used": ["body", "headland"], "used": [True, True], "n_known": [3, 1]}
)
PART = np.array(["body", "gateway", "gateway", "headland"])


def told(depth_cm: list[float], stations: pd.DataFrame = STATIONS) -> list[str]:
    area = np.array([9.0, 1.0, 3.0, 2.0])
    places = Places(np.arange(4), PART, np.zeros((4, 2)), area)
    found = unread_notices(PARTS, stations, places, np.array(depth_cm))
    assert all((note.level, note.code) == ("caution", "part-guessed") for note in found)
    return [note.text for note in found]


def test_a_part_without_a_station_is_guessed_and_the_remedy_is_told() -> None:
    (text,) = told([35, 50, 40, 40])
    assert text.startswith(f"{GUESSED.capitalize()}: gateway (worked at 40 to 50 cm, 42 cm on")
    assert "probe or dig there, and plan again" in text
    (text,) = told([35, 45, 45, 40])
    assert "gateway (worked at 45 cm)" in text
    (text,) = told([35, 0, 0, 40])
    assert "gateway (legs lifted out)" in text


def test_stations_noted_otherwise_are_to_be_given_the_name_of_the_part() -> None:
    parts = gpd.GeoDataFrame(PARTS, geometry=[box(0, 0, 9, 9), box(9, 0, 18, 9), box(18, 0, 27, 9)])
    stations = STATIONS.assign(station=["S1", "S2"], x_m=[20.0, 3.0], y_m=4.0)
    places = Places(np.arange(4), PART, np.zeros((4, 2)), np.ones(4))
    (note,) = unread_notices(parts, stations, places, np.full(4, 40.0))
    assert "gateway (worked at 40 cm; S1 in it noted and read as body)" in note.text
    assert (
        "write its name under part, or leave that blank, where they belong to it; else" in note.text
    )
    assert "write its name" not in told([35, 50, 40, 40])[0]


@pytest.mark.parametrize(("used", "n_known"), [(False, 3), (True, 0)])
def test_a_station_that_counts_for_nothing_or_answers_nothing_reads_no_part(
    used: bool, n_known: int
) -> None:
    more = pd.DataFrame({"part_used": ["gateway"], "used": [used], "n_known": [n_known]})
    assert len(told([35, 50, 40, 40], pd.concat([STATIONS, more]))) == 1
    sound = more.assign(used=True, n_known=1)
    assert told([35, 50, 40, 40], pd.concat([STATIONS, sound])) == []


def test_every_part_of_the_sample_is_read_and_without_its_stations_one_is_not(
    copied: Path, sample_plan: zoning.Plan
) -> None:
    assert unread_parts(sample_plan.parts, sample_plan.stations) == []
    stations = sample_plan.stations
    there = set(stations.loc[stations["part_used"] == "gateway", "station"])
    for file, name in (("cone.csv", "station"), ("pits.csv", "pit")):
        table = pd.read_csv(copied / file, dtype=str)
        table[~table[name].isin(there)].to_csv(copied / file, index=False)
    plan = zoning.make_plan(zoning.read_field(copied))
    (note,) = [notice for notice in plan.notices if notice.code == "part-guessed"]
    assert "gateway (worked at" in note.text
    short = [notice.text for notice in plan.notices if notice.code == "part-short"]
    assert not any("gateway" in text for text in short)  # nobody works guessed ground by hand
    assert note.text in cautions(plan)[: bold(plan)]  # of the sheet for the cab
    told = plan.zones["cautions"].str.contains("guessed: no station read gateway")
    gateway = plan.parts.loc[plan.parts["part"] == "gateway"].geometry.union_all()
    shares = plan.zones[told].intersection(gateway).area.sum()
    assert shares == pytest.approx(gateway.area, rel=1e-3)
    assert plan.zones[told].intersection(gateway).area.min() > 0
    head = summary(plan, [], copied).splitlines()[1]
    assert f"gateway 0.05 ha ({GUESSED}), headland" in head
