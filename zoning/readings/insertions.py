"""Readings joined into insertions: numbered where the file does not number them, order checked."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from zoning.errors import Fault
from zoning.model import Notice
from zoning.readings.rules import rule

_ONE_VALUE = ("date", "part")


def number_insertions(frame: pd.DataFrame) -> tuple[pd.DataFrame, list[Fault], list[Notice]]:
    """Give each reading its insertion and check the order of depths.

    With a column ``insertion`` the order of the rows does not matter. Without one, the order is all
    there is: a depth that starts over near the surface opens the next insertion of the station.

    Parameters
    ----------
    frame
        Rows of all files of one role in the order of the files, with ``file, row, station``,
        ``insertion`` (-1 where the file has no such column), ``depth_cm`` and, from wide files,
        ``wide_row``.

    Returns
    -------
    tuple
        The frame with every ``insertion`` filled in and ``insertion_id``; faults; notices.
    """
    frame = frame.reset_index(drop=True)
    implicit = (frame["insertion"] < 0).to_numpy()
    faults: list[Fault] = []
    notices: list[Notice] = []
    if implicit.any():
        order_faults, opened = _open_insertions(frame, implicit)
        faults.extend(order_faults)
        frame["insertion"] = _continued(frame, implicit, opened)
        notices.extend(_told_split(frame, implicit))
    frame["insertion_id"] = frame["station"] + "/" + frame["insertion"].astype(str)
    faults.extend(_repeats(frame))
    faults.extend(_contradictions(frame))
    notices.extend(_told_order(frame, ~implicit))
    return frame, list(dict.fromkeys(faults)), notices


def _open_insertions(
    frame: pd.DataFrame, implicit: NDArray[np.bool_]
) -> tuple[list[Fault], pd.Series]:
    """Return faults of order and, for each implicit row, whether it opens an insertion."""
    rows = frame[implicit]
    groups = rows.groupby(["file", "station"], sort=False)
    step = groups["depth_cm"].diff()
    first = groups["depth_cm"].transform("first")
    push = rows.get("wide_row", pd.Series(np.nan, index=rows.index))
    new_push = groups["station"].cumcount().eq(0)
    if push.notna().any():
        new_push |= push.notna() & push.ne(
            push.groupby([rows["file"], rows["station"]], sort=False).shift()
        )
    starts_over = (step < 0) & (rows["depth_cm"] <= first + rule("restart_within_cm"))
    opens = new_push | (push.isna() & starts_over)
    wrong = (step <= 0) & ~opens
    return [_order_fault(rows.loc[i], float(step[i])) for i in rows.index[wrong]], opens


def _order_fault(row: pd.Series, step: float) -> Fault:
    what = "the same depth again" if step == 0 else f"back by {-step:g} cm"
    return Fault(
        str(row["file"]),
        f"Station {row['station']} goes to {row['depth_cm']:g} cm, {what}.",
        "Sort the readings of an insertion by depth, or number insertions in a column insertion.",
        row=int(row["row"]),
        column="depth",
    )


def _continued(
    frame: pd.DataFrame,
    implicit: NDArray[np.bool_],
    opened: pd.Series,
) -> pd.Series:
    """Return numbers that go on from the highest one stated for a station."""
    number = opened.astype(int).groupby(frame.loc[implicit, "station"], sort=False).cumsum()
    stated = frame.loc[~implicit].groupby("station")["insertion"].max()
    offset = frame.loc[implicit, "station"].map(stated).fillna(0).astype(int)
    insertion = frame["insertion"].copy()
    insertion[implicit] = number + offset
    return insertion


def _told_split(frame: pd.DataFrame, implicit: NDArray[np.bool_]) -> Iterator[Notice]:
    """Tell which stations were found to hold more than one insertion."""
    rows = frame[implicit]
    several = rows.groupby(["file", "station"])["insertion"].nunique()
    several = several[several > 1]
    for file, stations in several.groupby(level="file"):
        yield Notice(
            "note",
            "insertions-numbered",
            (
                f"{file}: no column insertion; {len(stations)} stations hold "
                f"{int(stations.sum())} insertions, "
                "told apart where the depth starts over."
            ),
        )


def _told_order(frame: pd.DataFrame, stated: NDArray[np.bool_]) -> Iterator[Notice]:
    """Tell which files gave the readings of a numbered insertion in another order than depth."""
    rows = frame[stated]
    step = rows.groupby(["file", "insertion_id"], sort=False)["depth_cm"].diff()
    moved = rows[step < 0]
    for file, found in moved.groupby("file"):
        yield Notice(
            "note",
            "readings-sorted",
            (
                f"{file}: {found['insertion_id'].nunique()} insertions were not in order of depth "
                "and were sorted."
            ),
        )


def _repeats(frame: pd.DataFrame) -> Iterator[Fault]:
    """Yield faults of insertions that come from two places or read one depth twice."""
    wide = frame.get("wide_row", pd.Series(np.nan, index=frame.index)).fillna(-1)
    origin = frame["file"] + "\x00" + wide.astype(str)
    first_origin = origin.groupby(frame["insertion_id"], sort=False).transform("first")
    elsewhere = origin.ne(first_origin)
    heads = frame[elsewhere].drop_duplicates(["insertion_id", "file"])
    for _, row in heads.iterrows():
        yield Fault(
            str(row["file"]),
            f"Insertion {row['insertion_id']} stands here and elsewhere.",
            "Give each insertion of a station its own number.",
            row=int(row["row"]),
            column="insertion",
        )
    again = frame.duplicated(["insertion_id", "depth_cm"]) & ~elsewhere & frame["depth_cm"].notna()
    for _, row in frame[again].iterrows():
        yield _order_fault(row, 0.0)


def _contradictions(frame: pd.DataFrame) -> Iterator[Fault]:
    """Yield faults of insertions that state two dates or two parts of the field."""
    for column in _ONE_VALUE:
        said = frame[frame[column] != ""]
        first = said.groupby("insertion_id", sort=False)[column].transform("first")
        differs = said.assign(first=first)[said[column] != first].drop_duplicates("insertion_id")
        for _, row in differs.iterrows():
            yield Fault(
                str(row["file"]),
                f"Insertion {row['insertion_id']} says '{row['first']}', then '{row[column]}'.",
                "Give one value for an insertion.",
                row=int(row["row"]),
                column=column,
            )


def spread_faults(frame: pd.DataFrame) -> list[Fault]:
    """Return a fault for each insertion, else station, whose readings lie too far apart.

    Parameters
    ----------
    frame
        Readings with ``x_m, y_m`` in the working CRS.
    """
    return [
        *_spread(frame, "insertion_id", rule("insertion_spread_m"), "insertion"),
        *_spread(frame, "station", rule("station_spread_m"), "station"),
    ]


def _spread(frame: pd.DataFrame, key: str, most: float, word: str) -> Iterator[Fault]:
    groups = frame.groupby(key)
    low, high = groups[["x_m", "y_m"]].min(), groups[["x_m", "y_m"]].max()
    heads = groups[["file", "row"]].first()
    heads["span"] = np.hypot(high["x_m"] - low["x_m"], high["y_m"] - low["y_m"])
    for name, head in heads[heads["span"] > most].iterrows():
        yield Fault(
            str(head["file"]),
            f"The readings of {word} {name} lie {head['span']:.0f} m apart.",
            f"Give each {word} its own name; {most:g} m is the limit.",
            row=int(head["row"]),
            column="station",
        )
