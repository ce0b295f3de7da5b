"""Pits as stations: what the spade saw outranks the probe."""

from __future__ import annotations

import numpy as np
import pandas as pd

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
    over = pd.Series("", index=cone.index)
    telling = pits[pits["used"]]
    if telling.empty or cone.empty:
        return over
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
    return over.mask(close, telling["station"].to_numpy()[nearest])
