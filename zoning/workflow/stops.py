"""Stops of an earlier check of the season that no longer stand: which, and why they fell away."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType

from zoning import records
from zoning.model import Notice
from zoning.model.check import Check
from zoning.outputs.check.words import GONE, STOPS
from zoning.outputs.fingerprint import short_id
from zoning.records import CheckRow, Entry, Pit, Record
from zoning.workflow.recorded import pit_bodies, trails_of
from zoning.workflow.season_dates import season_of

_FACTS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "loosened_at_leg_cm": ("depth", " cm"),
        "moisture": ("moisture", ""),
        "date": ("date", ""),
        "lon": ("longitude", ""),
        "lat": ("latitude", ""),
    }
)
_ABOUT: Mapping[str, str] = MappingProxyType(
    {
        "check-worked-in-keep-off": "inside a keep-off",
        "check-past-cap": "deeper than a hazard allows",
        "check-soil-plastic": "plastic soil",
    }
)
STEP = "check-asks-to-stop"
"""Code of a Stop that stands in the list of what to do and among no other cautions."""


@dataclass(frozen=True, slots=True)
class _Stop:
    """A Stop of an earlier check for one pit."""

    code: str
    pit: str
    check: Entry[records.Check]
    text: str


def with_fallen_stops(check: Check, folder: Path) -> Check:
    """Return the check with a caution for each Stop of the season that it does not tell itself.

    Every check of the season that the record holds is asked; the last one that said Stop for a pit
    is named, with what was changed since; one that only the dates of readings and pits would take
    away stands. The cautions stand behind the Stops of now. A field
    without a record is returned as it is.

    Raises
    ------
    InputRefused
        If the record is damaged.
    """
    record = records.held_record(folder)
    if record is None:
        return check
    rows = pit_bodies(check.inputs.pits, season_of(check.inputs))
    dug = {row.pit: row for row in rows if row.phase == "after"}
    trails = {
        key[-1]: trail
        for key, trail in trails_of(record.everything(Pit)).items()
        if key[:-1] == (season_of(check.inputs), "after")
    }
    now = {
        (told.code, pit)
        for told in check.notices
        if told.code in STOPS
        for pit in told.pits or named(told.text, dug)
    }
    fallen = [
        _told(stop, trails.get(stop.pit, []), dug, check)
        for stop in _earlier(record, season_of(check.inputs), {*dug, *map(str, trails)})
        if not {(stop.code, stop.pit), (stop.code, _called(stop, trails))} & now
    ]
    first = [notice for notice in check.notices if notice.code in STOPS]
    rest = [notice for notice in check.notices if notice.code not in STOPS]
    return replace(check, notices=(*first, *fallen, *rest)) if fallen else check


def with_every_stop(check: Check) -> tuple[Notice, ...]:
    """Return the notices of a check and what its advice says to stop for beside them.

    What the list of what to do asks to stop for and no notice says stands behind the Stops, so
    that whoever goes by the notices misses none.
    """
    head = tuple(notice for notice in check.notices if notice.code in STOPS)
    rest = tuple(notice for notice in check.notices if notice.code not in STOPS)
    steps = check.advice.loc[check.advice["step"] == "stop", "text"]
    names = check.pits["pit"].tolist()
    lacking = [text for text in dict.fromkeys(map(str, steps)) if not _said_by(text, head)]
    return (*head, *(Notice("caution", STEP, t, named(t, names)) for t in lacking), *rest)


def _said_by(text: str, notices: Sequence[Notice]) -> bool:
    """Return whether a text is nothing but what notices say."""
    for told in sorted((notice.text for notice in notices), key=len, reverse=True):
        text = text.replace(told, "")
    return not text.strip()


def _earlier(record: Record, season: int, names: Iterable[str]) -> list[_Stop]:
    """Return the Stops of the season, each with the last check that held it, by pit."""
    checks = {entry.record_id: entry for entry in record.latest(records.Check, season=season)}
    rows = record.latest(CheckRow, season=season, about="advice")
    found = {
        (pit, row.body.name): _Stop(row.body.name, pit, checks[row.body.check_id], row.body.reason)
        for row in sorted(rows, key=lambda row: row.sequence)
        if row.body.name in STOPS and row.body.check_id in checks
        for pit in pits_of(row.body, names)
    }
    return [found[key] for key in sorted(found)]


def _called(stop: _Stop, trails: Mapping[object, Sequence[Entry[Pit]]]) -> str:
    """Return what the pit of a Stop is called now."""
    trail = trails.get(stop.pit, [])
    return trail[-1].body.pit if trail else stop.pit


def _told(stop: _Stop, trail: Sequence[Entry[Pit]], dug: Mapping[str, Pit], check: Check) -> Notice:
    """Return that a Stop fell away, and why; one that only dates take away stands as it was."""
    why = _changed(stop, trail, dug)
    called = trail[-1].body.pit if trail else stop.pit
    past = check.pits["earlier"].astype(bool) & ~check.pits["of_work"].astype(bool)
    dated = check.pits.loc[(check.pits["pit"] == called) & past]
    if why or dated.empty:
        why = why or _elsewhere(stop, check)
        return Notice("caution", GONE, _words(stop, called, why))
    text = (
        f"{stop.text.rstrip()} So said the check of {_when(stop)}. Pit {called} is not judged now: "
        f"{dated['reason'].iloc[0]} The Stop stands until that date is settled."
    )
    return Notice("caution", stop.code, text, (called,))


def _when(stop: _Stop) -> str:
    day, _, clock = stop.check.recorded_at.partition("T")
    return f"{day} {clock[:5]} UTC"


def _words(stop: _Stop, called: str, why: str) -> str:
    now = "" if called == stop.pit else f", now pit {called},"
    return (
        f"The Stop of {_when(stop)} for pit {stop.pit}{now} ({_ABOUT[stop.code]}) no longer "
        f"stands: {why}."
    )


def _changed(stop: _Stop, trail: Sequence[Entry[Pit]], dug: Mapping[str, Pit]) -> str:
    """Return what was changed of the pit since; blank where nothing was."""
    now = dug.get(trail[-1].body.pit if trail else stop.pit)
    given = f", '{trail[-1].why}'" if trail and trail[-1].why else ""
    if now is None:
        gone = bool(trail and trail[-1].body.withdrawn)
        return f"withdrawn on the review page{given}" if gone else "the pit is not there any more"
    then = [entry.body for entry in trail if entry.recorded_at <= stop.check.recorded_at]
    changes = _changes(then[-1], now) if then else ""
    return changes and changes + (given if trail[-1].body == now else "")


def _elsewhere(stop: _Stop, check: Check) -> str:
    """Return what was changed since where the pit was not: the plan, failing that the field."""
    if stop.check.body.plan_id != check.plan_id:
        return f"that check went by plan {short_id(stop.check.body.plan_id)}, this one by another"
    return "the pit is as it was; the hazards, the settings or the program have changed"


def _changes(then: Pit, now: Pit) -> str:
    """Return which facts of a pit that a Stop may hang on are others now."""
    told = []
    for name, (label, unit) in _FACTS.items():
        one, other = (_said(getattr(pit, name)) for pit in (then, now))
        if one != other:
            told.append(f"{label} corrected from {one} to {other}{unit}")
    return ", ".join(told)


def _said(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value or "not noted")


def pits_of(row: CheckRow, names: Iterable[str]) -> tuple[str, ...]:
    """Return the pits that a caution kept is about; of one kept without them those it names."""
    held = json.loads(row.facts).get("pits")
    return named(row.reason, names) if held is None else tuple(map(str, held))


def named(text: str, names: Iterable[str]) -> tuple[str, ...]:
    """Return the pits that a caution names after the word pit, in its order."""
    either = "|".join(re.escape(name) for name in sorted(names, key=len, reverse=True) if name)
    if not either:
        return ()
    lists = rf"\b[Pp]its? ((?:{either})(?:(?:, | and )(?:{either})(?!\w))*)(?!\w)"
    found = [
        name
        for told in re.findall(lists, text)
        for name in re.findall(rf"(?<!\w)(?:{either})(?!\w)", told)
    ]
    return tuple(dict.fromkeys(found))
