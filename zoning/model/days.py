"""The day of a probe reading: what the plan takes off its base, or adds to it."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

Report = Mapping[str, float | str | bool | None]


def day_effect_cm(stations: pd.DataFrame, report: Report) -> pd.Series:
    """Return what the day adds to the base that the probe read [cm], NaN where no day is told.

    A pit is read with the spade and has no such day.

    Parameters
    ----------
    stations
        ``kind, date``.
    report
        That of the fit, with ``day_effect_DAY_cm`` where several days were told apart.
    """
    days = [report.get(f"day_effect_{day}_cm") for day in stations["date"]]
    effect_cm = pd.Series(days, index=stations.index, dtype=float)
    return effect_cm.where(stations["kind"] == "cone")


def taken_base_cm(stations: pd.DataFrame, report: Report) -> pd.Series:
    """Return the base that the plan goes by where it allows for the day [cm], NaN elsewhere.

    Parameters
    ----------
    stations
        As `day_effect_cm` takes them, with ``pan_base_cm, used``.
    report
        That of the fit.
    """
    taken_cm = stations["pan_base_cm"] - day_effect_cm(stations, report)
    return taken_cm.where(stations["used"].astype(bool))
