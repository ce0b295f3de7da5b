"""A whole field folder read into one `FieldInputs`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd
import pandas as pd
from pyproj import CRS

from zoning.errors import Fault, InputRefused
from zoning.model import FieldInputs, Notice
from zoning.model.pictures import Backdrop
from zoning.readings.boundary import Outline, outline
from zoning.readings.features import BOUNDARY_KEY, Layer
from zoning.readings.files import is_folder
from zoning.readings.gathered import Gathered
from zoning.readings.layers import (
    PlacedLayer,
    empty_layer,
    read_gateways,
    read_hazards,
    read_named_areas,
    read_wheelings,
)
from zoning.readings.logs import cone_frame, pits_frame, trials_frame
from zoning.readings.pictures import read_backdrop, read_photos
from zoning.readings.places import no_rows_left_out
from zoning.readings.settings_check import machine_notices, settings_notices
from zoning.readings.site import Site
from zoning.readings.systems import crs_text, stated_crs
from zoning.readings.toml_file import FIELD_FILE, read_settings
from zoning.readings.vector import read_layer


@dataclass(frozen=True, slots=True)
class _Meant:
    """What a file is for, in words, and the key of ``field.toml`` that names it."""

    role: str
    key: str


_WHEELINGS = _Meant("wheelings", "areas.wheelings.lines")
_GATEWAYS = _Meant("gateways", "areas.gateways")
_NAMED = _Meant("named areas", "areas.named")
_HAZARDS = _Meant("hazards", "hazards.file")


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
    if not is_folder(folder):
        raise InputRefused([_no_folder(folder)])
    read = read_settings(folder)
    told = [
        *settings_notices(read.settings),
        *machine_notices(read.settings.machine, read.machine_keys),
    ]
    gathered = Gathered(folder, read.settings, list(read.files), notices=told)
    if need_readings:
        _check_present(gathered)
    found = _outline(gathered)
    layers = _layers(gathered, found.site)
    crs = _readings_crs(gathered)
    cone = cone_frame(gathered, found.site, crs, layers.area_names, "cone")
    after = cone_frame(gathered, found.site, crs, layers.area_names, "cone_after")
    pits = pits_frame(gathered, found.site, crs, layers.area_names)
    trials = trials_frame(gathered)
    backdrop = _backdrop(gathered, found.site)
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
        backdrop=backdrop,
        photos=read_photos(folder, pits["photo"]),
    )


def _no_folder(folder: Path) -> Fault:
    if folder.name == FIELD_FILE and is_folder(folder.parent):
        return Fault(str(folder), "This is no folder.", f"Name the folder alone: {folder.parent}")
    what = "There is no such folder, or it may not be read."
    return Fault(str(folder), what, "Name the folder that holds field.toml.")


def _check_present(gathered: Gathered) -> None:
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


def _outline(gathered: Gathered) -> Outline:
    section = gathered.settings.field
    blob = gathered.vector(section.boundary, "boundary")
    layer = read_layer(blob, section.boundary_layer, BOUNDARY_KEY)
    found = outline(layer, section.working_crs, FIELD_FILE, name=section.name)
    gathered.notices.extend(found.notices)
    return found


def _layers(gathered: Gathered, site: Site) -> _Layers:
    areas, hazards = gathered.settings.areas, gathered.settings.hazards
    lines = areas.wheelings.lines if areas.wheelings is not None else None
    plain = empty_layer(site, {})
    area_columns = {"area": "str"}
    hazard_columns = {"kind": "str", "name": "str", "depth_cm": "float64", "clear_m": "float64"}
    return _Layers(
        _layer(gathered, site, lines, _WHEELINGS, read_wheelings, plain),
        _layer(gathered, site, areas.gateways, _GATEWAYS, read_gateways, plain),
        _layer(
            gathered, site, areas.named, _NAMED, read_named_areas, empty_layer(site, area_columns)
        ),
        _layer(
            gathered, site, hazards.file, _HAZARDS, read_hazards, empty_layer(site, hazard_columns)
        ),
    )


def _layer(
    gathered: Gathered,
    site: Site,
    name: str | None,
    meant: _Meant,
    reader: Callable[[Layer, Site], PlacedLayer],
    empty: gpd.GeoDataFrame,
) -> gpd.GeoDataFrame:
    if name is None:
        return empty
    placed = gathered.attempt(lambda: _placed(gathered, site, name, meant, reader))
    if placed is None:
        return empty
    gathered.notices.extend(placed.notices)
    return placed.frame


def _placed(
    gathered: Gathered,
    site: Site,
    name: str,
    meant: _Meant,
    reader: Callable[[Layer, Site], PlacedLayer],
) -> PlacedLayer | None:
    """Return a layer in its place; a file without features is told and gives nothing."""
    layer = read_layer(gathered.vector(name, meant.role), key=meant.key, may_be_empty=True)
    if layer.features:
        return reader(layer, site)
    text = f"{name}: the file holds no {meant.role}."
    gathered.notices.append(Notice("caution", "layer-empty", text))
    return None


def _readings_crs(gathered: Gathered) -> CRS | None:
    text = gathered.settings.readings.crs
    if text is None:
        return None
    crs = stated_crs(text, FIELD_FILE, "readings.crs")
    if not crs.is_projected:
        what = f"'{text}' is not a projected system."
        remedy = "Name the system of easting and northing; degrees are columns lon and lat."
        raise InputRefused([Fault(FIELD_FILE, what, remedy, column="readings.crs")])
    return crs


def _backdrop(gathered: Gathered, site: Site) -> Backdrop | None:
    name = gathered.settings.field.backdrop
    if name is None:
        return None
    return gathered.attempt(
        lambda: read_backdrop(gathered.folder, name, site.boundary, crs_text(site.crs))
    )


def _left_out(gathered: Gathered) -> pd.DataFrame:
    rows = pd.concat([no_rows_left_out(), *gathered.left_out], ignore_index=True)
    return rows.sort_values(["file", "row", "what"], kind="stable").reset_index(drop=True)
