"""Pits saved in the season record as the review page saves them, and checks kept in it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from zoning.records import Check, CheckRow, Draft, Entry, Pit, new_id, open_record


def page_pit(folder: Path, name: str, **said: Any) -> Entry[Pit]:
    """Save a pit that no file holds."""
    row = new_id()
    place = {"season": 2026, "pit": name, "phase": "after", "lon": 0.8076239, "lat": 52.7174356}
    body = Pit(**(place | said))
    draft = Draft(body=body, row_id=row, record_id=row, based_on=0, origin="page")
    return open_record(folder).save(draft)


def corrected(
    folder: Path, name: str, phase: str = "after", *, why: str = "", **said: Any
) -> Entry[Pit]:
    """Correct a pit that the record holds."""
    record = open_record(folder)
    (last,) = record.latest(Pit, pit=name, phase=phase)
    draft = Draft(
        body=replace(last.body, **said),
        row_id=new_id(),
        record_id=last.record_id,
        based_on=last.version,
        origin="page",
        why=why,
    )
    return record.save(draft)


def keep_check(
    folder: Path, *told: tuple[str, str], plan_id: str = "a" * 64, season: int = 2026
) -> str:
    """Keep a check of the season with its cautions and return when it was kept."""
    record = open_record(folder)
    body = Check(season=season, plan_id=plan_id, after_pits=2)
    row = new_id()
    entry = record.save(Draft(body=body, row_id=row, record_id=row, based_on=0, origin="check"))
    for code, text in told:
        advice = CheckRow(season=season, check_id=row, about="advice", name=code,
                          verdict="caution", reason=text)  # fmt: skip
        mark = new_id()
        record.save(Draft(body=advice, row_id=mark, record_id=mark, based_on=0, origin="check"))
    return entry.recorded_at
