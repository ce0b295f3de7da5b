"""Pits saved in the season record as the review page saves them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from zoning.records import Draft, Entry, Pit, new_id, open_record


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
