"""Dates that do not fit the season are told: a forgotten season, a mistyped year, a day to come."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from outputs.small_check import pits, small_check
from workflow.worked import planned_folder

import zoning
from zoning.model import FieldInputs
from zoning.model.check import Check
from zoning.workflow import check_work
from zoning.workflow.season_dates import FUTURE, SEASON, future_notices, season_notices


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
    assert season_notices(field(None, **autumn)) == ()
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
