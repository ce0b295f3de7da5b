"""Parts of a field in which no station or pit answers whether there is a pan: guessed ground."""

from __future__ import annotations

import pandas as pd

GUESSED = "guessed, no station read there"


def unread_parts(parts: pd.DataFrame, stations: pd.DataFrame) -> list[str]:
    """Return the parts in which nothing that is used answers the question, by name.

    Parameters
    ----------
    parts
        ``part``.
    stations
        ``part_used, used, n_known``, pits among them; a bound on the base alone is an answer too.
    """
    answers = stations["used"].astype(bool) & (stations["n_known"] > 0)
    return sorted(set(parts["part"]) - set(stations.loc[answers, "part_used"]))
