"""What speaks against the readings a plan rests on, in order, and beside the rating; the days."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

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
    rating: pd.DataFrame,
    stations: pd.DataFrame,
    insertions: pd.DataFrame,
    left_alone: NDArray[np.bool_],
) -> pd.DataFrame:
    """Add ``answer`` to `rating`: whether to loosen, with what speaks against that answer.

    A pit that found no pan where the legs are lifted out for want of one, and the probe beside it
    none either, does not speak against a yes for the ground that is worked, if a pit was dug there.

    Parameters
    ----------
    rating
        Rows of `zoning.profiles.rate`.
    stations
        ``kind, station, part_used, n_pan, n_known``.
    insertions
        ``station, moisture``.
    left_alone
        Whether each of `stations` lies where the plan lifts the legs out, hazards apart, and no
        probe at its place found otherwise.
    """
    pits = stations[(stations["kind"] == "pit") & (stations["n_known"] > 0)]
    worked = pits[~left_alone[pits.index]]
    weighed = pits if worked.empty else pits[(pits["n_pan"] > 0) | ~left_alone[pits.index]]
    probed = stations[stations["kind"] == "cone"]
    dry = probed["station"].isin(dry_stations(insertions))
    none = 2 * int((weighed["n_pan"] == 0).sum()) > len(weighed)
    answers = []
    for _, row in rating.iterrows():
        whole = row["part"] == WHOLE_FIELD
        bearing = weighed if row["loosen"] == "yes" else pits
        dug = bearing if whole else bearing[bearing["part_used"] == row["part"]]
        here = dry if whole else dry[probed["part_used"] == row["part"]]
        on = " on worked ground" if len(bearing) < len(pits) else ""
        answers.append(_answer(row, dug, dry=_in_dry(here), none=none, on=on))
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


def _answer(row: pd.Series, pits: pd.DataFrame, *, dry: str, none: bool, on: str) -> str:
    """Return the answer of one row; `none` tells that most pits of the field found no pan.

    `on` names the ground of the pits where not all of them count.
    """
    if row["few_points"]:
        return "too few to tell" if row["points"] else ""
    loosen = str(row["loosen"])
    with_pan, dug = int((pits["n_pan"] > 0).sum()), len(pits)
    by = f"by the probe{dry}"
    if loosen == "yes" and 2 * (dug - with_pan) > dug:
        return f"yes {by}; {_pits_say('no', dug - with_pan, dug, on)}"
    if 2 * with_pan > dug and (loosen == "no" or dry):
        return f"{loosen} {by}; {_pits_say('yes', with_pan, dug, on)}"
    if loosen == "yes" and (dry or (none and not dug)):
        return f"yes {by}"
    return loosen


def _pits_say(word: str, count: int, dug: int, on: str) -> str:
    return f"the pit{on} says {word}" if dug == 1 else f"pits{on} say {word} ({count} of {dug})"


def with_days(
    notices: Sequence[Notice],
    stations: pd.DataFrame,
    report: Mapping[str, float | str | bool | None],
) -> tuple[Notice, ...]:
    """Return `notices`, the one on several dates with what the fit takes off the bases of each day.

    Parameters
    ----------
    notices
        What the readings call for.
    stations
        ``kind, date, x_m, y_m, pan_base_cm, censored, used``.
    report
        That of the fit, with ``day_effect_DAY_cm`` and ``day_effect_sd_DAY_cm``.
    """
    read = stations[stations["used"].astype(bool) & stations["pan_base_cm"].notna()]
    cone = read[read["kind"] == "cone"]
    days = [day for day in sorted(set(cone["date"])) if f"day_effect_{day}_cm" in report]
    if len(days) < 2:
        return tuple(notices)
    done = [_done(day, days[0], cone, report) for day in days]
    dug = bool((read["kind"] == "pit").any())
    end = "" if dug else "; no pit sets the level"
    if report.get("days_warning"):
        end += "; how much of it is the day and how much the ground cannot be told"
    said = f" {'By the pits the' if dug else 'The'} plan {named(done)}{end}."
    return tuple(
        replace(notice, text=notice.text + said) if notice.code == SEVERAL_DATES else notice
        for notice in notices
    )


def _done(
    day: str, first: str, cone: pd.DataFrame, report: Mapping[str, float | str | bool | None]
) -> str:
    """Return what the plan does with the bases that the probe read on a day."""
    effect, sd = (float(report[f"day_effect_{name}{day}_cm"] or 0.0) for name in ("", "sd_"))
    bases = f"the bases read on {day}" if day == first else f"those of {day}"
    verb, to = ("takes", "off") if effect > 0 else ("adds", "to")
    did = f"{verb} {abs(effect):.1f} cm {to} {bases}"
    if round(abs(effect), 1) == 0:
        did = f"leaves {bases} as they were read"
    repeats = [] if day == first else _repeats_cm(cone, first, day)
    near = f"{constant('surface_rules', 'day_repeat_m'):g} m"
    again = f"; stations within {near} of one of {first} read {_more(repeats)}" if repeats else ""
    return f"{did} (give or take {sd:.1f} cm{again})"


def _more(repeats_cm: Sequence[float]) -> str:
    """Return by how much repeats read deeper or shallower, in words."""
    if min(repeats_cm) < 0 < max(repeats_cm):
        return f"{', '.join(f'{value:+.1f}' for value in repeats_cm)} cm (+ is deeper)"
    off = "shallower" if min(repeats_cm) < 0 else "deeper"
    return f"{', '.join(f'{abs(value):.1f}' for value in repeats_cm)} cm {off}"


def _repeats_cm(cone: pd.DataFrame, first: str, day: str) -> list[float]:
    """Return how much deeper each station repeated on `day` read than on the `first` day [cm].

    On another part of the field the pan lies at another depth: that is no repeat.
    """
    known = cone[~cone["censored"].astype(bool)]
    before, after = (known[known["date"] == on] for on in (first, day))
    gap_m = np.hypot(
        after["x_m"].to_numpy()[:, None] - before["x_m"].to_numpy(),
        after["y_m"].to_numpy()[:, None] - before["y_m"].to_numpy(),
    )
    same = after["part_used"].to_numpy()[:, None] == before["part_used"].to_numpy()
    late, early = np.nonzero((gap_m <= constant("surface_rules", "day_repeat_m")) & same)
    more = after["pan_base_cm"].to_numpy()[late] - before["pan_base_cm"].to_numpy()[early]
    return sorted(more.tolist())
