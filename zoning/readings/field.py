"""A whole field folder read into one `FieldInputs`."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

import geopandas as gpd
import pandas as pd
from pyproj import CRS

from zoning.errors import Fault, InputRefused
from zoning.model import FieldInputs, InputFile, Notice, Settings
from zoning.readings.boundary import Outline, outline
from zoning.readings.checked_table import CheckedTable
from zoning.readings.cone import read_cone
from zoning.readings.features import Layer
from zoning.readings.files import Blob, inside, read_text_file, read_vector_file
from zoning.readings.frames import (
    CONE_COLUMNS,
    CONE_ORDER,
    PIT_COLUMNS,
    PIT_ORDER,
    TRIAL_COLUMNS,
    TRIAL_ORDER,
    framed,
)
from zoning.readings.insertions import number_insertions, spread_faults
from zoning.readings.layers import (
    PlacedLayer,
    empty_layer,
    read_gateways,
    read_hazards,
    read_named_areas,
    read_wheelings,
)
from zoning.readings.pits import read_pits, read_trials
from zoning.readings.places import PlacedTable, no_rows_left_out, place
from zoning.readings.settings_check import names_of, settings_notices
from zoning.readings.site import Site
from zoning.readings.systems import crs_text, stated_crs
from zoning.readings.text_table import limited
from zoning.readings.toml_file import FIELD_FILE, read_settings
from zoning.readings.vector import read_layer

T = TypeVar("T")


@dataclass(slots=True)
class _Gathered:
    """What comes together while the files of one folder are read."""

    folder: Path
    settings: Settings
    files: list[InputFile]
    faults: list[Fault] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)
    left_out: list[pd.DataFrame] = field(default_factory=list)

    def attempt(self, work: Callable[[], T]) -> T | None:
        """Do one piece of work; keep its faults and go on, so that all files speak at once."""
        try:
            return work()
        except InputRefused as error:
            self.faults.extend(limited(error.faults))
            return None

    def text(self, name: str, role: str) -> Blob:
        """Read a CSV file and list it."""
        blob = read_text_file(self.folder, name, role)
        self.files.append(blob.record)
        return blob

    def vector(self, name: str, role: str) -> Blob:
        """Read a vector file and list it."""
        blob = read_vector_file(self.folder, name, role)
        self.files.append(blob.record)
        return blob


@dataclass(frozen=True, slots=True, eq=False)
class _Layers:
    wheeling_lines: gpd.GeoDataFrame
    gateways: gpd.GeoDataFrame
    named_areas: gpd.GeoDataFrame
    hazards: gpd.GeoDataFrame

    @property
    def area_names(self) -> frozenset[str]:
        return frozenset(self.named_areas["area"])


def read_field(folder: Path, *, need_readings: bool = True) -> FieldInputs:
    """Read, check and project everything that ``field.toml`` of a folder names.

    Parameters
    ----------
    folder
        The field folder.
    need_readings
        Whether a field without cone log and pits is refused.

    Returns
    -------
    FieldInputs
        Depths in cm, cone index in MPa, places in the working CRS [m]; frames sorted by station,
        insertion and depth, so that the order of the rows in a file does not matter.

    Raises
    ------
    InputRefused
        With all faults of all files that could be read.
    """
    folder = Path(folder)
    if not folder.is_dir():
        raise InputRefused(
            [
                Fault(
                    str(folder),
                    "There is no such folder.",
                    "Name the folder that holds field.toml.",
                )
            ]
        )
    read = read_settings(folder)
    gathered = _Gathered(
        folder, read.settings, list(read.files), notices=settings_notices(read.settings)
    )
    if need_readings:
        _check_present(gathered)
    found = _outline(gathered)
    layers = _layers(gathered, found.site)
    crs = _readings_crs(gathered)
    cone = _cone(gathered, found.site, crs, layers.area_names, "cone")
    after = _cone(gathered, found.site, crs, layers.area_names, "cone_after")
    pits = _pits(gathered, found.site, crs, layers.area_names)
    trials = _trials(gathered)
    _check_backdrop(gathered)
    if gathered.faults:
        raise InputRefused(gathered.faults)
    return FieldInputs(
        settings=read.settings,
        boundary=found.site.boundary,
        working_crs=crs_text(found.site.crs),
        crs_accuracy_m=found.crs_accuracy_m,
        cone=cone,
        cone_after=after,
        pits=pits,
        wheeling_lines=layers.wheeling_lines,
        gateways=layers.gateways,
        named_areas=layers.named_areas,
        hazards=layers.hazards,
        left_out=_left_out(gathered),
        files=tuple(gathered.files),
        notices=tuple(sorted(set(gathered.notices))),
        trials=trials,
    )


def _check_present(gathered: _Gathered) -> None:
    readings = gathered.settings.readings
    if readings.cone is None and readings.pits is None:
        raise InputRefused(
            [
                Fault(
                    FIELD_FILE,
                    "Neither cone readings nor pits are named.",
                    "Add cone or pits to [readings].",
                    column="readings",
                )
            ]
        )


def _outline(gathered: _Gathered) -> Outline:
    section = gathered.settings.field
    blob = gathered.vector(section.boundary, "boundary")
    layer = read_layer(blob, section.boundary_layer, "field.boundary_layer")
    found = outline(layer, section.working_crs, FIELD_FILE)
    gathered.notices.extend(found.notices)
    return found


def _layers(gathered: _Gathered, site: Site) -> _Layers:
    areas, hazards = gathered.settings.areas, gathered.settings.hazards
    lines = areas.wheelings.lines if areas.wheelings is not None else None
    plain = empty_layer(site, {})
    hazard_columns = {"kind": "str", "depth_cm": "float64", "clear_m": "float64"}
    return _Layers(
        _layer(gathered, site, lines, "wheelings", read_wheelings, plain),
        _layer(gathered, site, areas.gateways, "gateways", read_gateways, plain),
        _layer(
            gathered,
            site,
            areas.named,
            "named areas",
            read_named_areas,
            empty_layer(site, {"area": "str"}),
        ),
        _layer(
            gathered, site, hazards.file, "hazards", read_hazards, empty_layer(site, hazard_columns)
        ),
    )


def _layer(
    gathered: _Gathered,
    site: Site,
    name: str | None,
    role: str,
    reader: Callable[[Layer, Site], PlacedLayer],
    empty: gpd.GeoDataFrame,
) -> gpd.GeoDataFrame:
    if name is None:
        return empty
    placed = gathered.attempt(lambda: reader(read_layer(gathered.vector(name, role)), site))
    if placed is None:
        return empty
    gathered.notices.extend(placed.notices)
    return placed.frame


def _readings_crs(gathered: _Gathered) -> CRS | None:
    text = gathered.settings.readings.crs
    if text is None:
        return None
    return gathered.attempt(lambda: stated_crs(text, FIELD_FILE, "readings.crs"))


def _tables(
    gathered: _Gathered,
    value: str | list[str] | None,
    role: str,
    reader: Callable[[Blob], CheckedTable],
) -> list[CheckedTable]:
    """Read the files of one role; a file with faults gives none."""
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
        table = gathered.attempt(lambda blob=blob: reader(blob))  # type: ignore[misc]
        if table is not None and not table.faults:
            gathered.notices.extend(table.notices)
            tables.append(table)
        elif table is not None:
            gathered.faults.extend(table.faults)
    return tables


def _cone(
    gathered: _Gathered, site: Site, crs: CRS | None, areas: frozenset[str], role: str
) -> pd.DataFrame:
    readings = gathered.settings.readings
    value = readings.cone if role == "cone" else readings.cone_after

    def reader(blob: Blob) -> CheckedTable:
        return read_cone(
            blob, cone_unit=readings.cone_unit, crs_given=readings.crs is not None, areas=areas
        )

    tables = _tables(gathered, value, role, reader)
    if not tables:
        return framed([], CONE_COLUMNS, CONE_ORDER)
    joined = pd.concat([t.frame.assign(file=t.file) for t in tables], ignore_index=True)
    numbered, faults, notices = number_insertions(joined)
    gathered.faults.extend(limited(faults))
    gathered.notices.extend(notices)
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


def _pits(gathered: _Gathered, site: Site, crs: CRS | None, areas: frozenset[str]) -> pd.DataFrame:
    readings = gathered.settings.readings
    tables = _tables(
        gathered,
        readings.pits,
        "pits",
        lambda blob: read_pits(blob, crs_given=readings.crs is not None, areas=areas),
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
    again = joined[joined.duplicated(["pit", "phase"])]
    return [
        Fault(
            str(row.file),
            f"Pit '{row.pit}' of phase '{row.phase}' stands in another file too.",
            "Give each pit of a phase its own name.",
            row=int(row.row),
            column="pit",
        )
        for row in again[["file", "pit", "phase", "row"]].itertuples()
    ]


def _missing_photos(gathered: _Gathered, joined: pd.DataFrame) -> list[Notice]:
    """Photos are looked for and not read; one that is missing is told, one outside is a fault."""
    missing = []
    for name in sorted(set(joined["photo"]) - {""}):
        try:
            inside(gathered.folder, name, "photo")
        except InputRefused as error:
            if "was not found" not in str(error):
                gathered.faults.extend(error.faults)
                continue
            missing.append(name)
    if not missing:
        return []
    return [
        Notice("note", "photo-missing", f"Photos not found in the folder: {', '.join(missing)}.")
    ]


def _placed(
    gathered: _Gathered,
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
        placed: PlacedTable = place(own, site, crs, group, rows["what"])
        gathered.faults.extend(placed.faults)
        gathered.notices.extend(placed.notices)
        gathered.left_out.append(placed.left_out)
        if not placed.faults:
            kept.append(placed.frame)
    return kept


def _trials(gathered: _Gathered) -> pd.DataFrame:
    tables = _tables(gathered, gathered.settings.readings.trials, "trials", read_trials)
    return framed([t.frame for t in tables], TRIAL_COLUMNS, TRIAL_ORDER)


def _check_backdrop(gathered: _Gathered) -> None:
    name = gathered.settings.field.backdrop
    if name is not None:
        gathered.attempt(lambda: inside(gathered.folder, name, "backdrop"))


def _left_out(gathered: _Gathered) -> pd.DataFrame:
    rows = pd.concat([no_rows_left_out(), *gathered.left_out], ignore_index=True)
    return rows.sort_values(["file", "row", "what"], kind="stable").reset_index(drop=True)
