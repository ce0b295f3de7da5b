"""Pit notes and trial runs: spade and ruler beside the probe."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
import pandas as pd

from zoning.contracts import PARTS
from zoning.readings.cells import Cells
from zoning.readings.checked_table import PLACE_COLUMNS, CheckedTable, place_columns
from zoning.readings.cone import MOISTURE_WORDS
from zoning.readings.headings import speller
from zoning.readings.rules import rule
from zoning.readings.text_table import Source, limited, read_table

_NUMBERS = (
    "pan_top_cm",
    "pan_base_cm",
    "structure_score",
    "loosened_at_leg_cm",
    "loosened_between_cm",
    "speed_km_h",
)
_PIT_COLUMNS = (
    "pit",
    "date",
    "phase",
    *PLACE_COLUMNS,
    "part",
    "pan",
    *_NUMBERS,
    "moisture",
    "photo",
    "note",
)
_TRIAL_NUMBERS = ("speed_km_h", "depth_setting_cm", "loosened_at_leg_cm", "loosened_between_cm")
_TRIAL_COLUMNS = ("run", *_TRIAL_NUMBERS, "surface", "note")


def read_pits(source: Source, *, crs_given: bool, areas: Collection[str]) -> CheckedTable:
    """Read one file of pit notes.

    Parameters
    ----------
    source
        The file or the sheet.
    crs_given
        Whether ``readings.crs`` is stated.
    areas
        Names of the named areas, allowed in the column ``part``.

    Returns
    -------
    CheckedTable
        Columns of ``shared/schemas/pits.schema.json`` but the projected places.

    Raises
    ------
    InputRefused
        If the file cannot be parted into rows and columns.
    """
    table = read_table(source, lambda name: name in _PIT_COLUMNS, speller(_PIT_COLUMNS))
    cells = Cells(table, [*PLACE_COLUMNS, *_NUMBERS])
    cells.check_columns(_PIT_COLUMNS, {"pit", "phase"})
    places, given_x, given_y = place_columns(cells, crs_given=crs_given)
    deepest = rule("depth_max_cm")
    frame = pd.DataFrame(
        {
            "pit": cells.texts("pit", required=True),
            "date": cells.dates("date"),
            "phase": cells.words("phase", ("before", "after"), required=True),
            "given_x": given_x,
            "given_y": given_y,
            "part": cells.words("part", (*PARTS, *sorted(areas))),
            "pan": cells.words("pan", ("yes", "no")),
            "pan_top_cm": cells.numbers("pan_top_cm", 0, deepest),
            "pan_base_cm": cells.numbers("pan_base_cm", 0, deepest),
            "structure_score": cells.numbers("structure_score", 1, 5),
            "moisture": cells.words("moisture", MOISTURE_WORDS),
            "loosened_at_leg_cm": cells.numbers("loosened_at_leg_cm", 0, deepest),
            "loosened_between_cm": cells.numbers("loosened_between_cm", 0, deepest),
            "speed_km_h": cells.numbers("speed_km_h", 0, rule("speed_max_km_h")),
            "photo": cells.texts("photo"),
            "note": cells.texts("note"),
            "row": table.lines,
        }
    )
    _check_pan(cells, frame)
    _check_loosened(cells, frame)
    _check_repeats(cells, frame)
    return CheckedTable(
        table.file, frame, places, tuple(limited(cells.faults)), tuple(cells.notices)
    )


def _check_pan(cells: Cells, frame: pd.DataFrame) -> None:
    """Keep faults of pans upside down and of depths where there is no pan."""
    for i in np.flatnonzero(frame["pan_top_cm"] > frame["pan_base_cm"]).tolist():
        top, base = cells.raw("pan_top_cm")[i], cells.raw("pan_base_cm")[i]
        cells.fault(
            i,
            "pan_top_cm",
            f"The pan's top {top} cm is deeper than its base {base} cm.",
            "Give the top above the base.",
        )
    depths = frame["pan_top_cm"].notna() | frame["pan_base_cm"].notna()
    for i in np.flatnonzero((frame["pan"] == "no") & depths).tolist():
        cells.fault(
            i,
            "pan",
            "The pit says pan = no and gives depths of a pan.",
            "Clear one of the two.",
        )


def _check_loosened(cells: Cells, frame: pd.DataFrame) -> None:
    between_deeper = frame["loosened_between_cm"] > frame["loosened_at_leg_cm"]
    for i in np.flatnonzero(between_deeper).tolist():
        cells.fault(
            i,
            "loosened_between_cm",
            "The ground is loosened deeper between the legs than at a leg.",
            "Check that the two depths stand in their own columns.",
        )


def _check_repeats(cells: Cells, frame: pd.DataFrame) -> None:
    named = frame[frame["pit"] != ""]
    first = named.groupby(["pit", "phase"])["row"].transform("first")
    for i in named.index[named["row"] > first].tolist():
        cells.fault(
            i,
            "pit",
            f"Pit '{cells.raw('pit')[i]}' of phase '{cells.raw('phase')[i]}' stands in row "
            f"{first[i]} too.",
            "If this row is a copy, delete it; else give each pit of a phase its own name.",
        )


def read_trials(source: Source) -> CheckedTable:
    """Read the trial runs of the machine: ``shared/schemas/trials.schema.json``.

    Raises
    ------
    InputRefused
        If the file cannot be parted into rows and columns.
    """
    table = read_table(source, lambda name: name in _TRIAL_COLUMNS, speller(_TRIAL_COLUMNS))
    cells = Cells(table, _TRIAL_NUMBERS)
    cells.check_columns(_TRIAL_COLUMNS, {"run", "speed_km_h"})
    deepest = rule("depth_max_cm")
    frame = pd.DataFrame(
        {
            "run": cells.texts("run", required=True),
            "speed_km_h": cells.numbers("speed_km_h", 0, rule("speed_max_km_h"), required=True),
            "depth_setting_cm": cells.numbers("depth_setting_cm", 0, deepest),
            "loosened_at_leg_cm": cells.numbers("loosened_at_leg_cm", 0, deepest),
            "loosened_between_cm": cells.numbers("loosened_between_cm", 0, deepest),
            "surface": cells.words("surface", ("level", "heaved", "cloddy")),
            "note": cells.texts("note"),
            "file": table.file,
            "row": table.lines,
        }
    )
    _check_loosened(cells, frame)
    return CheckedTable(
        table.file, frame, "degrees", tuple(limited(cells.faults)), tuple(cells.notices)
    )
