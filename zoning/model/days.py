"""The day of a probe reading: what the plan takes off its base, or adds to it."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd


def taken_base_cm(
    stations: pd.DataFrame, report: Mapping[str, float | str | bool | None]
) -> pd.Series:
    """Return the base that the plan goes by where it allows for the day [cm], NaN elsewhere.

    A pit is read with the spade and has no such day.

    Parameters
    ----------
    stations
        ``kind, date, pan_base_cm, used``.
    report
        That of the fit, with ``day_effect_DAY_cm`` where several days were told apart.
    """
    days = [report.get(f"day_effect_{day}_cm") for day in stations["date"]]
    effect_cm = pd.Series(days, index=stations.index, dtype=float)
    probed = (stations["kind"] == "cone") & stations["used"].astype(bool)
    return (stations["pan_base_cm"] - effect_cm).where(probed)
