"""Readings of an earlier season in the files: found, and told with the file they stand in."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pandas as pd

from zoning.records import Body, Draft, Pit, Record, Station, Trial, new_id, open_record
from zoning.workflow.left_over import files_of, left_in_files, of_earlier_seasons

OLD = Station(season=2026, station="S1", phase="before", date="2026-08-19", profiles="[[1,[]]]")


def keep(record: Record, body: Body) -> None:
    row = new_id()
    record.save(Draft(body=body, row_id=row, record_id=row, based_on=0, origin="file"))


def station(**said: object) -> Station:
    told = {"season": 2027, "station": "S1", "phase": "before", "profiles": OLD.profiles}
    return Station(**(told | said))  # type: ignore[arg-type]


def test_the_same_readings_of_the_same_day_are_left_over_and_others_are_not(
    tmp_path: Path,
) -> None:
    record = open_record(tmp_path)
    keep(record, OLD)
    (found,) = of_earlier_seasons(record, [station(date="2026-08-19")])
    assert (found.season, found.dated) == (2026, True)
    for new in (
        station(date="2027-08-19"),
        station(date="2026-08-19", profiles="[[1,[[5.0,1.0]]]]"),
        station(date="2026-08-19", station="S2"),
        station(date="2026-08-19", phase="after"),
        OLD,
    ):
        assert of_earlier_seasons(record, [new]) == []


def test_readings_without_a_date_are_told_and_kept(tmp_path: Path) -> None:
    record = open_record(tmp_path)
    keep(record, station(season=2026))
    (found,) = of_earlier_seasons(record, [station()])
    assert not found.dated
    (notice,) = left_in_files([found], {})
    assert "bear no date, and are kept as those of 2027 too" in notice.text
    assert of_earlier_seasons(record, [station(season=2025)]) == []


def test_season_0_of_earlier_versions_is_no_season_that_readings_were_left_from(
    tmp_path: Path,
) -> None:
    record = open_record(tmp_path)
    keep(record, station(season=0))
    assert of_earlier_seasons(record, [station()]) == []


def test_each_file_is_told_by_name(tmp_path: Path) -> None:
    record = open_record(tmp_path)
    old = [station(season=2026, station=f"S{i}", date="2026-08-19") for i in range(20)]
    pit = Pit(season=2026, pit="P1", phase="before", date="2026-08-19", lon=0.8, lat=52.7)
    for body in (*old, pit):
        keep(record, body)
    now = [station(station=one.station, date=one.date) for one in old]
    later = Pit(season=2027, pit="P1", phase="before", date="2026-08-19", lon=0.8, lat=52.7)
    pits = pd.DataFrame({"phase": ["before"], "pit": ["P1"], "file": ["spade.csv"]})
    cone = pd.DataFrame({"station": [f"S{i}" for i in range(20)], "file": "a.csv"})
    twice = pd.concat([cone, pd.DataFrame({"station": ["S3"], "file": ["b.csv"]})])
    told = left_in_files(
        of_earlier_seasons(record, [*now, later]), files_of(pits, {"before": twice})
    )
    texts = [notice.text for notice in told]
    assert len(texts) == 3
    assert "1 pit of 2026 stands in spade.csv (P1)" in texts[0]
    assert "19 cone stations of 2026 stand in a.csv (S0, " in texts[1]
    assert "1 cone station of 2026 stands in a.csv and b.csv (S3)" in texts[2]


def test_trial_runs_of_an_earlier_season_are_left_over_and_told(tmp_path: Path) -> None:
    record = open_record(tmp_path)
    depths = {"loosened_at_leg_cm": 36.0, "loosened_between_cm": 27.0}
    old = [Trial(season=2025, run=f"T{i}", speed_km_h=4.0 + i, **depths) for i in range(3)]  # type: ignore[arg-type]
    for body in old:
        keep(record, body)
    now = [replace(body, season=2026) for body in old]
    fresh = replace(now[0], loosened_between_cm=30.0)
    assert of_earlier_seasons(record, [fresh, replace(old[0], season=2024), *old]) == []
    found = of_earlier_seasons(record, now)
    assert [one.passed_over for one in found] == [True] * 3
    (notice,) = left_in_files(found, {})
    assert notice.level == "caution"
    assert "3 trial runs (T0, T1, T2) are of 2025 by the season record" in notice.text
    assert "A plan of 2026 still adds the ridge" in notice.text
    assert left_in_files(found[:1], {})[0].text.startswith("1 trial run (T0) is of 2025")
