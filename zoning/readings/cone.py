"""Logs of the cone penetrometer, long (one row a reading) and wide (one row an insertion)."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from zoning.contracts import PARTS
from zoning.errors import Fault, InputRefused
from zoning.readings.cells import Cells, Floats
from zoning.readings.checked_table import PLACE_COLUMNS, CheckedTable, place_columns
from zoning.readings.headings import speller
from zoning.readings.log_units import (
    INDEX_WORDS,
    UNIT_KEY,
    check_depths,
    check_indices,
    doubt_name,
)
from zoning.readings.number_text import plain_number
from zoning.readings.rules import listed, suggest
from zoning.readings.text_table import Source, TextTable, limited, read_table
from zoning.units import CM_PER, MPA_PER

Column = Sequence[object] | NDArray[np.float64] | NDArray[np.int64]
MOISTURE_WORDS = ("dry", "friable", "plastic")
DEPTH_COLUMNS = {f"depth_{unit}": unit for unit in ("cm", "mm", "in")}
INDEX_COLUMNS = {f"cone_index_{unit}": unit for unit in ("mpa", "kpa", "psi")}
_SHARED = ("station", "insertion", *PLACE_COLUMNS, "date", "moisture", "part", "refused", "note")
_WIDE_DEPTH = re.compile(
    r"(\d+(?:[.,]\d+)?)[\s_]*(?:(cm|mm|in)|\((cm|mm|in)\))", re.ASCII | re.IGNORECASE
)
_NEAR_DEPTH = re.compile(
    r"(depth|ci|cone index)?[ _]*\d+([.,]\d+)?(\s*[-\u2013]\s*\d+([.,]\d+)?)?"
    r"[ _]*(cm|mm|in|inch|m)?"
    r"[ _,]*[(\[]?(mpa|kpa|psi)?[)\]]?",
    re.ASCII | re.IGNORECASE,
)
_UNIT = "cone_unit"


def read_cone(
    source: Source, *, cone_unit: str | None, crs_given: bool, areas: Collection[str]
) -> CheckedTable:
    """Read one cone log.

    Parameters
    ----------
    source
        The file or the sheet.
    cone_unit
        ``readings.cone_unit``: unit of the cone index in a wide file without a column `cone_unit`.
    crs_given
        Whether ``readings.crs`` is stated.
    areas
        Names of the named areas, allowed in the column ``part``.

    Returns
    -------
    CheckedTable
        Columns ``station, insertion`` (-1 where the file does not say), ``given_x, given_y,
        depth_cm, cone_index_mpa, date, moisture, part, refused, note, row``.

    Raises
    ------
    InputRefused
        If the file cannot be parted into rows and columns.
    """
    table = read_table(
        source,
        lambda name: name in _LONG or _wide_depth_cm(name) is not None,
        speller({*_LONG, _UNIT}),
    )
    wide = {name: depth for name in table.columns if (depth := _wide_depth_cm(name)) is not None}
    _check_not_turned(table)
    cells = Cells(table, [*PLACE_COLUMNS, *DEPTH_COLUMNS, *INDEX_COLUMNS, *wide])
    long_names = [n for n in table.columns if n in DEPTH_COLUMNS or n in INDEX_COLUMNS]
    _check_layout(cells, wide, long_names, cone_unit)
    places, given_x, given_y = place_columns(cells, crs_given=crs_given)
    shared = {**_shared_columns(cells, areas), "given_x": given_x, "given_y": given_y}
    frame = _wide(cells, shared, wide, cone_unit) if wide else _long(cells, shared)
    faults = limited(_across(cells.faults, wide))
    return CheckedTable(table.file, frame, places, tuple(faults), tuple(cells.notices))


def _across(faults: Sequence[Fault], wide: Collection[str]) -> list[Fault]:
    """Return equal faults in several depths of a row as one fault that names the depths."""
    columns: dict[Fault, list[str]] = {}
    for fault in faults:
        key = replace(fault, column=None) if fault.column in wide else fault
        columns.setdefault(key, []).append(fault.column or "")
    return [
        replace(fault, column=names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}")
        if fault.column is None and fault.row is not None and names[0] in wide
        else fault
        for fault, names in columns.items()
    ]


def _check_not_turned(table: TextTable) -> None:
    """Refuse a table of depths down the side and stations along the top."""
    known = [name for name in table.columns if name in _LONG]
    if len(known) == 1 < len(table.columns) and known[0] in DEPTH_COLUMNS:
        depths = table.columns[known[0]]
        if len(set(depths)) < len(depths):
            return
        what = "Depths go down the side, and the other columns seem to be stations side by side."
        remedy = "Copy the table, paste it transposed, and add the station and place of each row."
        raise InputRefused([Fault(table.file, what, remedy)])


_LONG = frozenset({*_SHARED, *DEPTH_COLUMNS, *INDEX_COLUMNS})


def _wide_depth_cm(name: str) -> float | None:
    """Return the depth [cm] that a heading such as ``2.5 cm`` or ``10 in`` names."""
    match = _WIDE_DEPTH.fullmatch(name)
    if match is None:
        return None
    return round(float(match[1].replace(",", ".")) * CM_PER[(match[2] or match[3]).lower()], 6)


def _check_layout(
    cells: Cells, wide: Mapping[str, float], long_names: Sequence[str], cone_unit: str | None
) -> None:
    bare = [n for n in cells.table.columns if n not in wide and _NEAR_DEPTH.fullmatch(n)]
    if bare:
        which = listed([f"'{name}'" for name in bare])
        what = f"{which}: no depth with its unit alone."
        remedy = (
            "Head the column '2.5 cm', '25 mm' or '10 in', nothing else; the unit of the numbers "
            f"stands in a column '{_UNIT}' or in field.toml."
        )
        cells.fault(None, None, what, remedy)
    if wide and long_names:
        cells.fault(
            None,
            long_names[0],
            "The file is long and wide at once.",
            "Give one row a reading, or one row an insertion with depths as headings.",
        )
    families = (tuple(DEPTH_COLUMNS), tuple(INDEX_COLUMNS))
    allowed = {*_LONG, *wide, *bare, *([_UNIT] if wide or bare else [])}
    cells.check_columns(allowed, {"station"}, families)
    if wide:
        _check_wide(cells, wide, cone_unit)
    elif not bare:
        _check_one(cells, DEPTH_COLUMNS, "depth")
        _check_one(cells, INDEX_COLUMNS, "cone index")


def _check_wide(cells: Cells, wide: Mapping[str, float], cone_unit: str | None) -> None:
    if cone_unit is None and not cells.has(_UNIT):
        cells.fault(
            None,
            None,
            "The depths are headings, so the unit of the cone index is not stated.",
            'Add cone_unit = "kPa" (or "MPa", "psi") to [readings] in field.toml.',
        )
    depths = list(wide.values())
    for name, depth in wide.items():
        if depths.count(depth) > 1:
            cells.fault(
                None,
                name,
                f"Two headings name the depth of {depth:g} cm.",
                "Keep one column a depth.",
            )


def _check_one(cells: Cells, names: Mapping[str, str], what: str) -> None:
    present = [name for name in names if cells.has(name)]
    if not present:
        remedy = f"Add a column {' or '.join(names)}; the ending is the unit."
        cells.fault(None, next(iter(names)), f"No column holds the {what}.", remedy)
    elif len(present) > 1:
        cells.fault(
            None, present[1], f"The {what} stands in {' and '.join(present)}.", "Keep one of them."
        )


def _shared_columns(cells: Cells, areas: Collection[str]) -> dict[str, Column]:
    """Read the columns that long and wide logs have in common."""
    insertion = (
        cells.whole_numbers("insertion", low=0)
        if cells.has("insertion")
        else np.full(len(cells.table), -1, dtype=np.int64)
    )
    return {
        "station": cells.texts("station", required=True),
        "insertion": insertion,
        "date": cells.dates("date"),
        "moisture": _moisture(cells),
        "part": cells.words("part", (*PARTS, *sorted(areas))),
        "refused": cells.words("refused", ("yes", "no")),
        "note": cells.texts("note"),
        "row": cells.table.lines,
    }


def _moisture(cells: Cells) -> list[str]:
    """Words, or gravimetric moisture in percent as a plain number."""
    read = {
        cell: _moisture_word(cell.lower(), comma=cells.decimal_comma)
        for cell in set(cells.raw("moisture"))
    }
    for i, cell in enumerate(cells.raw("moisture")):
        if read[cell] is None:
            near = suggest(cell, MOISTURE_WORDS)
            remedy = f"Give what the thread test says, or percent as a number. {near}"
            cells.fault(i, "moisture", f"Found '{cell}'.", remedy)
    return [read[cell] or "" for cell in cells.raw("moisture")]


def _moisture_word(cell: str, *, comma: bool) -> str | None:
    if not cell or cell in MOISTURE_WORDS:
        return cell
    value = plain_number(cell.replace(",", ".") if comma else cell)
    return f"{value:g}" if 0 <= value <= 100 else None


def _long(cells: Cells, shared: Mapping[str, Column]) -> pd.DataFrame:
    depth_name = next((n for n in DEPTH_COLUMNS if cells.has(n)), "depth_cm")
    index_name = next((n for n in INDEX_COLUMNS if cells.has(n)), "cone_index_mpa")
    depth = cells.numbers(depth_name, low=0, required=True) * CM_PER[DEPTH_COLUMNS[depth_name]]
    unit = INDEX_COLUMNS[index_name]
    index = cells.numbers(index_name, low=0) * MPA_PER[unit]
    check_depths(cells, depth, depth_name)
    at = (np.arange(len(index)), np.zeros(len(index), dtype=np.intp))
    check_indices(cells, index, index_name, unit, at, [index_name])
    return pd.DataFrame({**shared, "depth_cm": np.round(depth, 6), "cone_index_mpa": index})


def _wide(
    cells: Cells,
    shared: Mapping[str, Column],
    wide: Mapping[str, float],
    cone_unit: str | None,
) -> pd.DataFrame:
    """Turn one row an insertion into one row a reading; blanks after the last reading fall away."""
    names = sorted(wide, key=lambda name: wide[name])
    depths = np.array([wide[name] for name in names])
    unit = _unit(cells, cone_unit)
    index = np.column_stack([cells.numbers(name, low=0) for name in names]) * MPA_PER[unit]
    check_depths(cells, depths, names[-1])
    row_of, depth_of = np.nonzero(_reached(index))
    if cells.has(_UNIT) or cone_unit is not None:
        key = _UNIT if cells.has(_UNIT) else UNIT_KEY
        check_indices(cells, index[row_of, depth_of], key, unit, (row_of, depth_of), names)
    base = pd.DataFrame(shared).take(row_of).reset_index(drop=True)
    return base.assign(
        depth_cm=depths[depth_of], cone_index_mpa=index[row_of, depth_of], wide_row=row_of
    )


def _unit(cells: Cells, cone_unit: str | None) -> str:
    """Return the unit of a wide file: what its own column says comes before ``field.toml``."""
    said = (cone_unit or "MPa").lower()
    if not cells.has(_UNIT):
        doubt_name(cells, said)
        return said
    own = {word.lower() for word in cells.words(_UNIT, list(INDEX_WORDS.values()), required=True)}
    units = sorted(own & set(INDEX_WORDS))
    if len(units) > 1:
        what = f"The column holds {' and '.join(INDEX_WORDS[unit] for unit in units)}."
        cells.fault(None, _UNIT, what, "Give the rows of each unit a file or a sheet of their own.")
    if units and cone_unit is not None and said not in units:
        cells.note("cone-unit-own", f"read in {INDEX_WORDS[units[0]]}, as its column {_UNIT} says")
    return units[0] if units else said


def _reached(index: Floats) -> NDArray[np.bool_]:
    """Mark cells down to the last reading of a row; a row without any keeps all its blanks."""
    known = np.isfinite(index)
    reached = np.cumsum(known[:, ::-1], axis=1)[:, ::-1] > 0
    reached[~known.any(axis=1)] = True
    return np.asarray(reached, dtype=bool)


__all__ = ["MOISTURE_WORDS", "read_cone"]
