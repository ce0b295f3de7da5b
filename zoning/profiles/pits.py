"""Pits as stations: what the spade saw outranks the probe."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from zoning.profiles.rules import rule


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


def outranked(cone: pd.DataFrame, pits: pd.DataFrame) -> pd.Series:
    """Return the pit that stands in for each cone station; blank where there is none.

    A pit outranks a station within ``pit_outranks_m``, unless both parts of the field were noted
    and differ, and unless the pit saw a pan without noting its base and the probe saw one too.
    """
    telling = pits[pits["used"]]
    at = _standing_in(cone, telling)
    names = np.append(telling["station"].to_numpy(dtype=object), "")
    return pd.Series(names[at], index=cone.index, dtype=object)


def agreeing(cone: pd.DataFrame, pit_pan: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Return how many insertions of each station say of the pan what the pit at its place says.

    Parameters
    ----------
    cone
        Cone stations, with ``n_pan, n_known``.
    pit_pan
        Whether the pit at the place of each shows a pan.
    """
    with_pan, known = (cone[name].to_numpy(dtype=np.int64) for name in ("n_pan", "n_known"))
    return np.where(pit_pan, with_pan, known - with_pan)


def heard(stations: pd.DataFrame) -> pd.DataFrame:
    """Return the stations that are used, each pit with what the probe at its place says as well.

    What the spade saw outranks the probe, and a place where both say the same is told twice: the
    insertions of an outranked station that agree with the pit on the pan are another witness.

    Parameters
    ----------
    stations
        As `zoning.profiles.join_stations` gives them.

    Returns
    -------
    DataFrame
        The rows used, with ``beside``: the agreeing insertions of each station outranked, a tuple
        of numbers, empty where there is none.
    """
    used = stations[stations["used"]]
    cone = stations[(stations["kind"] == "cone") & ~stations["used"] & (stations["n_known"] > 0)]
    pits = used[used["kind"] == "pit"]
    at = _standing_in(cone, pits)
    cone, at = cone[at >= 0], at[at >= 0]
    counts = agreeing(cone, pits["n_pan"].to_numpy()[at] > 0)
    told = pd.Series(counts).groupby(pits.index[at]).agg(tuple).to_dict()
    return used.assign(beside=[told.get(row, ()) for row in used.index])


def _standing_in(cone: pd.DataFrame, telling: pd.DataFrame) -> NDArray[np.int64]:
    """Return the row of the pit that stands in for each cone station, -1 where there is none."""
    if telling.empty or cone.empty:
        return np.full(len(cone), -1, dtype=np.int64)
    gap = np.hypot(
        cone["x_m"].to_numpy()[:, None] - telling["x_m"].to_numpy(),
        cone["y_m"].to_numpy()[:, None] - telling["y_m"].to_numpy(),
    )
    part, pit_part = (t["part"].to_numpy(dtype=object) for t in (cone, telling))
    elsewhere = (part[:, None] != pit_part) & (part[:, None] != "") & (pit_part != "")
    no_base = (telling["n_pan"] > 0).to_numpy() & telling["pan_base_cm"].isna().to_numpy()
    leaves = no_base & (cone["n_pan"] > 0).to_numpy()[:, None]
    gap = np.where(elsewhere | leaves, np.inf, gap)
    nearest = gap.argmin(axis=1)
    close = gap.min(axis=1) <= rule("pit_outranks_m")
    return np.where(close, nearest, -1)
