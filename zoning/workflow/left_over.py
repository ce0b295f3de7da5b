"""Readings and trial runs of an earlier season left in the files of a field: by the record."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import pandas as pd

from zoning.contracts import constant
from zoning.model import Notice
from zoning.records import Body, Pit, Record, Station, Trial

RUNS = "trials-of-another-season"
"""Code of the caution that trial runs in the files are of an earlier season."""
Named = tuple[str, str, str]
"""Table, phase and name of a pit or a cone station."""
_KINDS: tuple[type[Pit | Station | Trial], ...] = (Pit, Station, Trial)
_WORDS = {"pits": "pit", "stations": "cone station"}


@dataclass(frozen=True, slots=True)
class LeftOver:
    """What the record holds in an earlier `season`; `dated` in that year."""

    body: Pit | Station | Trial
    season: int
    dated: bool

    @property
    def passed_over(self) -> bool:
        """Whether it is not kept a second time: a trial run, or what is dated."""
        return self.dated or isinstance(self.body, Trial)


def of_earlier_seasons(record: Record, bodies: Sequence[Body]) -> list[LeftOver]:
    """Return the pits, cone stations and trial runs that an earlier season has in the record.

    A pit is the same where name, phase, day and place are; a station where name, phase and every
    reading are; a trial run where all is. What bears a date of another year than that season is
    another one. Season 0, under which earlier versions kept what bore no date, is none.
    """
    held: dict[tuple[object, ...], set[int]] = {}
    for kind in _KINDS:
        read = record.latest(kind) if any(isinstance(body, kind) for body in bodies) else []
        for one in (entry.body for entry in read):
            if not (isinstance(one, Pit) and one.withdrawn):
                held.setdefault(same(one), set()).add(one.season)
    found = []
    for body in bodies:
        if isinstance(body, (Pit, Station, Trial)):
            seasons = held.get(same(body), set()) - {body.season, 0}
            day = "" if isinstance(body, Trial) else body.date
            found += [LeftOver(body, s, bool(day)) for s in sorted(seasons) if _of(body, day, s)]
    return found


def same(body: Pit | Station | Trial) -> tuple[object, ...]:
    """Return what tells a pit, a station or a trial run apart from others of any season."""
    if isinstance(body, Trial):
        return ("trials", replace(body, season=0))
    if isinstance(body, Pit):
        return ("pits", body.pit, body.phase, body.date, body.lon, body.lat)
    return ("stations", body.station, body.phase, body.date, body.profiles)


def _of(body: Pit | Station | Trial, day: str, season: int) -> bool:
    """Whether a body is of an earlier season: by its day, else, no pit, by what it says alone."""
    if day:
        return day[:4] == str(season)
    return not isinstance(body, Pit) and season < body.season


def files_of(pits: pd.DataFrame, cone: Mapping[str, pd.DataFrame]) -> dict[Named, str]:
    """Return the files in which each pit and cone station stands; `cone` by phase."""
    rows = [("pits", *row) for row in pits[["phase", "pit", "file"]].itertuples(index=False)]
    for phase, frame in cone.items():
        told = frame[["station", "file"]].drop_duplicates()
        rows += [("stations", phase, *row) for row in told.itertuples(index=False)]
    found: dict[Named, str] = {}
    for table, phase, name, file in rows:
        key = (str(table), str(phase), str(name))
        found[key] = f"{found[key]} and {file}" if key in found else str(file)
    return found


def left_in_files(earlier: Sequence[LeftOver], files: Mapping[Named, str]) -> list[Notice]:
    """Return a caution for each season and file in which readings were left, and on trial runs."""
    groups: dict[tuple[str, str, int, int, str], list[str]] = {}
    runs: dict[tuple[int, int], list[str]] = {}
    for one in earlier:
        if isinstance(one.body, Trial):
            runs.setdefault((one.season, one.body.season), []).append(one.body.run)
            continue
        table = one.body.TABLE
        name = one.body.pit if isinstance(one.body, Pit) else one.body.station
        file = files.get((table, one.body.phase, name), "the files of the field")
        kept = _kept(one.body, dated=one.dated)
        groups.setdefault((table, file, one.season, one.body.season, kept), []).append(name)
    told = [_notice(*key, names) for key, names in sorted(groups.items())]
    return told + [_runs_notice(*key, names) for key, names in sorted(runs.items())]


def _kept(body: Pit | Station, *, dated: bool) -> str:
    now = body.season
    if dated:
        used = "" if body.phase == "after" else ", but a plan goes by them"
        return f"They are not kept a second time as those of {now}{used}."
    return f"They bear no date, and are kept as those of {now} too."


def _runs_notice(season: int, now: int, names: Sequence[str]) -> Notice:
    words, are = ("1 trial run", "is") if len(names) == 1 else (f"{len(names)} trial runs", "are")
    return Notice(
        "caution",
        RUNS,
        f"{words} ({_some(sorted(names))}) {are} of {season} by the season record. A plan of {now} "
        "still adds the ridge that they show to every depth: where machine or soil are not as they "
        "were, leave trials out of field.toml, or drive new ones, and plan again.",
    )


def _some(told: Sequence[str]) -> str:
    most = int(constant("record_rules", "left_over_named_most"))
    return ", ".join(told[:most]) + (f" ... {told[-1]}" if len(told) > most else "")


def _notice(
    table: str, file: str, season: int, now: int, kept: str, names: Iterable[str]
) -> Notice:
    told = sorted(names)
    words = f"{len(told)} {_WORDS[table]}{'' if len(told) == 1 else 's'}"
    return Notice(
        "caution",
        f"{table}-of-another-season",
        f"{words} of {season} stand{'s' if len(told) == 1 else ''} in {file} ({_some(told)}): "
        f"the record holds the same of season {season}. {kept} Put the readings of {now} in the "
        f"place of those in {file}; or, if it is {season} still, set season = {season} in "
        "field.toml.",
    )
