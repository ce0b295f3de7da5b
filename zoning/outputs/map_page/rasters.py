"""Surfaces of the map page: pictures laid out in the web map projection, with their classes.

The grid of the working coordinate system lies turned and bent on a web map, so each dot of a
picture is traced back to the cell that holds it. A cell has the value of the part that its middle
lies in; on ground of another part a dot takes the nearest cell of that part, so that headlands and
wheelings keep their own edges. The projection is the spherical Mercator of web maps, counted from
the middle of the field.
"""

from __future__ import annotations

import base64
import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise, product
from typing import Any

import numpy as np
import rasterio
import shapely
from numpy.typing import NDArray
from rasterio.features import rasterize
from rasterio.io import MemoryFile
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant, rows
from zoning.grid import Grid
from zoning.model import Plan
from zoning.outputs.map_page.places import RULES, Places
from zoning.outputs.places import LONLAT, decimals, transformed

DOTS = rasterio.Affine(2.0, 0.0, 0.0, 0.0, -2.0, 0.0)
"""A place given to pictures that have none of their own: without one GDAL complains."""
RADIUS_M = 6_378_137.0
"""Radius of the sphere of web maps (EPSG:3857)."""
_NICE_STEPS_CM = (0.5, 1.0, 2.0, 2.5, 5.0, 10.0, 20.0)


@dataclass(frozen=True, slots=True)
class Sheet:
    """A picture's place in the web map projection, counted from the longitude of the field.

    Parameters
    ----------
    west_m, north_m
        Upper left corner [m on the sphere of web maps].
    dot_m
        Side of a dot [m on the sphere of web maps].
    rows, columns
        Number of dots down and across.
    """

    west_m: float
    north_m: float
    dot_m: float
    rows: int
    columns: int

    @classmethod
    def over(cls, lonlat: NDArray[np.float64], lon0: float, dot_m: float, most: int) -> Sheet:
        """Return the sheet over the places `lonlat`, dots of `dot_m` or larger for `most`."""
        x, y = _on_web(lonlat, lon0).T
        across, down = float(np.ptp(x)), float(np.ptp(y))
        dot = max(dot_m, max(across, down) / most)
        columns, lines = max(1, math.ceil(across / dot)), max(1, math.ceil(down / dot))
        return cls(float(x.min()), float(y.max()), dot, lines, columns)

    def bounds(self, lon0: float) -> list[list[float]]:
        """Return south-west and north-east corner as latitude and longitude as written [deg]."""
        east, south = (
            self.west_m + self.columns * self.dot_m,
            self.north_m - self.rows * self.dot_m,
        )
        corners = (
            (_latitude(south), lon0 + math.degrees(self.west_m / RADIUS_M)),
            (_latitude(self.north_m), lon0 + math.degrees(east / RADIUS_M)),
        )
        return [[round(value, decimals()) for value in corner] for corner in corners]

    def lonlat(self, lon0: float) -> NDArray[np.float64]:
        """Return the middle of every dot, ``(rows * columns, 2)`` [deg]."""
        x = self.west_m + (np.arange(self.columns) + 0.5) * self.dot_m
        y = self.north_m - (np.arange(self.rows) + 0.5) * self.dot_m
        lat = np.degrees(np.arctan(np.sinh(y / RADIUS_M)))
        lon = lon0 + np.degrees(x / RADIUS_M)
        return np.column_stack([np.tile(lon, self.rows), np.repeat(lat, self.columns)])


@dataclass(frozen=True, slots=True)
class Classes:
    """Limits of the classes of a surface, one more than there are classes, and their words."""

    limits: tuple[float, ...]
    words: tuple[str, ...]

    @property
    def tones(self) -> list[str]:
        """A colour for each class, light for small and dark for large values."""
        scale = {int(row["step"]): row["colour"] for row in rows("depth_colours")}
        last = max(scale)
        count = len(self.words)
        return [scale[round(last * (1 - rank / max(count - 1, 1)))] for rank in range(count)]

    def of(self, values: NDArray[np.float64]) -> NDArray[np.uint8]:
        """Return the class of each value, counted from 1; 0 where the value is not known."""
        known = np.isfinite(values)
        found = np.digitize(np.where(known, values, self.limits[0]), self.limits[1:-1]) + 1
        return np.where(known, found, 0).astype(np.uint8)


