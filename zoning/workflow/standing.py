"""What a plan tells by the season record: Stops that stand, trial runs of an earlier season."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from zoning import records
from zoning.errors import ZoningError
from zoning.model import FieldInputs, Notice
from zoning.outputs.bars import STANDING
from zoning.outputs.check.words import GONE, STOPS
from zoning.outputs.fingerprint import short_id
from zoning.records import CheckRow, Entry, Pit, Record, Trial
from zoning.workflow.left_over import left_in_files, of_earlier_seasons
from zoning.workflow.recorded import trial_bodies
from zoning.workflow.season_dates import season_of
from zoning.workflow.stops import STEP, pits_of

_STOP = re.compile(r"\bStop\b")
_PLASTIC = "check-soil-plastic"
_UNREAD = Notice(
    "caution",
    "record-not-read",
    "The season record cannot be read: whether a Stop of a check stands is not told.",
)


def standing_stops(folder: Path, season: int | None = None) -> tuple[Notice, ...]:
    """Return the Stops of the newest check of each season that stand, the last season first.

    A Stop stands until a check of its season no longer says it or every pit that it names is
    withdrawn. Plastic soil is told of the season `season` alone; ``None``: of each. A field without
    a record has none; of a record that cannot be read that is told.
    """
    try:
        record = records.held_record(folder)
        return tuple(_standing(record, season)) if record else ()
    except (ZoningError, OSError, sqlite3.Error, ValueError):
        return (_UNREAD,)


def runs_left(folder: Path, inputs: FieldInputs) -> tuple[Notice, ...]:
    """Return a caution where the season record holds trial runs of the files in an earlier season.

    Of a record that cannot be read `standing_stops` tells.
    """
    if inputs.trials.empty:
        return ()
    season = season_of(inputs)
    try:
        record = records.held_record(folder)
        if record is None:
            return ()
        left = of_earlier_seasons(record, trial_bodies(inputs.trials, season))
    except (ZoningError, OSError, sqlite3.Error, ValueError):
        return ()
    return tuple(left_in_files(left, {}))


def may_tell(folder: Path, season: int | None) -> bool:
    """Return whether the record has what a plan of `season` may have to tell; ``None``: of any.

    Quicker than to read the field: a Stop stands, or it holds trial runs of another season.
    """
    if standing_stops(folder):
        return True
    record = records.held_record(folder)
    return record is not None and any(e.body.season != season for e in record.latest(Trial))


def _standing(record: Record, season: int | None) -> Iterator[Notice]:
    newest = {check.body.season: check for check in record.latest(records.Check)}
    for year, check in sorted(newest.items(), reverse=True):
        dug = {entry.body.pit for entry in record.latest(Pit, season=year, phase="after")}
        gone = withdrawn_pits(record, year)
        for entry in record.latest(CheckRow, check_id=check.record_id, about="advice"):
            row, pits = entry.body, pits_of(entry.body, dug)
            past = row.name == _PLASTIC and season not in (None, year)
            if asks_to_stop(row) and not past and (not pits or set(pits) - gone):
                yield Notice("caution", STANDING, _words(row.reason, check), pits)


def withdrawn_pits(record: Record, season: int) -> set[str]:
    """Return the names of the pits of after the work of which none stands any more."""
    dug = [entry.body for entry in record.latest(Pit, season=season, phase="after")]
    return {pit.pit for pit in dug} - {pit.pit for pit in dug if not pit.withdrawn}


def asks_to_stop(row: CheckRow) -> bool:
    """Whether a caution asks to stop, by its code or, of a code not known here, by its words."""
    return row.name in (*STOPS, STEP) or (row.name != GONE and bool(_STOP.search(row.reason)))


def _words(text: str, check: Entry[records.Check]) -> str:
    """Return a Stop in the words of its check, with its day and the plan that it went by."""
    day, number = check.recorded_at[:10], short_id(check.body.plan_id)
    bare = text.removeprefix("Stop: ").removeprefix("Stop and ")
    return f"STOP, by the check of {day} against plan {number}: {bare}"
