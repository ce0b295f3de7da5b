"""Every reading given is accounted for, with its verdict, its use and the reason."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import numpy as np
import pandas as pd

from zoning.model import Plan
from zoning.outputs.reading_rows import reading_dates, reading_rows


def by_name(plan: Plan) -> pd.DataFrame:
    return reading_rows(plan).set_index(["kind", "name", "row"])


def test_nothing_given_is_lost(plan: Plan) -> None:
    rows = reading_rows(plan)
    assert len(rows) == len(plan.insertions) + len(plan.pits) + len(plan.left_out)
    assert rows["kind"].value_counts().to_dict() == {"insertion": 3, "pit": 2, "left_out": 1}


def test_use_and_reason_follow_station_and_verdict(plan: Plan) -> None:
    rows = by_name(plan)
    assert rows.loc[("insertion", "alpha/1", 2), "used"] == "yes"
    unusable = rows.loc[("insertion", 'Übergröße, "long"/1', 8)]
    assert (unusable["used"], unusable["reason"]) == ("no", "Fewer than 4 readings.")
    censored = rows.loc[("insertion", "=SUM(A1)/1", 5)]
    assert (censored["used"], censored["verdict"]) == ("yes", "base_not_reached")


def test_a_station_left_out_takes_its_insertions_along_and_says_why(plan: Plan) -> None:
    stations = plan.stations.assign(used=False, reason="A pit stands at the same place.")
    rows = by_name(dataclasses.replace(plan, stations=stations))
    assert set(rows["used"]) == {"no"}
    assert rows.loc[("insertion", "alpha/1", 2), "reason"] == "A pit stands at the same place."
    assert rows.loc[("insertion", "=SUM(A1)/1", 5), "reason"].startswith("The last reading")
    assert rows.loc[("insertion", "=SUM(A1)/1", 5), "reason"].endswith("same place.")


def test_pits_before_count_and_pits_after_are_kept_for_the_check(plan: Plan) -> None:
    rows = by_name(plan)
    before, after = rows.loc[("pit", "P1", 2)], rows.loc[("pit", "P1", 3)]
    assert (before["verdict"], before["used"], before["pan_base_cm"]) == ("pan", "yes", 34.0)
    assert (after["verdict"], after["used"]) == ("not_seen", "no")
    assert "after the work" in after["reason"]


def test_a_reading_without_a_station_is_not_used_and_says_so(plan: Plan) -> None:
    rows = by_name(dataclasses.replace(plan, stations=plan.stations.iloc[:0]))
    assert set(rows["used"]) == {"no"}
    assert rows.loc[("pit", "P1", 2), "reason"] == "Not joined to a station of the plan."


def test_a_row_left_out_keeps_its_reason(plan: Plan) -> None:
    left = by_name(plan).loc[("left_out", "station d", 11)]
    assert (left["reason"], left["verdict"], left["used"]) == ("80 m outside.", "left_out", "no")


def test_the_order_of_rows_given_does_not_matter(plan: Plan) -> None:
    mixed = dataclasses.replace(
        plan, insertions=plan.insertions.iloc[::-1], pits=plan.pits.iloc[::-1],
        stations=plan.stations.iloc[::-1],
    )  # fmt: skip
    assert reading_rows(mixed).equals(reading_rows(plan))


def test_the_sheets_of_a_workbook_follow_each_other_by_day(plan: Plan) -> None:
    sheets = ["b.xlsx, sheet Mon 24", "b.xlsx, sheet Fri 28", "a.csv"]
    days = ["2026-08-24", "2026-08-28", "2026-09-30"]
    mixed = plan.insertions.assign(file=sheets, date=days)
    rows = reading_rows(dataclasses.replace(plan, insertions=mixed))
    own = rows[rows["kind"] == "insertion"]
    assert list(own["file"]) == ["a.csv", "b.xlsx, sheet Mon 24", "b.xlsx, sheet Fri 28"]
    undated = mixed.assign(date=["", None, ""])
    own = reading_rows(dataclasses.replace(plan, insertions=undated)).query("kind == 'insertion'")
    assert list(own["file"]) == ["a.csv", "b.xlsx, sheet Fri 28", "b.xlsx, sheet Mon 24"]


def test_a_field_of_pits_alone_has_rows(plan: Plan) -> None:
    alone = dataclasses.replace(
        plan, insertions=plan.insertions.iloc[:0], left_out=plan.left_out.iloc[:0]
    )
    assert list(reading_rows(alone)["kind"]) == ["pit", "pit"]


def test_a_date_that_is_of_the_pits_alone_is_not_told_of_the_cone(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    kind = np.resize(["cone", "pit"], len(plan.stations))
    date = np.where(kind == "pit", "2026-09-02", "")
    told = reading_dates(changed(stations=plan.stations.assign(kind=kind, date=date)))
    assert told == "Pits of 2026-09-02, cone readings without date"
    dated = plan.stations.assign(kind=kind, date="2026-09-02")
    assert reading_dates(changed(stations=dated)) == "Readings of 2026-09-02"
