"""Readings and pits whose dates do not fit the season: a forgotten season, a mistyped year."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Protocol

import pandas as pd

from zoning.contracts import constant
from zoning.model import Notice, Settings
from zoning.records import NAME

SEASON = "dates-outside-season"
FUTURE = "dates-not-here-yet"
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


def today() -> str:
    """Return the day by the clock of this computer, ISO."""
    return datetime.now().astimezone().date().isoformat()


def season_notices(held: Dated) -> tuple[Notice, ...]:
    """Return a caution that names the files with readings or pits dated outside the season.

    A season runs from 1 January of its year, the year of the harvest, into the next year by
    ``season_runs_on_months``: loosening and digging may wait for the winter. Where no season is
    stated, the year that most rows bear counts, with the year before.
    """
    rows = _dates(held)
    if rows.empty:
        return ()
    stated = held.settings.field.season
    year = stated if stated is not None else int(rows["date"].str[:4].mode().iloc[0])
    first = f"{year if stated is not None else year - 1}-01-01"
    last = f"{year + 1}-{int(constant('record_rules', 'season_runs_on_months')):02d}-31"
    odd = rows[(rows["date"] < first) | (rows["date"] > last)]
    if odd.empty:
        return ()
    where = f"season {year} ({first} to the end of {last[:7]})"
    if stated is None:
        where = f"the season, since most dates are of {year} and none is stated"
    years = sorted(set(odd["date"].str[:4]))
    text = (
        f"Dated outside {where}: {'; '.join(_files(odd))}. Correct the year if it is mistyped; if "
        f"the season is {' or '.join(years)}, set season = {years[0]} in field.toml."
    )
    return (Notice("caution", SEASON, text),)


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


def last_read(held: Dated) -> tuple[str, str]:
    """Return the last day of the readings and pits of before the work, and what bears it, in words.

    The day is ISO, and blank without dates.
    """
    before = held.pits[held.pits["phase"] == "before"]
    frames = [
        before.assign(called="pit " + before["pit"])[_NAMED],
        held.cone.assign(called="station " + held.cone["station"])[_NAMED],
    ]
    rows = pd.concat([frame[frame["date"] != ""] for frame in frames], ignore_index=True)
    if rows.empty:
        return "", ""
    day = str(rows["date"].max())
    last = rows[rows["date"] == day].sort_values(["file", "row"])
    first, count = last.iloc[0], last["called"].nunique()
    named = f"{first['called']} in {first['file']}, row {first['row']}"
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
    """Return ``file, date`` of every dated row, each row of a file once."""
    after = getattr(held, "cone_after", None)
    frames = [
        frame[["file", "row", "date"]]
        for frame in (held.cone, held.pits, after)
        if frame is not None and "date" in frame
    ]
    rows = pd.concat(frames, ignore_index=True).drop_duplicates()
    dated: pd.DataFrame = rows[rows["date"] != ""]
    return dated
