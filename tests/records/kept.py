"""Pits and drafts to save in tests."""

from __future__ import annotations

from zoning.records import Draft, Pit, new_id


def pit(name: str = "A1", **said: object) -> Pit:
    place = {"lon": 0.8, "lat": 52.7}
    return Pit(**({"season": 2026, "pit": name, "phase": "after"} | place | said))  # type: ignore[arg-type]


def first(body: Pit, row_id: str = "", **more: str) -> Draft[Pit]:
    row = row_id or new_id()
    return Draft(body=body, row_id=row, record_id=row, based_on=0, origin="page", **more)
