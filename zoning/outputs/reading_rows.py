"""What became of each reading: one row an insertion, a pit, a row left out; their dates."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from zoning.model import Plan
from zoning.outputs.columns import table_schema

_SHEET, _NO_DAY = ", sheet ", "~"
_AFTER = "Dug after the work: kept for the check."
_NOT_JOINED = "Not joined to a station of the plan."
_PIT_VERDICTS = {"yes": "pan", "no": "no_pan"}


def reading_rows(plan: Plan) -> pd.DataFrame:
    """Return every insertion, pit and row left out, sorted by file, line, kind and name.

    The sheets of a workbook follow each other by their first day, then by name.
    """
    return rows_of_readings(plan.stations, plan.insertions, plan.pits, plan.left_out)


def reading_dates(plan: Plan) -> str:
    """Return the dates of the readings as text, those of pits apart where the cone has none."""
    dated = plan.stations[[str(date)[:1].isdigit() for date in plan.stations["date"]]]
    told = sorted({str(date) for date in dated["date"]})
    if not told:
        return "Readings without date"
    span = told[0] + (f" to {told[-1]}" if told[-1] != told[0] else "")
    if "cone" in set(plan.stations["kind"]) - set(dated["kind"]):
        return f"Pits of {span}, cone readings without date"
    return f"Readings of {span}"


def rows_of_readings(
    stations: pd.DataFrame, insertions: pd.DataFrame, pits: pd.DataFrame, left_out: pd.DataFrame
) -> pd.DataFrame:
    """Return the rows of `reading_rows` from the tables of a plan."""
    fates = _fates(stations)
    frames = [_insertions(insertions, fates), _pits(pits, fates), _left_out(left_out)]
    order = [column.name for column in table_schema("readings_used").columns]
    frame = pd.concat([frame[order] for frame in frames], ignore_index=True)
    keys = ["book", "day", "file", "row", "kind", "name", "reason"]
    return _with_days(frame).sort_values(keys, kind="stable", ignore_index=True)[order]


def _with_days(frame: pd.DataFrame) -> pd.DataFrame:
    """Return the rows with the workbook that a sheet belongs to and the first day of the sheet."""
    days: dict[str, str] = {}
    for file, date in zip(frame["file"], frame["date"], strict=True):
        days[str(file)] = min(days.get(str(file), _NO_DAY), _text(date) or _NO_DAY)
    names = [str(file) for file in frame["file"]]
    return frame.assign(
        book=[name.partition(_SHEET)[0] for name in names], day=[days[name] for name in names]
    )


def _fates(stations: pd.DataFrame) -> Mapping[tuple[str, str], tuple[bool, str]]:
    """Return whether each station or pit is used, and why not, by kind and name."""
    columns = (stations["kind"], stations["station"], stations["used"], stations["reason"])
    return {
        (str(kind), str(name)): (bool(used), _text(reason))
        for kind, name, used, reason in zip(*columns, strict=True)
    }


def _insertions(
    insertions: pd.DataFrame, fates: Mapping[tuple[str, str], tuple[bool, str]]
) -> pd.DataFrame:
    frame = insertions.assign(kind="insertion", name=insertions["insertion_id"].astype(str))
    found = [fates.get(("cone", str(name)), (False, _NOT_JOINED)) for name in frame["station"]]
    usable = frame["verdict"] != "unusable"
    frame["used"] = [
        "yes" if good and used else "no" for good, (used, _) in zip(usable, found, strict=True)
    ]
    frame["reason"] = [
        _sentences(own, "" if used or not good else why)
        for own, good, (used, why) in zip(frame["reason"], usable, found, strict=True)
    ]
    return frame


def _pits(pits: pd.DataFrame, fates: Mapping[tuple[str, str], tuple[bool, str]]) -> pd.DataFrame:
    frame = pd.DataFrame(pits).assign(kind="pit", name=pits["pit"].astype(str))
    frame["verdict"] = [_PIT_VERDICTS.get(_text(pan), "not_seen") for pan in frame["pan"]]
    found = [
        (False, _AFTER) if phase == "after" else fates.get(("pit", name), (False, _NOT_JOINED))
        for phase, name in zip(frame["phase"], frame["name"], strict=True)
    ]
    frame["used"] = ["yes" if used else "no" for used, _ in found]
    frame["reason"] = [why for _, why in found]
    return frame


def _left_out(left_out: pd.DataFrame) -> pd.DataFrame:
    frame = left_out.assign(kind="left_out", name=left_out["what"], verdict="left_out", used="no")
    frame = frame.assign(date="", part="", lon=np.nan, lat=np.nan)
    return frame.assign(pan_top_cm=np.nan, pan_base_cm=np.nan)


def _sentences(*parts: object) -> str:
    return " ".join(text for part in parts if (text := _text(part)))


def _text(value: object) -> str:
    return value if isinstance(value, str) else ""
