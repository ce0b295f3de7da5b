"""Readings and pits whose dates do not fit the season: a forgotten season, a mistyped year."""

from __future__ import annotations

from datetime import datetime
from typing import Protocol

import pandas as pd

from zoning.contracts import constant
from zoning.model import Notice, Settings

SEASON = "dates-outside-season"
FUTURE = "dates-not-here-yet"


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
    """Return a caution for each file with readings or pits dated outside the season.

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
    return tuple(
        _notice(str(file), own["date"], stated, year, (first, last))
        for file, own in odd.groupby("file", sort=True)
    )


def _notice(
    file: str, dates: pd.Series, stated: int | None, year: int, span: tuple[str, str]
) -> Notice:
    most = f"Most dates are of {year}, and no season is stated"
    held = f"season {year} runs from {span[0]} to {span[1][:7]}" if stated is not None else most
    years = " or ".join(sorted({date[:4] for date in dates}))
    remedy = (
        f"Correct the year if it is mistyped; if the season is {years}, set season = {years[:4]} "
        "in field.toml."
    )
    text = f"{_rows(file, dates)}: {held[:1].lower()}{held[1:]}. {remedy}"
    return Notice("caution", SEASON, text)


def future_notices(held: Dated) -> tuple[Notice, ...]:
    """Return a caution for each file with dates later than today by the clock of this computer.

    It depends on the day, so it is told and written in no file.
    """
    rows = _dates(held)
    late = rows[rows["date"] > today()]
    return tuple(
        Notice("caution", FUTURE, f"{_rows(str(file), own['date'])}: that day is not here yet.")
        for file, own in late.groupby("file", sort=True)
    )


def _rows(file: str, dates: pd.Series) -> str:
    """Return how many rows of a file bear which days."""
    days = sorted(set(dates))
    when = days[0] if len(days) == 1 else f"{days[0]} to {days[-1]}"
    many = f"{len(dates)} row{' is' if len(dates) == 1 else 's are'}"
    return f"{file}: {many} dated {when}"


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
