"""Before and after at one place, and in one zone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from zoning.checks.rules import rule
from zoning.checks.words import pits_named
from zoning.model import Notice
from zoning.model.names import by_name, in_numbers

COLUMNS = (
    "by", "what", "zone", "depth_cm", "name_before", "name_after", "apart_m", "before", "after",
    "change", "date_before", "date_after", "moisture_before", "moisture_after",
)  # fmt: skip
THICKNESS = "pan_thickness_cm"
PIT_MEASURES = ("pan", THICKNESS, "structure_score")
RESISTANCE = "resistance_mpa"


def pit_measures(pits: pd.DataFrame) -> pd.DataFrame:
    """Return pits with what can be compared: ``name, pan`` (1, 0), ``pan_thickness_cm``, score.

    A pit without a pan has a pan of thickness 0; one with a pan has a thickness only where its top
    and its base were noted. A blank stays unknown.
    """
    seen = pits["pan"].map({"yes": 1.0, "no": 0.0}).astype(float)
    noted = (pits["pan_base_cm"] - pits["pan_top_cm"]).clip(lower=0.0)
    thick = noted.where(seen != 0.0, 0.0)
    return pits.assign(name=pits["pit"], pan=seen, pan_thickness_cm=thick)


def resistance(cone: pd.DataFrame, stations: pd.DataFrame) -> pd.DataFrame:
    """Return cone stations with the mean resistance of the layer that was worked.

    Parameters
    ----------
    cone
        One row a reading.
    stations
        ``station, zone, depth_cm, x_m, y_m, part, date, moisture``.

    Returns
    -------
    DataFrame
        `stations` with ``name`` and ``resistance_mpa``: mean of the readings from
        ``resistance_top_cm`` to the planned depth, insertion by insertion, then over the
        insertions [MPa]; NaN where nothing was planned or read.
    """
    deepest = cone["station"].map(stations.set_index("station")["depth_cm"])
    held = (cone["depth_cm"] >= rule("resistance_top_cm")) & (cone["depth_cm"] <= deepest)
    known = cone[held & (cone["cone_index_mpa"] > 0)]
    by_push = known.groupby(["station", "insertion_id"])["cone_index_mpa"].mean()
    mean = by_push.groupby("station").mean()
    return stations.assign(
        name=stations["station"], resistance_mpa=stations["station"].map(mean).astype(float)
    )


def comparable(judged: pd.DataFrame) -> NDArray[np.bool_]:
    """Return which after-pits tell what the work did.

    Not those that judge no work, a missed strip, nor a pit whose *no pan* or depths are in doubt.

    Parameters
    ----------
    judged
        Rows of `zoning.checks.judge_pits`.
    """
    out = judged["verdict"].isin(("not_judged", "not_worked")) | _doubted(judged)
    return np.asarray(~out, dtype=np.bool_)


def shows_work(dug: str, done: str, first: str) -> bool:
    """Return whether a pit of before shows what the work left at its place.

    Parameters
    ----------
    dug, done
        Day of the pit, and of one after the work at its place, ISO; blank where not known.
    first
        Day of the first reading or pit of before. Where that is `done` too, the field was read,
        worked and dug in one day, and a pit of that day may be of before.
    """
    return bool(dug and done) and (dug > done or (dug == done and first < done))


def pits_of_after(before: pd.DataFrame, judged: pd.DataFrame, first: str) -> NDArray[np.bool_]:
    """Return which pits of phase before show what the work left, so that a plan can go by them.

    Parameters
    ----------
    before
        ``x_m, y_m, part, date``.
    judged
        Rows of `zoning.checks.judge_pits`; one that is not judged says nothing of this work.
    first
        Day of the first reading or pit of before, as of `shows_work`.
    """
    left = _left_by_work(before, judged[judged["verdict"] != "not_judged"], first)
    return np.asarray(left.any(axis=1), dtype=np.bool_)


def further_rows(before: pd.DataFrame, after: pd.DataFrame, first: str) -> NDArray[np.bool_]:
    """Return which pits of phase before are a further row of a pit after the work.

    Such a row gives a plan the base that the pit showed, so it has the pit's place, part and day.
    It is one where the pit was withdrawn since, too: the pit still tells when the work was done.

    Parameters
    ----------
    before, after
        ``x_m, y_m, part, date``.
    first
        Day of the first reading or pit of before, as of `shows_work`.
    """
    days = (frame["date"].to_numpy(dtype=object) for frame in (before, after))
    of_that_day = np.asarray(np.equal.outer(*days), dtype=np.bool_)
    left = _left_by_work(before, after, first) & of_that_day
    return np.asarray(left.any(axis=1), dtype=np.bool_)


def _left_by_work(before: pd.DataFrame, after: pd.DataFrame, first: str) -> NDArray[np.bool_]:
    """Return which pits of before, at rows, show what the work left by which of after."""
    _, near = _near(before, after)
    late = [[shows_work(dug, day, first) for day in after["date"]] for dug in before["date"]]
    return np.asarray(near & np.array(late, dtype=bool).reshape(near.shape), dtype=np.bool_)


def pairs_notices(
    judged: pd.DataFrame, compared: pd.DataFrame, late: Sequence[str] = ()
) -> tuple[Notice, ...]:
    """Return which pits stay out of before and after: doubted, or where nothing is of before.

    Parameters
    ----------
    judged
        Rows of `zoning.checks.judge_pits`.
    compared
        Rows of `paired`.
    late
        Names of the `pits_of_after`.
    """
    out = _doubted(judged) & (judged["verdict"] != "not_judged")
    by_zone = compared[(compared["by"] == "zone") & compared["what"].isin(PIT_MEASURES)]
    alone = comparable(judged) & (judged["depth_cm"] > 0) & ~judged["zone"].isin(by_zone["zone"])
    doubted, single = (judged.loc[own, "pit"].tolist() for own in (out, alone))
    found = []
    if late:
        text = (
            f"Before and after leave out {pits_named(late)} of phase before, dug at the place of a "
            "pit after the work on its day or later: that is what the work left."
        )
        found.append(Notice("note", "check-pairs-late", text))
    if doubted:
        text = (
            f"Before and after leave out {pits_named(doubted)}: what was noted there is in doubt, "
            "as said of each, so it shows no change."
        )
        found.append(Notice("note", "check-pairs-doubted", text))
    if single and len(by_zone):
        text = (
            f"Before and after by zone say nothing of the ground of {pits_named(single)}: there "
            "nothing was noted both before and after."
        )
        found.append(Notice("note", "check-pairs-alone", text))
    return tuple(found)


def _doubted(judged: pd.DataFrame) -> pd.Series:
    return (judged["verdict"] == "questioned") | (judged["asked"] == "no_pan")


def off_missed_strips(stations: pd.DataFrame, pits: pd.DataFrame) -> pd.DataFrame:
    """Return the stations that do not lie at a pit which showed a missed strip.

    Parameters
    ----------
    stations
        ``x_m, y_m``.
    pits
        Rows of `zoning.checks.judge_pits`; within ``pair_place_m`` both are at one place.
    """
    missed = pits.loc[pits["verdict"] == "not_worked", ["x_m", "y_m"]].to_numpy(dtype=float)
    places = stations[["x_m", "y_m"]].to_numpy(dtype=float)
    apart = np.hypot(*(places[:, None, :] - missed[None, :, :]).transpose(2, 0, 1))
    off: pd.DataFrame = stations[~(apart <= rule("pair_place_m")).any(axis=1)]
    return off


def paired(before: pd.DataFrame, after: pd.DataFrame, measures: Sequence[str]) -> pd.DataFrame:
    """Return each measure before and after, by place and by zone.

    Parameters
    ----------
    before, after
        ``name, zone, depth_cm`` (planned there, 0 lifted out) ``, x_m, y_m, part, date, moisture``
        and the measures.
    measures
        Columns to compare.

    Returns
    -------
    DataFrame
        `COLUMNS`. ``by`` is ``place`` (each used once and with one partner for every measure, at
        most ``pair_place_m`` apart, not where both note a part of the field and the parts differ,
        so paired that as many as possible are paired at the least total distance) or ``zone``
        (means of each zone with both; of the thickness the mean of the pans that were found).
        ``zone`` and ``depth_cm`` are those of after the work.
    """
    rows = [*_by_place(before, after, measures), *_by_zone(before, after, measures)]
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _by_place(
    before: pd.DataFrame, after: pd.DataFrame, measures: Sequence[str]
) -> Iterator[dict[str, object]]:
    old, new = (
        by_name(side[side[list(measures)].notna().any(axis=1)], "name") for side in (before, after)
    )
    matched = [(old.iloc[[i]], new.iloc[[j]], apart) for i, j, apart in _matched(old, new)]
    for what in measures:
        for one, other, apart in matched:
            if one[what].notna().all() and other[what].notna().all():
                yield _row("place", what, one, other, apart)


def _matched(before: pd.DataFrame, after: pd.DataFrame) -> list[tuple[int, int, float]]:
    if before.empty or after.empty:
        return []
    gap, allowed = _near(before, after)
    # A pair that is not allowed costs more than all that are: as many as possible are paired.
    cost: NDArray[np.float64] = np.where(allowed, gap, rule("pair_place_m") * (gap.size + 1.0))
    return [
        (int(i), int(j), float(gap[i, j]))
        for i, j in zip(*linear_sum_assignment(cost), strict=True)
        if allowed[i, j]
    ]


def _near(
    before: pd.DataFrame, after: pd.DataFrame
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Return how far each lies from each [m], and whether both are at one place."""
    gap = np.hypot(
        *(
            before[axis].to_numpy(float)[:, None] - after[axis].to_numpy(float)
            for axis in ("x_m", "y_m")
        )
    )
    part, own = (frame["part"].to_numpy(dtype=object) for frame in (before, after))
    differ = (part[:, None] != own) & (part[:, None] != "") & (own != "")
    return gap, np.asarray((gap <= rule("pair_place_m")) & ~differ, dtype=np.bool_)


