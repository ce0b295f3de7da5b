"""Rows left out, told by the station or pit that they belong to rather than one by one."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from zoning.model import Plan
from zoning.model.names import in_numbers

COLUMNS = ["file", "row", "what", "reason"]
"""What files say of a row left out."""
_OF = " of insertion "
_PIT, _BEFORE = "pit ", " (before)"


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Rows of one file that are left out together for one reason.

    Parameters
    ----------
    file
        Name as the user wrote it, with that of the sheet.
    what
        The station with its rows and the number of its insertions, or the pit with its row.
    reason
        Why they are left out.
    """

    file: str
    what: str
    reason: str


def left_out_together(left_out: pd.DataFrame) -> list[LeftOut]:
    """Return a line a station or pit, numbers in the names in the order of numbers.

    Parameters
    ----------
    left_out
        ``file, row, what, reason``, one row a reading; ``what`` of a reading ends in
        ``of insertion STATION/NUMBER``.
    """
    named = [what.partition(_OF) for what in left_out["what"].astype(str)]
    frame = left_out.assign(
        insertion=[name for _, _, name in named],
        name=[name.rpartition("/")[0] if of else what for what, of, name in named],
        cone=[bool(of) for _, of, _ in named],
    )
    groups = frame.groupby(["file", "name", "cone", "reason"], sort=False)
    together = [
        LeftOut(str(file), _words(str(name), rows, cone=bool(cone)), str(reason))
        for (file, name, cone, reason), rows in groups
    ]
    return sorted(together, key=lambda one: [in_numbers(t) for t in (one.file, one.what)])


def places_given(plan: Plan, kind: str) -> int:
    """Return how many cone stations, or pits of before, the user gave: read or left out.

    Parameters
    ----------
    plan
        The plan; its list of what was left out holds readings of after the work as well.
    kind
        ``cone`` or ``pit``, as in the table of stations.
    """
    stations, left_out = plan.stations, plan.left_out
    if kind == "cone":
        before = [_is_of(str(file), plan.settings.readings.cone) for file in left_out["file"]]
        what = left_out["what"][before].astype(str)
        named = {name.rpartition("/")[0] for _, of, name in what.str.partition(_OF).values if of}
    else:
        pits = [w for w in left_out["what"].astype(str) if w.endswith(_BEFORE)]
        named = {w.removeprefix(_PIT).removesuffix(_BEFORE) for w in pits if w.startswith(_PIT)}
    return len(named | set(stations.loc[stations["kind"] == kind, "station"]))


def _is_of(file: str, named: str | list[str] | None) -> bool:
    """Whether a file, or the sheet of a workbook, is among those that ``field.toml`` names."""
    names = [named] if isinstance(named, str) else named or []
    return any(file == name or file.startswith(f"{name}, sheet ") for name in names)


def _words(name: str, rows: pd.DataFrame, *, cone: bool) -> str:
    lines = sorted({int(row) for row in rows["row"].dropna()})
    place = f", {_rows(lines)}" if lines else ""
    if not cone:
        return f"{name}{place}"
    count = rows["insertion"].nunique()
    return f"station {name}{place}, {count} insertion{'' if count == 1 else 's'}"


def _rows(lines: list[int]) -> str:
    """Return rising row numbers in words: ``row 7``, ``rows 7-9``, ``5 rows from 7 to 30``."""
    first, last = lines[0], lines[-1]
    if len(lines) == 1:
        return f"row {first}"
    if last - first + 1 == len(lines):
        return f"rows {first}-{last}"
    return f"{len(lines)} rows from {first} to {last}"
