"""Whether loosening is called for at all: the survey rating by share of measuring points."""

from __future__ import annotations

import pandas as pd

from zoning.contracts import rows
from zoning.profiles.rules import rule
from zoning.profiles.stations import most_common

WHOLE_FIELD = "whole field"
COLUMNS = ("part", "points", "over_limit", "share", "rating", "loosen", "few_points")


def rate(insertions: pd.DataFrame, parts_of_insertions: pd.Series) -> pd.DataFrame:
    """Rate the field and each part by the share of measuring points over the limit.

    A measuring point is a station; it is over the limit where half or more of its insertions are
    hard anywhere in the top 38 cm (15 inches), stones aside. Insertions without an answer that met
    nothing hard are left out: they did not get deep enough to say.

    Parameters
    ----------
    insertions
        Rows of `zoning.profiles.interpret`.
    parts_of_insertions
        Part of the field that each insertion counts for, on the index of `insertions`.

    Returns
    -------
    DataFrame
        First the whole field, then each part by name: ``shared/schemas/rating.schema.json``.
        Published rating (Duiker 2002, ``shared/tables/survey_rating.csv``): under 30 % little, no;
        30 to under 50 % slight, no; 50 to 75 % moderate, yes; over 75 % severe, yes.

    Raises
    ------
    ValueError
        If the two do not share their index.
    """
    if not parts_of_insertions.index.equals(insertions.index):
        message = "parts_of_insertions must have the index of insertions"
        raise ValueError(message)
    points = _points(insertions, parts_of_insertions)
    groups = [(WHOLE_FIELD, points), *points.groupby("part", sort=True)]
    return pd.DataFrame([_row(str(name), group["over"]) for name, group in groups])[list(COLUMNS)]


def _points(insertions: pd.DataFrame, parts: pd.Series) -> pd.DataFrame:
    """Return one row a station: ``part, over`` (NaN where no insertion can say).

    A station whose insertions count for several parts belongs to the most common of them.
    """
    over = insertions["over_limit_38"].astype(bool)
    says = over | insertions["verdict"].ne("unusable")
    table = pd.DataFrame(
        {"station": insertions["station"], "part": parts, "over": over.astype(float).where(says)}
    )
    return table.groupby("station").agg(part=("part", most_common), over=("over", "mean"))


def _row(part: str, over: pd.Series) -> dict[str, object]:
    known = over.dropna()
    count, passed = len(known), int((known >= 0.5).sum())
    rating, loosen = rated(passed, count)
    return {
        "part": part,
        "points": count,
        "over_limit": passed,
        "share": passed / count if count else float("nan"),
        "rating": rating,
        "loosen": loosen,
        "few_points": count < rule("survey_points_min"),
    }


def rated(passed: int, count: int) -> tuple[str, str]:
    """Return the published rating and decision; blank where there is no measuring point.

    The limits 30 and 50 % belong to the upper class, 75 % to the lower one: the table reads under
    30, 30 to 50, 50 to 75, over 75, and half the points or more call for loosening (Kentucky).
    """
    if count == 0:
        return "", ""
    percent = 100.0 * passed / count
    table = rows("survey_rating")
    chosen = table[0]
    for row in table[1:]:
        start = float(row["share_from_pct"])
        if percent > start or (percent == start and row["rating"] != "severe"):
            chosen = row
    return chosen["rating"], chosen["loosen"]
