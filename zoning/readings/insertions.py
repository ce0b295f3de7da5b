"""Readings joined into insertions: numbered where the file does not number them, order checked."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from zoning.errors import Fault
from zoning.model import Notice
from zoning.readings.rules import listed, rule

_ONE_VALUE = ("date", "part")
_OTHER_DAY = "Probed again on another day, a station needs a name of its own there, such as %sb."
_OWN_NUMBER = "Give each insertion of a station its own number."
_COPIED = "If the row is a copy, delete it. "
_SORT = "Sort the readings of an insertion by depth, or number insertions in a column insertion."


def one_spelling(frame: pd.DataFrame) -> tuple[pd.DataFrame, list[Notice]]:
    """Give a station one name where it is written now with capitals and now without.

    Parameters
    ----------
    frame
        Rows of all files of one role, with ``station``.

    Returns
    -------
    tuple
        The frame, each station under the first of its spellings in the order of the alphabet
        (capitals first); a notice if any was changed.
    """
    given = frame["station"]
    plain = given.str.casefold().str.split().str.join(" ")
    name = given.groupby(plain, sort=False).transform("min")
    changed = given != name
    if not changed.any():
        return frame, []
    pairs = "'" + given[changed] + "' as '" + name[changed] + "'"
    which = listed(sorted(set(pairs)))
    words = f"Stations that differ in capitals or spaces are taken as one: {which}."
    return frame.assign(station=name), [Notice("note", "stations-one-spelling", words)]


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
    elsewhere = _elsewhere(frame)
    faults.extend(_repeats(frame, elsewhere))
    faults.extend(_copies(frame))
    faults.extend(_contradictions(frame[~elsewhere]))
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
    return _order_faults(rows[wrong], step[wrong]), opens


def _order_faults(rows: pd.DataFrame, step: pd.Series) -> list[Fault]:
    """Return a fault a row; those of one station and kind in the same words, to be told at once."""
    alike = rows.groupby(["file", "station", step.eq(0)])["row"].transform("size")
    faults = []
    for (_, row), back_cm, several in zip(rows.iterrows(), -step, alike > 1, strict=True):
        where = "goes to the same depth again" if back_cm == 0 else "goes back in depth"
        if not several:
            how = "the same depth again" if back_cm == 0 else f"back by {back_cm:g} cm"
            where = f"goes to {row['depth_cm']:g} cm, {how}"
        remedy = f"{_COPIED if back_cm == 0 else ''}{_SORT}"
        faults.append(_fault(row, f"Station {row['station']} {where}.", remedy, "depth"))
    return faults


def _fault(row: pd.Series, what: str, remedy: str, column: str) -> Fault:
    return Fault(str(row["file"]), what, remedy, row=int(row["row"]), column=column)


def _named(word: str, names: pd.Series) -> str:
    """Return ``insertion A/1`` or ``insertions A/1, A/2 and 7 more``."""
    return f"{word}{'s' if len(set(names)) > 1 else ''} {listed(sorted(set(names.astype(str))))}"


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


def _elsewhere(frame: pd.DataFrame) -> pd.Series:
    """Mark readings of an insertion that stand in another file or row than its first ones."""
    wide = frame.get("wide_row", pd.Series(np.nan, index=frame.index)).fillna(-1)
    origin = frame["file"] + "\x00" + wide.astype(str)
    return origin.ne(origin.groupby(frame["insertion_id"], sort=False).transform("first"))


def _repeats(frame: pd.DataFrame, elsewhere: pd.Series) -> Iterator[Fault]:
    """Yield faults of insertions that come from two places or read one depth twice."""
    first = frame.groupby("insertion_id", sort=False)
    heads = frame.assign(
        other=first["file"].transform("first"),
        first_row=first["row"].transform("first"),
        again=frame["date"].ne(first["date"].transform("first")),
    )[elsewhere]
    heads = heads.drop_duplicates(["insertion_id", "file"])
    for (file, other, again), rows in heads.groupby(["file", "other", "again"], sort=False):
        stand = "stands" if len(rows) == 1 else "stand"
        row = f"in row {rows['first_row'].iloc[0]}" if len(rows) == 1 else "further up"
        where = row if file == other else f"in {other}"
        date = ", of another date" if again else ""
        what = f"{_named('Insertion', rows['insertion_id'])} {stand} here and {where}{date}."
        remedy = f"{_OWN_NUMBER}{_copy_remedy(str(file), str(other))}"
        if again:
            remedy = _OTHER_DAY % rows["station"].iloc[0]
        yield from (_fault(row, what, remedy, "insertion") for _, row in rows.iterrows())
    stated = frame["date"].where(frame["date"] != "")
    day = stated.fillna(stated.groupby(frame["insertion_id"]).transform("first"))
    twice = frame.assign(day=day).duplicated(["insertion_id", "depth_cm", "day"])
    twice &= ~elsewhere & frame["depth_cm"].notna()
    yield from _order_faults(frame[twice], pd.Series(0.0, index=frame.index[twice]))


def _copy_remedy(file: str, other: str) -> str:
    """Return how a copy of readings is taken out."""
    how = "delete the sheet or rename its heading 'station'" if ", sheet " in file else "name one"
    return f" If one is a copy of the other, {'delete it' if file == other else how}."


def _copies(frame: pd.DataFrame) -> Iterator[Fault]:
    """Yield faults of insertions that hold the readings of another file once more."""
    if frame["file"].nunique() < 2:
        return
    names = ["station", "given_x", "given_y", "depth_cm", "cone_index_mpa"]
    hashed = pd.util.hash_pandas_object(frame[names], index=False)
    groups = frame.assign(signature=hashed).groupby("insertion_id", sort=False)
    heads = groups[["file", "row", "insertion_id"]].first()
    heads["signature"] = groups["signature"].sum()
    heads = heads[(groups["cone_index_mpa"].count() >= rule("copied_readings_min")).to_numpy()]
    heads["other"] = heads.groupby("signature")["file"].transform("first")
    for (file, other), rows in heads[heads["file"] != heads["other"]].groupby(["file", "other"]):
        what = f"{_named('Insertion', rows['insertion_id'])} hold the same readings as {other}."
        if len(rows) == 1:
            what = what.replace(" hold ", " holds ", 1)
        remedy = f"Keep them once.{_copy_remedy(str(file), str(other))}"
        yield from (_fault(row, what, remedy, "station") for _, row in rows.iterrows())


def _contradictions(frame: pd.DataFrame) -> Iterator[Fault]:
    """Yield faults of insertions that state two dates or two parts of the field."""
    for column in _ONE_VALUE:
        said = frame[frame[column] != ""]
        first = said.groupby("insertion_id", sort=False)[column].transform("first")
        differs = said.assign(first=first)[said[column] != first].drop_duplicates("insertion_id")
        for (_, one, other), rows in differs.groupby(["file", "first", column], sort=False):
            say = "says" if len(rows) == 1 else "say"
            what = f"{_named('Insertion', rows['insertion_id'])} {say} '{one}', then '{other}'."
            remedy = "Give one value for an insertion."
            if column == "date":
                remedy = f"{remedy} {_OTHER_DAY % rows['station'].iloc[0]}"
            yield from (_fault(row, what, remedy, column) for _, row in rows.iterrows())


def spread_faults(frame: pd.DataFrame) -> list[Fault]:
    """Return a fault for each insertion whose readings lie too far apart.

    Parameters
    ----------
    frame
        Readings with ``x_m, y_m`` in the working CRS.
    """
    most = rule("insertion_spread_m")
    groups = frame.groupby("insertion_id")
    low, high = groups[["x_m", "y_m"]].min(), groups[["x_m", "y_m"]].max()
    heads = groups[["file", "row"]].first()
    heads["span"] = np.hypot(high["x_m"] - low["x_m"], high["y_m"] - low["y_m"])
    remedy = f"Give each insertion its own name; {most:g} m is the limit."
    faults = []
    for _, rows in heads[heads["span"] > most].reset_index().groupby("file", sort=False):
        up_to = "up to " if len(rows) > 1 else ""
        apart = f"lie {up_to}{rows['span'].max():.0f} m apart"
        what = f"The readings of {_named('insertion', rows['insertion_id'])} {apart}."
        faults += [_fault(row, what, remedy, "station") for _, row in rows.iterrows()]
    return faults
