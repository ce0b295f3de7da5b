"""The readings files of one role, joined, numbered and placed."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pandas as pd
from pyproj import CRS

from zoning.errors import Fault, InputRefused
from zoning.model import Notice
from zoning.readings.apart import Apart, stations_apart
from zoning.readings.checked_table import CheckedTable
from zoning.readings.cone import read_cone
from zoning.readings.files import inside
from zoning.readings.frames import (
    CONE_COLUMNS,
    CONE_ORDER,
    PIT_COLUMNS,
    PIT_ORDER,
    TRIAL_COLUMNS,
    TRIAL_ORDER,
    framed,
)
from zoning.readings.gathered import Gathered
from zoning.readings.insertions import number_insertions, one_spelling, spread_faults
from zoning.readings.pits import read_pits, read_trials
from zoning.readings.places import PlacedTable, place, positions
from zoning.readings.revisits import station_a_day
from zoning.readings.settings_check import names_of
from zoning.readings.site import Site
from zoning.readings.text_table import Source, limited, sources

_MARKS = {"pits": "pit", "trials": "run"}


def _tables(
    gathered: Gathered,
    value: str | list[str] | None,
    role: str,
    reader: Callable[[Source], CheckedTable],
) -> list[CheckedTable]:
    """Read the files of one role, a spreadsheet sheet by sheet; one with faults gives none."""
    seen: dict[str, str] = {}
    tables = []
    for name in names_of(value):
        blob = gathered.attempt(lambda name=name: gathered.text(name, role))  # type: ignore[misc]
        if blob is None:
            continue
        twin = seen.setdefault(blob.record.sha256, name)
        if twin != name:
            gathered.faults.append(
                Fault(name, f"The file has the same contents as '{twin}'.", "Name it once.")
            )
            continue
        mark = _MARKS.get(role, "station")
        found = gathered.attempt(lambda blob=blob, mark=mark: sources(blob, mark))  # type: ignore[misc]
        for source in found or ():
            table = gathered.attempt(lambda source=source: reader(source))  # type: ignore[misc]
            if table is not None and not table.faults:
                gathered.notices.extend(table.notices)
                tables.append(table)
            elif table is not None:
                gathered.faults.extend(table.faults)
    return tables


def cone_frame(
    gathered: Gathered, site: Site, crs: CRS | None, areas: frozenset[str], role: str
) -> pd.DataFrame:
    """Read, number and place the cone logs of one role.

    Parameters
    ----------
    gathered
        Settings of the field; faults, notices and rows left out are added to it.
    site
        The field.
    crs
        ``readings.crs``.
    areas
        Names of the named areas.
    role
        ``cone`` or ``cone_after``.

    Returns
    -------
    pandas.DataFrame
        One row a reading: ``shared/schemas/cone_readings.schema.json``.
    """
    readings = gathered.settings.readings
    value = readings.cone if role == "cone" else readings.cone_after

    def reader(source: Source) -> CheckedTable:
        return read_cone(
            source, cone_unit=readings.cone_unit, crs_given=readings.crs is not None, areas=areas
        )

    tables = _tables(gathered, value, role, reader)
    if not tables:
        return framed([], CONE_COLUMNS, CONE_ORDER)
    joined, spelling = one_spelling(_joined(tables, site, crs))
    gathered.notices.extend(spelling)
    apart = stations_apart(joined)
    gathered.notices.extend(apart.notices)
    sound = joined[~joined["station"].isin(apart.stations)].drop(columns=["x_m", "y_m"])
    numbered, faults, notices = number_insertions(sound)
    numbered, days = station_a_day(numbered)
    gathered.faults.extend(limited(faults))
    gathered.notices.extend([*notices, *days])
    if apart.stations:
        _refuse_apart(
            gathered, apart, lambda: _placed(gathered, tables, joined, site, crs, "station")
        )
        return framed([], CONE_COLUMNS, CONE_ORDER)
    what = (
        "reading at "
        + numbered["depth_cm"].map("{:g}".format)
        + " cm of insertion "
        + numbered["insertion_id"]
    )
    kept = _placed(gathered, tables, numbered.assign(what=what), site, crs, "insertion_id")
    frame = framed(kept, CONE_COLUMNS, CONE_ORDER)
    gathered.faults.extend(limited(spread_faults(frame)))
    return frame


def _refuse_apart(gathered: Gathered, apart: Apart, place_all: Callable[[], object]) -> None:
    """Keep the faults of stations apart, unless the whole file lies in the wrong place."""
    before = len(gathered.faults)
    place_all()
    if len(gathered.faults) == before:
        gathered.faults.extend(limited(apart.faults))


def _joined(tables: Sequence[CheckedTable], site: Site, crs: CRS | None) -> pd.DataFrame:
    """Return the rows of all files with ``file`` and, as far as it can be told, ``x_m, y_m``."""
    frames = []
    for table in tables:
        x_m, y_m = positions(table, site, crs)
        frames.append(table.frame.assign(file=table.file, x_m=x_m, y_m=y_m))
    return pd.concat(frames, ignore_index=True)


def pits_frame(
    gathered: Gathered, site: Site, crs: CRS | None, areas: frozenset[str]
) -> pd.DataFrame:
    """Read and place the pits of both phases, one row a pit; parameters as `cone_frame`."""
    readings = gathered.settings.readings
    tables = _tables(
        gathered,
        readings.pits,
        "pits",
        lambda source: read_pits(source, crs_given=readings.crs is not None, areas=areas),
    )
    if not tables:
        return framed([], PIT_COLUMNS, PIT_ORDER)
    joined = pd.concat([t.frame.assign(file=t.file) for t in tables], ignore_index=True)
    gathered.faults.extend(limited(_pits_twice(joined)))
    gathered.notices.extend(_missing_photos(gathered, joined))
    what = "pit " + joined["pit"] + " (" + joined["phase"] + ")"
    kept = _placed(gathered, tables, joined.assign(what=what), site, crs, "what")
    return framed(kept, PIT_COLUMNS, PIT_ORDER)


def _pits_twice(joined: pd.DataFrame) -> list[Fault]:
    """Return a fault for each pit that stands in an earlier file too, the same words for all."""
    first = joined.groupby(["pit", "phase"])["file"].transform("first")
    return [
        Fault(
            str(row["file"]),
            f"The same pits stand in '{other}' too, of the same phase.",
            f"Take '{other}' or '{row['file']}' out of pits in field.toml, or give each pit of a "
            "phase its own name.",
            row=int(row["row"]),
            column="pit",
        )
        for other, (_, row) in zip(first, joined.iterrows(), strict=True)
        if other != row["file"]
    ]


def _missing_photos(gathered: Gathered, joined: pd.DataFrame) -> list[Notice]:
    """Photos are looked for and not read; one that is missing is told, one outside is a fault."""
    missing = []
    for name in sorted(set(joined["photo"]) - {""}):
        try:
            inside(gathered.folder, name, "photo")
        except InputRefused as error:
            if not isinstance(error.__cause__, (OSError, RuntimeError)):
                gathered.faults.extend(error.faults)
                continue
            missing.append(name)
    if not missing:
        return []
    return [
        Notice("note", "photo-missing", f"Photos not found in the folder: {', '.join(missing)}.")
    ]


def _placed(
    gathered: Gathered,
    tables: Sequence[CheckedTable],
    joined: pd.DataFrame,
    site: Site,
    crs: CRS | None,
    group: str,
) -> list[pd.DataFrame]:
    """Place the rows of each file on its own, so that a fault names the file."""
    kept = []
    for table in tables:
        rows = joined[joined["file"] == table.file].reset_index(drop=True)
        own = CheckedTable(table.file, rows, table.places, (), ())
        placed: PlacedTable = place(own, site, crs, group, rows.get("what", rows[group]))
        gathered.faults.extend(placed.faults)
        gathered.notices.extend(placed.notices)
        gathered.left_out.append(placed.left_out)
        if not placed.faults:
            kept.append(placed.frame)
    return kept


def trials_frame(gathered: Gathered) -> pd.DataFrame:
    """Read the trial runs, one row a run; faults are added to `gathered`."""
    tables = _tables(gathered, gathered.settings.readings.trials, "trials", read_trials)
    return framed([t.frame for t in tables], TRIAL_COLUMNS, TRIAL_ORDER)
