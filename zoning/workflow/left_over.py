"""Readings of an earlier season that were left in the files of a field: found by the record."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import pandas as pd

from zoning.contracts import constant
from zoning.model import Notice
from zoning.records import Body, Pit, Record, Station

Named = tuple[str, str, str]
"""Table, phase and name of a pit or a cone station."""
_WORDS = {"pits": "pit", "stations": "cone station"}


@dataclass(frozen=True, slots=True)
class LeftOver:
    """A pit or station that the record holds in an earlier `season`; `dated` in that year."""

    body: Pit | Station
    season: int
    dated: bool


def of_earlier_seasons(record: Record, bodies: Sequence[Body]) -> list[LeftOver]:
    """Return the pits and cone stations that the record holds in an earlier season already.

    A pit is the same where name, phase, day and place are; a station where name, phase and every
    reading are. What bears a date of another year than that season is another one. Season 0, under
    which earlier versions kept what bore no date, is none.
    """
    held: dict[tuple[object, ...], set[int]] = {}
    dug = [entry.body for entry in record.latest(Pit, withdrawn="")]
    probed = [entry.body for entry in record.latest(Station)]
    known: list[Pit | Station] = [*dug, *probed]
    for one in known:
        held.setdefault(same(one), set()).add(one.season)
    found = []
    for body in bodies:
        if isinstance(body, (Pit, Station)):
            seasons = held.get(same(body), set()) - {body.season, 0}
            found += [LeftOver(body, s, bool(body.date)) for s in sorted(seasons) if _of(body, s)]
    return found


def same(body: Pit | Station) -> tuple[object, ...]:
    """Return what tells a pit or a station apart from others of any season."""
    if isinstance(body, Pit):
        return ("pits", body.pit, body.phase, body.date, body.lon, body.lat)
    return ("stations", body.station, body.phase, body.date, body.profiles)


def _of(body: Pit | Station, season: int) -> bool:
    """Whether a body is of an earlier season: by its date, else a station by its readings alone."""
    if body.date:
        return body.date[:4] == str(season)
    return isinstance(body, Station) and season < body.season


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
    """Return a caution for each season and file in which readings were left."""
    groups: dict[tuple[str, str, int, int, str], list[str]] = {}
    for one in earlier:
        table = one.body.TABLE
        name = one.body.pit if isinstance(one.body, Pit) else one.body.station
        file = files.get((table, one.body.phase, name), "the files of the field")
        key = (table, file, one.season, one.body.season, _kept(one))
        groups.setdefault(key, []).append(name)
    return [_notice(*key, names) for key, names in sorted(groups.items())]


def _kept(one: LeftOver) -> str:
    now = one.body.season
    if one.dated:
        used = "" if one.body.phase == "after" else ", but a plan goes by them"
        return f"They are not kept a second time as those of {now}{used}."
    return f"They bear no date, and are kept as those of {now} too."


def _notice(
    table: str, file: str, season: int, now: int, kept: str, names: Iterable[str]
) -> Notice:
    told = sorted(names)
    words = f"{len(told)} {_WORDS[table]}{'' if len(told) == 1 else 's'}"
    most = int(constant("record_rules", "left_over_named_most"))
    some = ", ".join(told[:most]) + (f" ... {told[-1]}" if len(told) > most else "")
    return Notice(
        "caution",
        f"{table}-of-another-season",
        f"{words} of {season} stand{'s' if len(told) == 1 else ''} in {file} ({some}): "
        f"the record holds the same of season {season}. {kept} Put the readings of {now} in the "
        f"place of those in {file}; or, if it is {season} still, set season = {season} in "
        "field.toml.",
    )
