"""Readings and pits whose dates do not fit the season: a forgotten season, a mistyped year."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Protocol

import pandas as pd

from zoning.contracts import constant
from zoning.model import FieldInputs, Notice, Settings
from zoning.records import NAME

SEASON = "dates-outside-season"
FUTURE = "dates-not-here-yet"
NOT_KEPT = "plan-not-kept"
_NAMED = ["called", "file", "row", "date"]


class Dated(Protocol):
    """Anything that carries the settings of a field with what was read and dug there."""

    @property
    def settings(self) -> Settings:
        """The settings."""
        ...

    @property
    def cone(self) -> pd.DataFrame:
        """The cone readings."""
        ...

    @property
    def pits(self) -> pd.DataFrame:
        """The pits."""
        ...


class Seasoned(Protocol):
    """Anything that carries the settings of a field."""

    @property
    def settings(self) -> Settings:
        """The settings."""
        ...


def season_of(held: Seasoned) -> int:
    """Return the season of a field: as stated, else by its dates, else 0.

    By dates it is the latest year of the readings and pits of before the work. Those of after it
    say the season where none of before bears a date, or where they lie behind its end.
    """
    stated = held.settings.field.season
    if stated is not None:
        return stated
    before, after = _last_day(held, "before"), _last_day(held, "after")
    if before and after <= season_days(int(before[:4]))[1]:
        return int(before[:4])
    return int(max(before, after)[:4] or 0)


def _last_day(held: Seasoned, phase: str) -> str:
    """Return the last day of what was taken before or after the work, ISO; blank without dates."""
    pits = getattr(held, "pits", None)
    dug = None if pits is None or pits.empty else pits[pits["phase"] == phase]
    probed = getattr(held, "cone" if phase == "before" else "cone_after", None)
    frames = [frame for frame in (dug, probed) if frame is not None and "date" in frame]
    return max((str(day) for frame in frames for day in frame["date"].unique()), default="")


def today() -> str:
    """Return the day by the clock of this computer, ISO."""
    return datetime.now().astimezone().date().isoformat()


def season_notices(held: Dated) -> tuple[Notice, ...]:
    """Return a caution that names the files with readings or pits dated outside the season.

    A season runs from 1 January of its year, the year of the harvest, into the next year by
    ``season_runs_on_months``: loosening and digging may wait for the winter. Where no season is
    stated, the year that most rows bear counts, with the year before; a note then tells which
    season the record takes.
    """
    rows = _dates(held)
    if rows.empty:
        return ()
    stated, year, (first, last) = _season(held, rows)
    odd = rows[(rows["date"] < first) | (rows["date"] > last)]
    if odd.empty:
        return () if stated else (Notice("note", "season-by-dates", _by_dates(season_of(held))),)
    where = f"season {year} ({first} to the end of {last[:7]})"
    if not stated:
        where = f"the season, since most dates are of {year} and none is stated"
    years = sorted(set(odd["date"].str[:4]))
    text = (
        f"Dated outside {where}: {'; '.join(_files(odd))}. Correct the year if it is mistyped; if "
        f"the season is {' or '.join(years)}, set season = {years[0]} in field.toml."
    )
    return (Notice("caution", SEASON, text),)


def _by_dates(season: int) -> str:
    return (
        f"No season is stated: the season record takes {season}, by the dates. Set season = "
        f"{season}, or the year of the harvest if that is another, in field.toml: sheet and pages "
        "then bear it."
    )


def season_days(year: int, *, year_before: bool = False) -> tuple[str, str]:
    """Return the first and the last day of a season, ISO; with the year before where asked."""
    last = f"{year + 1}-{int(constant('record_rules', 'season_runs_on_months')):02d}-31"
    return f"{year - year_before}-01-01", last


def season_first(held: Dated) -> str:
    """Return the first day of the season, ISO: as stated, else of the year that most rows bear."""
    rows = _dates(held)
    return season_days(_season(held, rows)[1])[0] if len(rows) else ""


def not_kept_notices(held: Dated) -> tuple[Notice, ...]:
    """Return a caution where every reading and pit bears a date and none is of the season.

    Such a plan is of another season than the one that is stated, so it is not kept as issued.
    """
    rows, dated = _rows(held), _dates(held)
    if dated.empty or len(dated) < len(rows):
        return ()
    _, year, (first, last) = _season(held, dated)
    if ((dated["date"] >= first) & (dated["date"] <= last)).any():
        return ()
    years = " or ".join(sorted(set(dated["date"].str[:4])))
    text = (
        "The plan is written, but neither it nor its readings and pits are kept in the season "
        f"record: all are dated outside season {year} ({first} to the end of {last[:7]}). Before "
        f"the plan is given out, set season = {years} in field.toml, or correct the dates, and "
        "plan again."
    )
    return (Notice("caution", NOT_KEPT, text),)


def _season(held: Dated, rows: pd.DataFrame) -> tuple[bool, int, tuple[str, str]]:
    """Return whether a season is stated, its year, and its first and last day."""
    stated = held.settings.field.season
    year = stated if stated is not None else int(rows["date"].str[:4].mode().iloc[0])
    return stated is not None, year, season_days(year, year_before=stated is None)


def future_notices(held: Dated) -> tuple[Notice, ...]:
    """Return a caution that names the files with dates later than today by this computer's clock.

    It depends on the day, so it is told and written in no file.
    """
    rows = _dates(held)
    late = rows[rows["date"] > today()]
    if late.empty:
        return ()
    text = f"Dated on a day that is not here yet: {'; '.join(_files(late))}."
    return (Notice("caution", FUTURE, text),)


def withdrawn_after(inputs: FieldInputs) -> pd.DataFrame:
    """Return the pits of after the work that were withdrawn on the review page."""
    pits = inputs.withdrawn if len(inputs.withdrawn) else inputs.pits.iloc[:0]
    after: pd.DataFrame = pits[pits["phase"] == "after"]
    return after


def first_read(held: Dated) -> str:
    """Return the first day of what was read and dug before the work, ISO; blank without dates."""
    before = held.pits[held.pits["phase"] == "before"]
    return min({*before["date"], *held.cone["date"]} - {""}, default="")


def last_read(inputs: FieldInputs) -> tuple[str, str]:
    """Return the last day of the readings and pits of before the work, and what bears it, in words.

    The day is ISO, and blank without dates. A pit dug on a day of pits after the work, and behind
    the first day, does not count: it is what such a pit showed, or ground that was not worked yet.
    """
    pits, first = inputs.pits, first_read(inputs)
    after = {*pits.loc[pits["phase"] == "after", "date"], *withdrawn_after(inputs)["date"]}
    before = pits[(pits["phase"] == "before") & ~pits["date"].isin(after - {first})]
    frames = [
        before.assign(called="pit " + before["pit"])[_NAMED],
        inputs.cone.assign(called="station " + inputs.cone["station"])[_NAMED],
    ]
    rows = pd.concat([frame[frame["date"] != ""] for frame in frames], ignore_index=True)
    if rows.empty:
        return "", ""
    day = str(rows["date"].max())
    last = rows[rows["date"] == day].sort_values(["file", "row"])
    one, count = last.iloc[0], last["called"].nunique()
    named = f"{one['called']} in {one['file']}, row {one['row']}"
    more = f" and {count - 1} more" if count > 1 else ""
    return day, f"the last reading or pit of before the work, {named}{more}"


def _files(rows: pd.DataFrame) -> Iterator[str]:
    """Yield how many rows of each file bear which days."""
    for file, own in rows.groupby("file", sort=True):
        first, last = own["date"].min(), own["date"].max()
        when = first if first == last else f"{first} to {last}"
        page = " (review page)" if file == NAME else ""
        yield f"{file}{page}, {len(own)} row{'' if len(own) == 1 else 's'} of {when}"


def _dates(held: Dated) -> pd.DataFrame:
    """Return ``file, row, date`` of every dated row, each row of a file once."""
    rows = _rows(held)
    dated: pd.DataFrame = rows[rows["date"] != ""]
    return dated


def _rows(held: Dated) -> pd.DataFrame:
    """Return ``file, row, date`` of every row, each row of a file once."""
    after = getattr(held, "cone_after", None)
    frames = [
        frame[["file", "row", "date"]]
        for frame in (held.cone, held.pits, after)
        if frame is not None and "date" in frame
    ]
    rows: pd.DataFrame = pd.concat(frames, ignore_index=True).drop_duplicates()
    return rows
