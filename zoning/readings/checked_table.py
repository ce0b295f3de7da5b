"""One readings file after its cells were checked, and its two place columns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd

from zoning.errors import Fault
from zoning.model import Notice
from zoning.readings.cells import Cells, Floats
from zoning.readings.thousands import seems_parted

PlaceKind = Literal["degrees", "grid"]
PLACE_COLUMNS = ("lon", "lat", "easting", "northing")


@dataclass(frozen=True, slots=True, eq=False)
class CheckedTable:
    """Rows of one file, units converted, places as given.

    Parameters
    ----------
    file
        Name as the user wrote it.
    frame
        Rows, with the places in the columns ``given_x, given_y``.
    places
        ``degrees`` (longitude, latitude) or ``grid`` (easting, northing).
    faults, notices
        What was wrong; what must be told.
    """

    file: str
    frame: pd.DataFrame
    places: PlaceKind
    faults: tuple[Fault, ...]
    notices: tuple[Notice, ...]


def place_columns(cells: Cells, *, crs_given: bool) -> tuple[PlaceKind, Floats, Floats]:
    """Return the kind of places and the two coordinates of each row; faults go to `cells`."""
    degrees = [name for name in ("lon", "lat") if cells.has(name)]
    grid = [name for name in ("easting", "northing") if cells.has(name)]
    if degrees and grid:
        cells.fault(
            None,
            None,
            "Both lon, lat and easting, northing are given.",
            "Keep one pair of columns.",
        )
    if grid and not degrees:
        return _grid(cells, crs_given=crs_given)
    for name in {"lon", "lat"} - set(degrees):
        cells.fault(
            None, name, "This column is missing.", "Add lon and lat, or easting and northing."
        )
    _check_given(cells, degrees)
    lon, lat = cells.degrees("lon"), cells.degrees("lat")
    _check_degrees(cells, lon, lat)
    return "degrees", lon, lat


def _grid(cells: Cells, *, crs_given: bool) -> tuple[PlaceKind, Floats, Floats]:
    if not crs_given:
        cells.fault(
            None,
            "easting",
            "The file has easting and northing but no coordinate system is named.",
            'Add crs = "EPSG:..." to [readings] in field.toml.',
        )
    _check_given(cells, [name for name in ("easting", "northing") if cells.has(name)])
    for name in ("easting", "northing"):
        if not cells.has(name):
            cells.fault(None, name, "This column is missing.", "Give both easting and northing.")
        elif not cells.decimal_comma and all(map(seems_parted, cells.raw(name))):
            cells.thousands([name])  # 312.030 m east of its origin lies no field
    return "grid", cells.numbers("easting", required=True), cells.numbers("northing", required=True)


def _check_given(cells: Cells, names: Sequence[str]) -> None:
    """Keep one fault for each row without any place, and no more of that row."""
    blank = [
        i for i, given in enumerate(zip(*map(cells.raw, names), strict=True)) if not any(given)
    ]
    remedy = "Write the place in every row; delete a row that is no reading, such as a mean."
    for i in blank:
        cells.fault(i, None, f"The row has no {' and no '.join(names)}.", remedy)
    cells.pass_over(blank)


def _check_degrees(cells: Cells, lon: Floats, lat: Floats) -> None:
    beyond = (np.abs(lon) > 180) | (np.abs(lat) > 90)
    if not beyond.any():
        return
    share = float(np.mean(beyond))
    if share > 0.5 and np.nanmax(np.abs(np.concatenate([lon, lat]))) > 360:
        cells.fault(
            None,
            "lon",
            f"Found {lon[beyond][0]:g}, {lat[beyond][0]:g}: these are no degrees.",
            "Name metres easting and northing, and state readings.crs.",
        )
    elif share > 0.5 and (np.abs(lon[beyond]) <= 90).all():
        cells.fault(
            None,
            "lat",
            f"Found latitude {lat[beyond][0]:g}, beyond 90 degrees.",
            "Did you swap lon and lat?",
        )
    else:
        for i in np.flatnonzero(beyond):
            cells.fault(
                int(i),
                "lat" if abs(lat[i]) > 90 else "lon",
                f"Found {lon[i]:g}, {lat[i]:g}.",
                "Longitude lies within 180 and latitude within 90 degrees.",
            )
