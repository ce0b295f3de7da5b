"""The trail of edits: what each version changed, by whom, when and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from zoning.records import Body, Entry
from zoning.records.entries import body_columns
from zoning.review.forms import label, shown

_UNTOLD = ("pit_id", "sha256", "media_type", "about", "about_id")
_WHAT = {"pits": "pit", "reviews": "review", "photos": "photo"}


@dataclass(frozen=True, slots=True)
class Step:
    """One edit: when, by whom, from where, why, and each field with what it said and says."""

    what: str
    version: int
    recorded_at: str
    by_whom: str
    origin: str
    why: str
    changes: tuple[tuple[str, str, str], ...]


def steps(entries: Sequence[Entry[Any]]) -> list[Step]:
    """Return the edits of a set of records, oldest first by the time of saving."""
    last: dict[str, Body] = {}
    found = []
    for entry in sorted(entries, key=lambda e: (e.body.TABLE, e.sequence)):
        changes = differences(last.get(entry.record_id), entry.body)
        last[entry.record_id] = entry.body
        found.append(
            Step(
                _WHAT[entry.body.TABLE],
                entry.version,
                entry.recorded_at,
                entry.by_whom,
                entry.origin,
                entry.why,
                changes,
            )
        )
    return sorted(found, key=lambda step: step.recorded_at)


def differences(old: Body | None, new: Body) -> tuple[tuple[str, str, str], ...]:
    """Return ``(field, said, says)`` where they differ; of a first version, all that is filled."""
    found = []
    for column in body_columns(type(new)):
        says = shown(getattr(new, column.name))
        said = shown(getattr(old, column.name)) if old is not None else ""
        if says != said and column.name not in _UNTOLD:
            found.append((label(column.name), said, says))
    return tuple(found)
