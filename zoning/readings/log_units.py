"""Whether the numbers of a cone log fit the unit that its headings name."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from zoning.readings.cells import Cells, Floats
from zoning.readings.rules import rule
from zoning.readings.thousands import all_seem_parted, seems_parted, without_points
from zoning.units import CM_PER, MPA_PER

INDEX_WORDS = {"mpa": "MPa", "kpa": "kPa", "psi": "psi"}
Rows = np.ndarray[tuple[int, ...], np.dtype[np.intp]]
UNIT_KEY = "readings.cone_unit"
_OWN_UNIT = (
    " If this file alone is in another unit, give it a column 'cone_unit' with MPa, kPa or psi in "
    "each row: that comes before field.toml."
)
_NO_PAN = "In a wrong unit a pan reads as soft ground, and legs are lifted over it."
_ALL = "In a wrong unit soft ground reads as a pan."


def check_depths(cells: Cells, depth_cm: Floats, column: str) -> None:
    """Keep a fault if the log reaches deeper, or stays shallower, than a probe in soil does."""
    if not np.isfinite(depth_cm).any():
        return
    deepest = float(np.nanmax(depth_cm))
    most = rule("depth_max_cm")
    if deepest > most:
        what = f"The deepest reading would lie at {deepest:g} cm; {most:g} cm is the limit."
    elif deepest < rule("depth_deepest_min_cm"):
        what = f"The deepest reading would lie at {deepest:g} cm, too shallow for a log."
    else:
        return
    cells.fault(None, column, what, _depth_remedy(deepest, column))


def _depth_remedy(deepest_cm: float, column: str) -> str:
    unit = next((u for u in ("cm", "mm", "in") if column.lower().endswith(u)), "cm")
    plain = deepest_cm / CM_PER[unit]
    fits = {
        f"_{other}": plain * CM_PER[other]
        for other in ("cm", "mm", "in")
        if other != unit
        and 2 * rule("depth_deepest_min_cm") <= plain * CM_PER[other] <= rule("depth_max_cm")
    }
    if fits:
        said = ", ".join(
            f"ending {ending} would give {value:g} cm" for ending, value in fits.items()
        )
        return f"Check the unit: the {said}."
    return "Check the unit: depths are in cm, mm or in, as the heading says."


def check_indices(
    cells: Cells,
    index_mpa: Floats,
    column: str,
    unit: str,
    at: tuple[Rows, Rows],
    names: Sequence[str],
) -> None:
    """Keep a fault if the median cone index, or any one of them, is beyond what soil gives.

    Parameters
    ----------
    cells
        Where faults go.
    index_mpa
        Cone index, NaN where blank [MPa], shape ``(readings,)``.
    column
        Heading, or the key that names the unit.
    unit
        ``mpa``, ``kpa`` or ``psi``.
    at
        Row of the table that each reading came from and its place in `names`, each of shape
        ``(readings,)``.
    names
        Headings of the columns that hold them.
    """
    positive = index_mpa[index_mpa > 0]
    if positive.size == 0:
        return
    median, most = float(np.median(positive)), rule("cone_index_max_mpa")
    unfit = not _fits(median) or bool((index_mpa > most).any())
    parted = _units_without_points(cells, names)
    if unit in parted or (unfit and parted):
        fits = " or ".join(INDEX_WORDS[u] for u in parted)
        more = f" Without them the numbers fit {fits}."
        cells.thousands(names, lambda cell: seems_parted(_pointed(cells, cell)), more)
    elif not _fits(median):
        low, high = rule("cone_index_median_min_mpa"), rule("cone_index_median_max_mpa")
        what = (
            f"The median cone index would be {median:.3g} MPa; soil gives {low:g} to {high:g} MPa."
        )
        remedy = _index_remedy(median / MPA_PER[unit], unit)
        cells.fault(None, column, what, remedy + (_OWN_UNIT if column == UNIT_KEY else ""))
    else:
        _too_hard(cells, index_mpa, at, names)
        _marked(cells, index_mpa, unit, at, names)
        _doubt(cells, float(positive.max()), unit)


def _doubt(cells: Cells, hardest_mpa: float, unit: str) -> None:
    """Ask for the unit where the hardest reading is soft for soil, or hard for a hand to push."""
    least, most = rule("cone_index_hardest_min_mpa"), rule("cone_index_hand_max_mpa")
    said = f"the hardest {hardest_mpa:.2g} MPa"
    if hardest_mpa <= least:
        ask = "Is it psi?" if unit == "kpa" else "Check the unit."
        what = f"no reading above {least:g} MPa at any depth, {said}. {ask} {_NO_PAN}"
        cells.caution("cone-index-soft", what)
    elif unit == "psi" and hardest_mpa > most:
        what = f"readings above {most:g} MPa, {said}: few push so hard by hand. Is it kPa? {_ALL}"
        cells.caution("cone-index-hard", what)


def doubt_name(cells: Cells, unit: str) -> None:
    """Ask for the unit where the name of the file or its sheet says another."""
    named = set(re.findall("[a-z]+", cells.table.file.casefold())) & set(INDEX_WORDS)
    if named and unit not in named:
        other = " and ".join(INDEX_WORDS[name] for name in sorted(named))
        what = (
            f"the name says {other}, and the file is read in {INDEX_WORDS[unit]}, as field.toml "
            f"says.{_OWN_UNIT}"
        )
        cells.caution("cone-unit-name", what)


def _units_without_points(cells: Cells, names: Sequence[str]) -> list[str]:
    """Return the units that the numbers fit if their marks stand between thousands."""
    texts = [_pointed(cells, cell) for name in names for cell in cells.raw(name) if cell]
    if not all_seem_parted(texts):
        return []
    plain = np.array([without_points(cell) for cell in texts])
    positive, most = plain[plain > 0], rule("cone_index_max_mpa")
    return [
        unit
        for unit, factor in MPA_PER.items()
        if positive.size and _fits(float(np.median(positive)) * factor)
        if positive.max() * factor <= most
    ]


def _pointed(cells: Cells, cell: str) -> str:
    """Return a cell with a point where the file has a decimal comma."""
    return cell.replace(",", ".") if cells.decimal_comma else cell


def _marked(
    cells: Cells, index_mpa: Floats, unit: str, at: tuple[Rows, Rows], names: Sequence[str]
) -> None:
    """Keep a fault of each row with the number that stands for no reading in many logs."""
    mark = rule("no_reading_mark")
    found = np.flatnonzero(np.isclose(index_mpa, mark * MPA_PER[unit]))
    what = f"Found {mark:g}, by which many logs mark that there is no reading."
    _fault_rows(cells, found, at, names, (what, "Leave the cell blank."))


def _too_hard(cells: Cells, index_mpa: Floats, at: tuple[Rows, Rows], names: Sequence[str]) -> None:
    """Keep a fault of each row with an impossible cone index, all in the same words."""
    most = rule("cone_index_max_mpa")
    over = np.flatnonzero(index_mpa > most)
    if not over.size:
        return
    what = f"Found a cone index of {index_mpa[over[0]]:.3g} MPa."
    if over.size > 1:
        hardest = f"the hardest {index_mpa[over].max():.3g} MPa"
        what = f"Found {over.size} cone indices above {most:g} MPa, {hardest}."
    remedy = f"The limit is {most:g} MPa: mend the number or leave the cell blank."
    _fault_rows(cells, over, at, names, (what, remedy))


def _fault_rows(
    cells: Cells,
    found: Rows,
    at: tuple[Rows, Rows],
    names: Sequence[str],
    words: tuple[str, str],
) -> None:
    """Keep the same fault of each row of the readings `found`, under the headings they span."""
    if not found.size:
        return
    row_of, column_of = at[0][found], at[1][found]
    first, last = names[column_of.min()], names[column_of.max()]
    column = first if first == last else f"{first} to {last}"
    for row in np.unique(row_of).tolist():
        cells.fault(row, column, *words)


def _fits(median_mpa: float) -> bool:
    return rule("cone_index_median_min_mpa") <= median_mpa <= rule("cone_index_median_max_mpa")


def _index_remedy(plain: float, unit: str) -> str:
    fits = [INDEX_WORDS[u] for u, factor in MPA_PER.items() if u != unit and _fits(plain * factor)]
    bar = " Numbers in bar: divide by 10 for MPa." if unit == "mpa" and _fits(plain / 10) else ""
    if fits:
        return f"Check the unit: the numbers would fit {' or '.join(fits)}.{bar}"
    return f"Check the unit: the cone index is in MPa, kPa or psi, as the heading says.{bar}"