def _by_zone(
    before: pd.DataFrame, after: pd.DataFrame, measures: Sequence[str]
) -> Iterator[dict[str, object]]:
    for what in measures:
        old, new = before[before[what].notna()], after[after[what].notna()]
        for zone in sorted(set(old["zone"]) & set(new["zone"])):
            yield _row("zone", what, old[old["zone"] == zone], new[new["zone"] == zone], np.nan)


def _row(
    by: str, what: str, before: pd.DataFrame, after: pd.DataFrame, apart_m: float
) -> dict[str, object]:
    old, new = _mean(before[what], what), _mean(after[what], what)
    return {
        "by": by,
        "what": what,
        "zone": int(after["zone"].iloc[0]),
        "depth_cm": float(after["depth_cm"].iloc[0]),
        "name_before": _joined(before["name"]),
        "name_after": _joined(after["name"]),
        "apart_m": apart_m,
        "before": old,
        "after": new,
        "change": new - old,
        "date_before": _joined(before["date"]),
        "date_after": _joined(after["date"]),
        "moisture_before": _joined(before["moisture"]),
        "moisture_after": _joined(after["moisture"]),
    }


def _mean(values: pd.Series, what: str) -> float:
    """Return the mean; of the thickness that of the pans, 0 where none was found."""
    pans = values[values > 0]
    return float((pans if what == THICKNESS and len(pans) else values).mean())


def _joined(words: pd.Series) -> str:
    return "; ".join(sorted({str(word) for word in words} - {""}, key=in_numbers))
