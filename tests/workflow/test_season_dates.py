"""Dates that do not fit the season are told: a forgotten season, a mistyped year, a day to come."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from functools import cache
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from outputs.small_check import pits, small_check
from workflow.worked import planned_folder

import zoning
from zoning.errors import InputRefused
from zoning.model import FieldInputs, Plan
from zoning.model.check import Check
from zoning.records import NAME, Pit, PlanIssued, Station, Zone, open_record
from zoning.workflow import check_work
from zoning.workflow.recorded import known_season
from zoning.workflow.records import record_check, record_plan
from zoning.workflow.season_dates import (
    FUTURE,
    SEASON,
    future_notices,
    last_read,
    season_notices,
    season_of,
)


@cache
def _check() -> Check:
    return small_check()


def field(season: int | None, **dates: str) -> FieldInputs:
    """Return a field with one pit for each date; the names are those of the files."""
    check = _check()
    row = pits().iloc[0].to_dict()
    rows = [
        row | {"file": f"{n}.csv", "date": d, "row": i} for i, (n, d) in enumerate(dates.items())
    ]
    stated = replace(check.settings, field=replace(check.settings.field, season=season))
    return replace(check.inputs, settings=stated, pits=pd.DataFrame(rows))


def test_a_base_that_a_pit_after_the_work_showed_is_not_the_last_reading_before_it() -> None:
    days = ("2026-08-18", "2026-08-20", "2026-09-05", "2026-09-03", "2026-09-05")
    held = field(None, **{f"f{n}": day for n, day in enumerate(days)})
    pits = held.pits.assign(phase=[*["before"] * 3, *["after"] * 2])
    nothing = pd.DataFrame(columns=["station", "file", "row", "date"], dtype=str)
    held = replace(held, pits=pits, cone=nothing)
    assert last_read(held)[0] == "2026-08-20"
    withdrawn = replace(held, pits=pits[:-1], withdrawn=pits[-1:])
    assert last_read(withdrawn)[0] == "2026-08-20"
    assert last_read(replace(held, pits=pits[:-1]))[0] == "2026-09-05"
    of_one_day = replace(held, pits=pits.assign(date="2026-08-18"))
    assert last_read(of_one_day)[0] == "2026-08-18"


@pytest.mark.parametrize("day", ["2026-01-01", "2026-08-20", "2026-12-31", "2027-06-30", ""])
def test_work_between_two_harvests_is_of_the_season(day: str) -> None:
    assert season_notices(field(2026, pits=day)) == ()


@pytest.mark.parametrize("day", ["2025-12-31", "2027-07-01", "2206-08-20"])
def test_a_day_of_no_such_season_is_told_with_its_file(day: str) -> None:
    (told,) = season_notices(field(2026, good="2026-09-01", bad=day))
    assert (told.level, told.code) == ("caution", SEASON)
    where = "season 2026 (2026-01-01 to the end of 2027-06)"
    assert told.text.startswith(f"Dated outside {where}: bad.csv, 1 row of {day}. Correct")
    assert f"set season = {day[:4]}" in told.text


def test_without_a_season_the_year_of_most_rows_counts_with_the_year_before() -> None:
    autumn = {"a": "2025-11-20", "b": "2026-02-02", "c": "2026-03-01"}
    (told,) = season_notices(field(None, **autumn))
    assert told.text.startswith("No season is stated: the season record takes 2026, by the dates.")
    assert season_notices(field(None, undated="")) == ()
    (told,) = season_notices(field(None, **autumn, typo="2206-03-01"))
    assert "most dates are of 2026 and none is stated: typo.csv, 1 row of 2206-03-01." in told.text


@given(st.dates().map(lambda day: day.isoformat()))
def test_any_day_of_a_year_that_ends_a_season_early_or_late(day: str) -> None:
    told = season_notices(field(2026, pits=day))
    assert bool(told) == (not "2026-01-01" <= day <= "2027-06-30")


def test_a_day_to_come_is_told_by_the_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("zoning.workflow.season_dates.today", lambda: "2026-09-10")
    assert future_notices(field(2026, pits="2026-09-10")) == ()
    (told,) = future_notices(field(2026, pits="2026-09-11"))
    assert (told.code, told.text) == (
        FUTURE, "Dated on a day that is not here yet: pits.csv, 1 row of 2026-09-11.",
    )  # fmt: skip


def test_a_forgotten_season_is_told_by_plan_and_check(plan_folder: Path, tmp_path: Path) -> None:
    folder = planned_folder(plan_folder, tmp_path / "field")
    assert SEASON not in {notice.code for notice in zoning.read_field(folder).notices}
    dug = (folder / "pits.csv").read_text("utf-8").splitlines()
    names, row = dug[0].split(","), dug[1].split(",")
    said = dict(zip(names, row, strict=False)) | {"pit": "A1", "phase": "after"}
    said |= {"loosened_at_leg_cm": "40", "loosened_between_cm": "30"}
    (folder / "pits.csv").write_text("\n".join([*dug, ",".join(said.get(n, "") for n in names)]))
    toml = folder / "field.toml"
    toml.write_text(toml.read_text("utf-8").replace("season = 2026", "season = 2028"), "utf-8")
    told = [n for n in zoning.read_field(folder).notices if n.code == SEASON]
    assert [name in told[0].text for name in ("cone.csv", "pits.csv", "trials.csv")] == [1, 1, 0]
    assert set(told) <= set(check_work(folder).notices)


def test_a_season_is_stated_or_dated_or_asked_for() -> None:
    assert known_season(field(2026, pits="")) == 2026
    assert known_season(field(None, pits="2027-03-01")) == 2027
    with pytest.raises(
        InputRefused, match=r"field\.toml: season: .*no reading or pit bears a date"
    ):
        known_season(field(None, pits=""))


@pytest.mark.parametrize(
    ("before", "after", "season"),
    [
        ("2026-10-01", "2026-10-20", 2026),
        ("2026-10-01", "2027-01-12", 2026),  # dug in the winter after the harvest
        ("2026-10-01", "2027-06-30", 2026),
        ("2026-10-01", "2027-07-01", 2027),
        ("2027-01-12", "2026-10-01", 2027),
        ("", "2027-01-12", 2027),
        ("2026-10-01", "", 2026),
        ("", "", 0),
    ],
)
def test_pits_dug_after_the_work_begin_no_season_of_their_own_within_that_of_the_readings(
    before: str, after: str, season: int
) -> None:
    read = field(None, before=before, after=after)
    pits = read.pits.assign(phase=read.pits["file"].str.removesuffix(".csv"))
    assert season_of(replace(read, pits=pits)) == season
    assert season_of(replace(read, pits=pits.assign(phase="after"))) == int(
        max(before, after)[:4] or 0
    )


def as_read(plan: Plan, *, season: int | None, day: str) -> Plan:
    """Return a plan of few readings as it is with this season stated and every date this day."""
    stated = replace(plan.settings, field=replace(plan.settings.field, season=season))
    cone = plan.cone[plan.cone["station"].isin(plan.cone["station"].unique()[:3])]
    pits = plan.pits.assign(date=day)
    return replace(plan, settings=stated, cone=cone.assign(date=day), pits=pits)


WAYS = st.tuples(st.sampled_from([None, 2026]), st.sampled_from(["", "2026-08-19"]))


@settings(max_examples=12, deadline=None)
@given(st.lists(WAYS, min_size=1, max_size=3))
def test_no_reading_plan_or_zone_stands_in_the_record_twice_however_the_season_became_known(
    sample_plan: Plan, ways: list[tuple[int | None, str]]
) -> None:
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        for season, day in ways:
            told = record_plan(folder, as_read(sample_plan, season=season, day=day))
            unknown = season is None and not day
            assert [n.code for n in told] == (["record-not-written"] if unknown else [])
        known = any(season or day for season, day in ways)
        assert (folder / NAME).exists() == known
        if not known:
            return
        record = open_record(folder)
        pits = [(e.body.season, e.body.pit) for e in record.latest(Pit)]
        assert sorted(pits) == sorted((2026, name) for name in sample_plan.pits["pit"])
        assert [e.body.season for e in record.latest(Station)] == [2026] * 3
        assert [e.body.season for e in record.latest(PlanIssued)] == [2026]
        assert len(record.latest(Zone)) == len(sample_plan.zones)


def test_readings_without_dates_stand_once_after_a_check_of_pits_with_dates(
    plan_folder: Path, tmp_path: Path, sample_plan: Plan
) -> None:
    folder = planned_folder(plan_folder, tmp_path / "field")
    toml, cone, pits = (folder / name for name in ("field.toml", "cone.csv", "pits.csv"))
    toml.write_text(toml.read_text("utf-8").replace("season = 2026\n", ""), "utf-8")
    for file in (cone, pits):
        file.write_text(file.read_text("utf-8").replace("2026-08-19", ""), "utf-8")
    assert record_plan(folder, as_read(sample_plan, season=None, day=""))
    dug = pits.read_text("utf-8").splitlines()
    row = dict(zip(dug[0].split(","), dug[1].split(","), strict=False))
    head = "pit,date,phase,lon,lat,loosened_at_leg_cm,pan"
    after = f"A1,2026-10-02,after,{row['lon']},{row['lat']},40,no"
    (folder / "after.csv").write_text(f"{head}\n{after}\n", "utf-8")
    named = toml.read_text("utf-8").replace('"pits.csv"', '["pits.csv", "after.csv"]')
    toml.write_text(named, "utf-8")
    assert record_check(folder, check_work(folder)) == ()
    record = open_record(folder)
    assert {e.body.season for e in (*record.latest(Pit), *record.latest(Station))} == {2026}
    assert sorted(e.body.pit for e in record.latest(Pit)) == [
        "A1",
        *sorted(sample_plan.pits["pit"]),
    ]


def test_two_seasons_of_which_the_first_bore_no_dates_are_not_made_one(
    sample_plan: Plan, tmp_path: Path
) -> None:
    (told,) = record_plan(tmp_path, as_read(sample_plan, season=None, day=""))
    assert "The season record was not written" in told.text
    later = as_read(sample_plan, season=None, day="2027-08-20")
    assert record_plan(tmp_path, later) == ()
    assert {e.body.date for e in open_record(tmp_path).latest(Pit)} == {"2027-08-20"}
    (told,) = record_plan(tmp_path, as_read(sample_plan, season=None, day=""))
    assert {e.body.season for e in open_record(tmp_path).latest(Pit)} == {2027}
