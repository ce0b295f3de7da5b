"""What moisture and dates mean for the readings and for the work."""

from __future__ import annotations

import pandas as pd

from zoning.model import Notice
from zoning.profiles.rules import rule

_WET = ("plastic", "wet")
DRY = (
    "Soil was dry at {where}. Dry soil reads harder than moist soil, so what reads as a pan may be "
    "dryness: trust neither the rating nor the depths further than pits bear them out. Dig at some "
    "of these stations, or wait and probe again near field capacity."
)


def moisture_notices(pits: pd.DataFrame, cone: pd.DataFrame) -> tuple[Notice, ...]:
    """Return what the user must be told about moisture and dates, cautions first.

    Parameters
    ----------
    pits, cone
        Rows of the pits and cone readings as read. Pits of phase ``after`` are left out; the rows
        of a form that stayed blank need no date.

    Notes
    -----
    Soil that is plastic at working depth smears and is pressed instead of lifted; test it by
    hand at several depths (Tasmania NRE, hand-roll test). The cone index falls as soil gets wetter
    and has no universal correction, so readings of different days differ by moisture.
    """
    before = pits[pits["phase"].astype(str).str.lower().ne("after")]
    insertions = cone.drop_duplicates("insertion_id")
    pushed = cone[cone["cone_index_mpa"].notna()].drop_duplicates("insertion_id")
    found = [*_plastic(before, insertions), *_dry(before, insertions), *_dates(pushed)]
    return tuple(sorted(found))


def _said(column: pd.Series, words: tuple[str, ...]) -> pd.Series:
    return column.astype(str).str.strip().str.lower().isin(words)


def some_names(values: pd.Series) -> str:
    """Return up to five names, sorted, and how many more there are."""
    names = sorted(set(values.astype(str)))
    more = f" and {len(names) - 5} more" if len(names) > 5 else ""
    return ", ".join(names[:5]) + more


def _called(word: str, values: pd.Series) -> str:
    return f"{word}{'s' if len(set(values)) > 1 else ''} {some_names(values)}"


def _plastic(pits: pd.DataFrame, insertions: pd.DataFrame) -> list[Notice]:
    dug = pits.loc[_said(pits["moisture"], _WET), "pit"]
    probed = insertions.loc[_said(insertions["moisture"], _WET), "station"]
    notices = []
    if len(dug):
        text = (
            f"Soil was plastic at depth in {_called('pit', dug)}: do not work it now. It "
            "would smear and be pressed rather than lifted. Test again by hand at working depth "
            "before work."
        )
        notices.append(Notice("caution", "soil-plastic", text))
    if len(probed):
        text = (
            f"Soil was noted as plastic or wet at {_called('station', probed)}: test it by hand at "
            "working depth. Wet soil reads softer than it is, so a pan may be missed."
        )
        notices.append(Notice("caution", "readings-wet", text))
    return notices


def _dry(pits: pd.DataFrame, insertions: pd.DataFrame) -> list[Notice]:
    dug = pits.loc[_said(pits["moisture"], ("dry",)), "pit"]
    probed = insertions.loc[_said(insertions["moisture"], ("dry",)), "station"]
    if not len(dug) and not len(probed):
        return []
    where = [_called("pit", dug)] if len(dug) else []
    dry, of = probed.nunique(), insertions["station"].nunique()
    if dry and dry >= rule("dry_share") * of:
        stations = "the one station" if of == 1 else f"{dry} of {of} stations"
        stations += f" ({some_names(probed)})"
        text = DRY.format(where=" and ".join([stations, *where]))
        return [Notice("caution", "readings-dry", text)]
    where += [_called("station", probed)] if len(probed) else []
    text = (
        f"Soil was dry at {' and '.join(where)}: dry soil reads harder than moist soil, so some of "
        "what reads as a pan may be dryness. Confirm with the spade, or probe again near field "
        "capacity."
    )
    return [Notice("note", "soil-dry", text)]


def _undated(missing: int, of: int) -> str:
    if of == 1:
        return "The one insertion has"
    return f"{missing} of {of} insertions {'has' if missing == 1 else 'have'}"


def _dates(insertions: pd.DataFrame) -> list[Notice]:
    if insertions.empty:
        return []
    dates = insertions["date"].astype(str)
    given = sorted(set(dates[dates.ne("")]))
    notices = []
    if len(given) > 1:
        text = (
            f"The cone readings are of {len(given)} dates, {given[0]} to {given[-1]}. Days differ "
            "by moisture as well as by compaction; look twice where a zone ends with a day."
        )
        notices.append(Notice("note", "several-dates", text))
    undated = insertions.loc[dates.eq(""), "station"]
    if missing := len(undated):
        where = f" ({_called('station', undated)})" if given else ""
        text = (
            f"{_undated(missing, len(dates))} no date{where}. Soil reads harder as it dries; "
            "without dates a difference between days is taken for one in the soil: add a column "
            "'date' to the cone file, as 2026-08-20 in every row."
        )
        notices.append(Notice("note", "dates-missing", text))
    return notices
