"""What speaks against the readings a plan rests on, in order, and beside the rating; the days."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from zoning.contracts import constant
from zoning.model import Notice
from zoning.profiles.rating import WHOLE_FIELD
from zoning.workflow.disagree import BASE_NOT_FOLLOWED, named

DRY, SEVERAL_DATES = "readings-dry", "several-dates"
PITS_AGAINST, PIT_ODD = "pits-against-probe", "pit-against-probe"
BESIDE_RATING = ("few-stations", PITS_AGAINST, DRY, "loosening-not-called-for")
"""Cautions that the answer of the rating cannot be read without, the gravest first."""
EVIDENCE = (
    *BESIDE_RATING, PIT_ODD, "no-base-read", "days-and-places", "soil-plastic", "readings-wet",
    "base-doubted", "worked-without-pan", "soil-dry", "further-hard-layer", BASE_NOT_FOLLOWED,
    SEVERAL_DATES, "dates-missing",
)  # fmt: skip
"""What bears on whether the readings hold, by weight: it is told before what the machine does."""


def with_answers(
    rating: pd.DataFrame, stations: pd.DataFrame, insertions: pd.DataFrame
) -> pd.DataFrame:
    """Add ``answer`` to `rating`: whether to loosen, with what speaks against that answer.

    Parameters
    ----------
    rating
        Rows of `zoning.profiles.rate`.
    stations
        ``kind, station, part_used, n_pan, n_known``.
    insertions
        ``station, moisture``.
    """
    pits = stations[(stations["kind"] == "pit") & (stations["n_known"] > 0)]
    probed = stations[stations["kind"] == "cone"]
    dry = probed["station"].isin(dry_stations(insertions))
    none = 2 * int((pits["n_pan"] == 0).sum()) > len(pits)
    answers = []
    for _, row in rating.iterrows():
        whole = row["part"] == WHOLE_FIELD
        dug = pits if whole else pits[pits["part_used"] == row["part"]]
        here = dry if whole else dry[probed["part_used"] == row["part"]]
        answers.append(_answer(row, dug, dry=_in_dry(here), none=none))
    return rating.assign(answer=answers)


def _in_dry(dry: pd.Series) -> str:
    """Return the words on readings of which so many were of `dry` soil; nothing where few were."""
    share = float(dry.mean()) if len(dry) else 0.0
    if share < constant("profile_rules", "dry_share"):
        return ""
    return " in dry soil" if share == 1 else ", partly in dry soil"


def dry_stations(insertions: pd.DataFrame) -> list[str]:
    """Return the stations noted as dry."""
    said = insertions["moisture"].astype(str).str.strip().str.lower() == "dry"
    return sorted(set(insertions.loc[said, "station"]))


def _answer(row: pd.Series, pits: pd.DataFrame, *, dry: str, none: bool) -> str:
    """Return the answer of one row; `none` tells that most pits of the field found no pan."""
    if row["few_points"]:
        return "too few to tell" if row["points"] else ""
    loosen = str(row["loosen"])
    with_pan, dug = int((pits["n_pan"] > 0).sum()), len(pits)
    by = f"by the probe{dry}"
    if loosen == "yes" and 2 * (dug - with_pan) > dug:
        return f"yes {by}; {_pits_say('no', dug - with_pan, dug)}"
    if 2 * with_pan > dug and (loosen == "no" or dry):
        return f"{loosen} {by}; {_pits_say('yes', with_pan, dug)}"
    if loosen == "yes" and (dry or (none and not dug)):
        return f"yes {by}"
    return loosen


def _pits_say(word: str, count: int, dug: int) -> str:
    return f"the pit says {word}" if dug == 1 else f"pits say {word} ({count} of {dug})"


def with_days(
    notices: Sequence[Notice],
    stations: pd.DataFrame,
    report: Mapping[str, float | str | bool | None],
) -> tuple[Notice, ...]:
    """Return `notices`, the one on several dates with how far the days differ by the fit.

    Parameters
    ----------
    notices
        What the readings call for.
    stations
        ``kind, date, x_m, y_m, pan_base_cm, censored, used``.
    report
        That of the fit, with ``day_effect_DAY_cm``.
    """
    effects = _day_effects(stations, report)
    told = [
        _day(day, effect, effects, _repeats_cm(stations, next(iter(effects)), day))
        for day, effect in list(effects.items())[1:]
    ]
    if not told:
        return tuple(notices)
    unknown = "how much of it is the day and how much the ground cannot be told"
    end = unknown if report.get("days_warning") else "the plan allows for it"
    said = f" The pan base was read {named(told)}; {end}."
    return tuple(
        replace(notice, text=notice.text + said) if notice.code == SEVERAL_DATES else notice
        for notice in notices
    )


def _day_effects(
    stations: pd.DataFrame, report: Mapping[str, float | str | bool | None]
) -> dict[str, float]:
    """Return the effect of each day on which the probe read a base [cm], the days in order."""
    used = stations["used"].astype(bool) & (stations["kind"] == "cone")
    days = sorted(set(stations.loc[used & stations["pan_base_cm"].notna(), "date"]))
    found = {day: report.get(f"day_effect_{day}_cm") for day in days}
    return {day: float(effect) for day, effect in found.items() if effect is not None}


def _day(day: str, effect: float, effects: Mapping[str, float], repeats_cm: list[float]) -> str:
    first = next(iter(effects))
    more = effect - effects[first]
    listed = ", ".join(f"{value:+.1f}" for value in repeats_cm)
    again = f" (repeated stations {listed} cm)" if listed else ""
    if round(abs(more), 1) == 0:
        return f"as deep on {day} as on {first}{again}"
    word = "deeper" if more > 0 else "shallower"
    return f"{abs(more):.1f} cm {word} on {day} than on {first}{again}"


def _repeats_cm(stations: pd.DataFrame, first: str, day: str) -> list[float]:
    """Return how much deeper each station repeated on `day` read than on the `first` day [cm]."""
    known = stations[stations["used"].astype(bool) & (stations["kind"] == "cone")]
    known = known[known["pan_base_cm"].notna() & ~known["censored"].astype(bool)]
    before, after = (known[known["date"] == on] for on in (first, day))
    gap_m = np.hypot(
        after["x_m"].to_numpy()[:, None] - before["x_m"].to_numpy(),
        after["y_m"].to_numpy()[:, None] - before["y_m"].to_numpy(),
    )
    late, early = np.nonzero(gap_m <= constant("surface_rules", "day_repeat_m"))
    more = after["pan_base_cm"].to_numpy()[late] - before["pan_base_cm"].to_numpy()[early]
    return sorted(more.tolist())
