"""A station probed on several days: one station a day, so that no push bears another's date."""

from __future__ import annotations

import pandas as pd

from zoning.model import Notice
from zoning.readings.rules import listed


def station_a_day(frame: pd.DataFrame) -> tuple[pd.DataFrame, list[Notice]]:
    """Part stations that were probed on several days into a station of its own for each day.

    The first day keeps the name, with the insertions that bear no date; a later day has the date
    behind it. So the readings of two days at one place are kept apart by their dates, which tells
    what the day did to them.

    Parameters
    ----------
    frame
        Readings with ``station, insertion_id, date`` (ISO text or blank).

    Returns
    -------
    tuple
        The frame, ``station`` and ``insertion_id`` renamed where a later day is meant; a note that
        names the stations if any was parted.
    """
    day = frame.groupby("insertion_id")["date"].transform("max")
    stated = day.where(day != "")
    later = stated > stated.groupby(frame["station"]).transform("min")
    if not later.any():
        return frame, []
    name = frame["station"].where(~later, frame["station"] + " (" + day + ")")
    push = name + "/" + frame["insertion"].astype(str)
    words = (
        f"Probed on several days, so each later day is a station of its own: "
        f"{listed(sorted(set(name[later])))}."
    )
    told = Notice("note", "station-a-day", words)
    return frame.assign(station=name, insertion_id=push), [told]