def surfaces(plan: Plan, places: Places) -> list[dict[str, Any]]:
    """Return pan base, its standard deviation and the probability of a pan as pictures."""
    sheet = _sheet_of(plan.grid, places)
    cells = _cells_under(sheet, plan, places)
    told = (
        ("pan_base", "Pan base", "cm below the surface, where there is a pan", "pan_base_cm"),
        ("pan_base_sd", "Uncertainty of the pan base",
         "cm, one standard deviation; the same classes on every field", "pan_base_sd_cm"),
        ("pan_probability", "Probability of a pan",
         "% likely that a pan is there; the same classes on every field", "pan_probability"),
    )  # fmt: skip
    found = []
    for name, title, unit, band in told:
        values = np.where(plan.inside, plan.rasters[band], np.nan).ravel()
        classes = _cm_classes(values) if band == "pan_base_cm" else _fixed_classes(band)
        ranks = np.where(cells >= 0, classes.of(values)[cells], 0).astype(np.uint8)
        picture = _png(ranks.reshape(sheet.rows, sheet.columns), classes.tones)
        found.append(
            {
                "name": name, "title": title, "unit": unit,
                "bounds": sheet.bounds(places.lon),
                "classes": [
                    {"tone": tone, "words": words}
                    for tone, words in zip(classes.tones, classes.words, strict=True)
                ],
                "picture": data_address("image/png", picture),
            }
        )  # fmt: skip
    return found


def data_address(media_type: str, content: bytes) -> str:
    """Return `content` as an address that needs no file (RFC 2397)."""
    return f"data:{media_type};base64,{base64.b64encode(content).decode('ascii')}"


def _sheet_of(grid: Grid, places: Places) -> Sheet:
    """Return the sheet over a grid."""
    x = grid.west_m + grid.cell_m * np.linspace(0, grid.columns, 9)
    y = grid.north_m - grid.cell_m * np.linspace(0, grid.rows, 9)
    corners = np.column_stack([np.repeat(x, 9), np.tile(y, 9)])
    dot = grid.cell_m / math.cos(math.radians(places.lat)) / constant(RULES, "overlay_px_a_cell")
    most = int(constant(RULES, "overlay_most_px"))
    return Sheet.over(places.lonlat(corners), places.lon, dot, most)


def _cells_under(sheet: Sheet, plan: Plan, places: Places) -> NDArray[np.int64]:
    """Return the cell that each dot shows, -1 off the field: that under it, or the next."""
    shapes = plan.parts.sort_values(["part", "kind"], kind="stable").geometry.to_list()
    drawn = [
        shapely.transform(shape, lambda xy: _on_web(places.lonlat(xy), places.lon))
        for shape in shapes
    ]
    on_sheet = (sheet.rows, sheet.columns), sheet.west_m, sheet.north_m, sheet.dot_m
    of_dot = _burnt(drawn, *on_sheet, touched=False)
    of_dot = np.where(of_dot, of_dot, _burnt(drawn, *on_sheet, touched=True))
    grid = plan.grid
    of_cell = _burnt(shapes, grid.shape, grid.west_m, grid.north_m, grid.cell_m, touched=False)
    of_cell[~plan.inside.ravel()] = 0
    dots = np.flatnonzero(of_dot)
    lonlat = sheet.lonlat(places.lon)[dots]
    lonlat[:, 0] = (lonlat[:, 0] + 180.0) % 360.0 - 180.0
    xy_m = transformed(lonlat, LONLAT, places.crs)
    own = grid.cell_of(xy_m)
    stray = np.flatnonzero((own >= 0) & (of_cell[own] != of_dot[dots]))
    own[stray] = _beside(grid, xy_m[stray], own[stray], of_cell, of_dot[dots[stray]])
    cells = np.full(len(of_dot), -1, dtype=np.int64)
    cells[dots] = own
    return cells


