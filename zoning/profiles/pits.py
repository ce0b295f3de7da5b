"""Pits as stations: what the spade saw outranks the probe."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from zoning.contracts import constant
from zoning.profiles.rules import rule

_SURFACE = "surface_rules"


def pit_stations(pits: pd.DataFrame) -> pd.DataFrame:
    """Return the pits dug before the work as rows of the stations frame.

    A pit that gives a base shows a pan, also where ``pan`` is blank; one that says there is none
    is believed, and depths given beside it are not used.
    """
    before = pits[pits["phase"].astype(str).str.lower().ne("after")].reset_index(drop=True)
    has_base = before["pan_base_cm"].notna()
    pan = before["pan"].eq("yes") | (before["pan"].ne("no") & has_base)
    known = pan | before["pan"].eq("no")
    base = before["pan_base_cm"].where(pan)
    return pd.DataFrame(
        {
            "station": before["pit"],
            "kind": "pit",
            **{name: before[name] for name in ("x_m", "y_m", "lon", "lat", "date", "part")},
            "n_insertions": 0,
            "n_pan": pan.astype(int),
            "n_known": known.astype(int),
            "verdict": np.select([pan, known], ["pan", "no_pan"], "unusable"),
            "pan_top_cm": before["pan_top_cm"].where(pan),
            "pan_base_cm": base,
            "base_spread_cm": np.nan,
            "error_sd_cm": np.where(base.notna(), rule("pit_error_sd_cm"), np.nan),
            "censored": False,
            "used": known,
            "reason": _reasons(before, pan, known),
        }
    )


def _reasons(before: pd.DataFrame, pan: pd.Series, known: pd.Series) -> list[str]:
    depths = before["pan_base_cm"].notna() | before["pan_top_cm"].notna()
    cases = [
        ~known,
        before["pan"].eq("no") & depths,
        ~pan,
        pan & before["pan_base_cm"].isna(),
        before["pan"].ne("yes"),
    ]
    texts = [
        "The pit does not say whether there is a pan.",
        "Pit without a pan; the pan depths noted beside it were not used.",
        "Pit without a pan.",
        "Pit with a pan, its base not noted: it counts only for where there is a pan.",
        "Pit; taken as showing a pan, because the depth of a base is given.",
    ]
    return list(np.select(cases, texts, "Pit with a pan."))


def findings(pits: pd.DataFrame) -> pd.Series:
    """Return what each pit dug before the work found, in words, by its name.

    Parameters
    ----------
    pits
        Rows of the pits as read.
    """
    dug = pit_stations(pits)
    score = pits.loc[pits["phase"].astype(str).str.lower().ne("after"), "structure_score"]
    words = [
        ("no pan" if verdict == "no_pan" else "pan")
        + (f", base {base:.0f} cm" if np.isfinite(base) else "")
        + (f", structure score {points:g}" if np.isfinite(points) else "")
        for verdict, base, points in zip(
            dug["verdict"], dug["pan_base_cm"], score.astype(float), strict=True
        )
    ]
    named = pd.Series(words, index=dug["station"].to_numpy(), dtype=object)
    return named[~named.index.duplicated()]


def at_pit(cone: pd.DataFrame, pits: pd.DataFrame) -> pd.Series:
    """Return the nearest pit that stands at the place of each cone station; blank without one.

    That is within ``pit_outranks_m``, unless both parts of the field were noted and differ.

    Parameters
    ----------
    cone, pits
        Rows of the stations frame; a pit that is not used stands nowhere.
    """
    telling = pits[pits["used"]]
    at = _place(cone, telling)
    names = np.append(telling["station"].to_numpy(dtype=object), "")
    return pd.Series(names[at], index=cone.index, dtype=object)


def several_days(cone: pd.DataFrame) -> bool:
    """Return whether bases were read with the cone on more than one day."""
    date = cone.loc[cone["pan_base_cm"].notna(), "date"].astype(str)
    return len(set(date) - {"", "nan", "None", "NaT"}) > 1


def outranked(cone: pd.DataFrame, pits: pd.DataFrame, *, days: bool) -> pd.DataFrame:
    """Return what of each cone station the pit at its place says otherwise.

    What the spade saw outranks the probe where they differ; where both say the same each is a
    witness. Bases differ where they lie further apart than ``pit_agrees_sds`` of their errors; the
    effect of the day counts among these where `days` differ, as the surface takes it off.

    Parameters
    ----------
    cone, pits
        Rows of the stations frame.
    days
        As of `several_days`, for the whole field.

    Returns
    -------
    DataFrame
        ``pit`` (blank where there is none or both say the same) and ``base`` (bool: it differs in
        the base alone, not in whether there is a pan), rows as of `cone`.
    """
    telling = pits[pits["used"]]
    at = _place(cone, telling)
    here = at >= 0
    dug = telling.iloc[np.where(here, at, 0)] if len(telling) else telling.reindex(cone.index)
    shows = (cone["n_pan"] > 0) & (2 * cone["n_pan"] >= cone["n_known"])
    answers = here & (cone["n_known"] > 0).to_numpy()
    pan = answers & (shows.to_numpy() != (dug["n_pan"] > 0).to_numpy())
    base = answers & ~pan & _bases_differ(cone, dug, constant(_SURFACE, "day_sd_cm") * days)
    name = np.where(pan | base, dug["station"].to_numpy(dtype=object), "")
    return pd.DataFrame({"pit": name, "base": base}, index=cone.index)


def heard(stations: pd.DataFrame) -> pd.DataFrame:
    """Return the stations that the surface hears: those used, and what of others stands.

    A station that a pit outranks for its base alone still says that there is a pan.

    Parameters
    ----------
    stations
        As `zoning.profiles.join_stations` gives them.
    """
    used = stations[stations["used"]]
    cone = stations[(stations["kind"] == "cone") & ~stations["used"]]
    days = several_days(stations[stations["kind"] == "cone"])
    told = cone[outranked(cone, used[used["kind"] == "pit"], days=days)["base"]]
    if told.empty:
        return used
    only_pan = told.assign(used=True, pan_base_cm=np.nan, error_sd_cm=np.nan, censored=False)
    return pd.concat([used, only_pan])


def _bases_differ(cone: pd.DataFrame, dug: pd.DataFrame, day_sd_cm: float) -> NDArray[np.bool_]:
    """Return where the base of a pit is not that of the probe; below a bound none does."""
    apart = dug["pan_base_cm"].to_numpy(dtype=float) - cone["pan_base_cm"].to_numpy(dtype=float)
    errors = [table["error_sd_cm"].to_numpy(dtype=float) for table in (cone, dug)]
    most = rule("pit_agrees_sds") * np.hypot(np.hypot(*errors), day_sd_cm)
    below = cone["censored"].to_numpy(dtype=bool) & (apart > 0)
    return np.asarray((np.abs(apart) > most) & ~below)


def _place(cone: pd.DataFrame, telling: pd.DataFrame) -> NDArray[np.int64]:
    """Return the row of the pit at the place of each cone station, -1 where there is none."""
    if telling.empty or cone.empty:
        return np.full(len(cone), -1, dtype=np.int64)
    gap = np.hypot(
        cone["x_m"].to_numpy()[:, None] - telling["x_m"].to_numpy(),
        cone["y_m"].to_numpy()[:, None] - telling["y_m"].to_numpy(),
    )
    part, pit_part = (t["part"].to_numpy(dtype=object) for t in (cone, telling))
    elsewhere = (part[:, None] != pit_part) & (part[:, None] != "") & (pit_part != "")
    gap = np.where(elsewhere, np.inf, gap)
    nearest = gap.argmin(axis=1)
    return np.where(gap.min(axis=1) <= rule("pit_outranks_m"), nearest, -1)