def _beside(
    grid: Grid,
    xy_m: NDArray[np.float64],
    cells: NDArray[np.int64],
    of_cell: NDArray[np.uint16],
    wanted: NDArray[np.uint16],
) -> NDArray[np.int64]:
    """Return of the cells about each place the nearest in the part `wanted`.

    In a corner of a part too small for any, it is the nearest that has a value.

    Parameters
    ----------
    grid
        The cells.
    xy_m
        The places, shape ``(n, 2)`` [m].
    cells
        The cell that holds each, shape ``(n,)``.
    of_cell
        Number of the part that each cell of the grid has its value from, 0 where it has none.
    wanted
        Number of the part that each place lies in, shape ``(n,)``.
    """
    found, least = cells.copy(), np.full(len(cells), np.inf)
    row, column = np.divmod(cells, grid.columns)
    for down, across in product((-1, 0, 1), repeat=2):
        r, c = row + down, column + across
        held = (r >= 0) & (r < grid.rows) & (c >= 0) & (c < grid.columns)
        next_to = np.where(held, r * grid.columns + c, cells)
        x = grid.west_m + (c + 0.5) * grid.cell_m
        y = grid.north_m - (r + 0.5) * grid.cell_m
        away = np.hypot(x - xy_m[:, 0], y - xy_m[:, 1])
        away += np.where(of_cell[next_to] == wanted, 0.0, 3.0 * grid.cell_m)  # farther than any
        nearer = held & (of_cell[next_to] > 0) & (away < least)
        found[nearer], least[nearer] = next_to[nearer], away[nearer]
    return found


def _burnt(
    shapes: Sequence[BaseGeometry],
    size: tuple[int, int],
    west_m: float,
    north_m: float,
    side_m: float,
    *,
    touched: bool,
) -> NDArray[np.uint16]:
    """Return for each dot or cell the number, from 1, of the shape that holds its middle.

    With `touched` it is a shape that meets it anywhere; 0 stands for none.
    """
    numbered = [(shape, number) for number, shape in enumerate(shapes, 1) if not shape.is_empty]
    place = rasterio.Affine(side_m, 0.0, west_m, 0.0, -side_m, north_m)
    burnt = rasterize(
        numbered, out_shape=size, transform=place, dtype="uint16", all_touched=touched
    )
    return np.asarray(burnt, dtype=np.uint16).ravel()


def _on_web(lonlat: NDArray[np.float64], lon0: float) -> NDArray[np.float64]:
    """Return places on the sphere of web maps, counted from the longitude `lon0` [m]."""
    x = RADIUS_M * np.radians(lonlat[:, 0] - lon0)
    y = RADIUS_M * np.arcsinh(np.tan(np.radians(lonlat[:, 1])))
    return np.column_stack([x, y])


def _cm_classes(values: NDArray[np.float64]) -> Classes:
    known = values[np.isfinite(values)]
    low, high = (float(known.min()), float(known.max())) if known.size else (0.0, 1.0)
    most = int(constant(RULES, "classes_most"))
    step = next(
        (s for s in _NICE_STEPS_CM if math.ceil(high / s) - math.floor(low / s) <= most),
        (high - low) / most + 1.0,
    )
    first = math.floor(low / step)
    last = max(math.ceil(high / step), first + 1)
    limits = [step * number for number in range(first, last + 1)]
    return Classes(tuple(limits), tuple(_between(limits, " cm")))


def _fixed_classes(band: str) -> Classes:
    """Return the classes of a surface that are the same on every field, so that two compare.

    They stand in ``shared/tables/surface_classes.csv``; the last may have no upper limit.
    """
    held = [row for row in rows("surface_classes") if row["surface"] == band]
    limits = [float(row["from"]) for row in held] + [float(held[-1]["to"] or math.inf)]
    unit, factor = (" %", 100.0) if held[0]["unit"] == "1" else (" cm", 1.0)
    return Classes(tuple(limits), tuple(_between([factor * limit for limit in limits], unit)))


def _between(limits: Sequence[float], unit: str) -> list[str]:
    return [
        f"over {low:g}{unit}"
        if math.isinf(high)
        else f"{low:.1f}".removesuffix(".0") + f" to {high:g}{unit}"
        for low, high in pairwise(limits)
    ]


def _png(ranks: NDArray[np.uint8], tones: Sequence[str]) -> bytes:
    colours = {0: (0, 0, 0, 0)} | {
        rank: (*bytes.fromhex(tone.removeprefix("#")), 255) for rank, tone in enumerate(tones, 1)
    }
    height, width = ranks.shape
    with MemoryFile() as memory:
        with memory.open(
            driver="PNG",
            height=height,
            width=width,
            count=1,
            dtype="uint8",
            transform=DOTS,
            ZLEVEL=7,
        ) as picture:
            picture.write(ranks, 1)
            picture.write_colormap(1, colours)
        return bytes(memory.read())


def _latitude(y_m: float) -> float:
    return math.degrees(math.atan(math.sinh(y_m / RADIUS_M)))
