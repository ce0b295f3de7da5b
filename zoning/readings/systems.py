"""Coordinate systems: named safely, shifted with a stated accuracy."""

from __future__ import annotations

import math
import re
import warnings
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from pyproj import CRS, Proj, Transformer
from pyproj.aoi import AreaOfInterest
from pyproj.exceptions import CRSError, ProjError
from pyproj.transformer import TransformerGroup

from zoning.errors import Fault, InputRefused
from zoning.model import Notice
from zoning.readings.rules import rule

Floats = NDArray[np.float64]
LONLAT = "OGC:CRS84"
_URN = re.compile(r"urn:(?:x-)?ogc:def:crs:([A-Za-z]+):[^:]*:([A-Za-z0-9]+)")
_WEB = re.compile(r"https?://www\.opengis\.net/def/crs/([A-Za-z]+)/[^/]*/([A-Za-z0-9]+)")
_CODE = re.compile(r"[A-Za-z]{2,12}:[A-Za-z0-9]{1,12}")


@dataclass(frozen=True, slots=True)
class Area:
    """Where a shift is wanted: west, south, east, north [degrees]."""

    west: float
    south: float
    east: float
    north: float


@dataclass(frozen=True, slots=True, eq=False)
class Shift:
    """The best shift at hand from one system to another.

    Parameters
    ----------
    transformer
        Takes and gives x before y.
    accuracy_m
        As its authority states it [m]; ``None`` where nothing is stated.
    best
        Whether no better one would be had with grid files that are not installed.
    """

    transformer: Transformer
    accuracy_m: float | None
    best: bool

    def apply(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Return the shifted coordinates; what cannot be shifted becomes infinite."""
        across, up = self.transformer.transform(x, y)
        return np.asarray(across, dtype=float), np.asarray(up, dtype=float)


def named_crs(text: str) -> CRS | None:
    """Return the system that a code, URN or WKT names, or ``None`` where it names none.

    PROJ strings and addresses are not read: they can point at files.
    """
    said = text.strip()
    for pattern in (_URN, _WEB):
        match = pattern.fullmatch(said)
        if match is not None:
            said = f"{match[1]}:{match[2]}"
    try:
        if _CODE.fullmatch(said):
            return CRS.from_user_input(said)
        return CRS.from_wkt(said) if "[" in said else None
    except CRSError:
        return None


def stated_crs(text: str, file: str, column: str) -> CRS:
    """Return the system that a key names.

    Raises
    ------
    InputRefused
        If the text names none.
    """
    crs = named_crs(text)
    if crs is None:
        raise InputRefused(
            [
                Fault(
                    file,
                    f"Found '{text[:60]}', which names no coordinate system.",
                    'Give a code such as "EPSG:32630".',
                    column=column,
                )
            ]
        )
    return crs


def shift(source: CRS, target: CRS, area: Area) -> Shift:
    """Return the most accurate shift at hand for an area.

    Raises
    ------
    pyproj.exceptions.ProjError
        If there is none.
    """
    return _shift(source.to_wkt(), target.to_wkt(), area)


@cache
def _shift(source: str, target: str, area: Area) -> Shift:
    box = AreaOfInterest(area.west, area.south, area.east, area.north)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)
        group = TransformerGroup(
            CRS.from_wkt(source),
            CRS.from_wkt(target),
            always_xy=True,
            area_of_interest=box,  # type: ignore[arg-type]
        )
    if not group.transformers:
        raise ProjError("no shift between the two systems")
    first = group.transformers[0]
    accuracy = first.accuracy if first.accuracy is not None and first.accuracy >= 0 else None
    return Shift(first, accuracy, bool(group.best_available))


def accuracy_notice(what: str, crs: CRS, used: Shift) -> Notice | None:
    """Return a notice where a shift is rough or of unknown accuracy, or not the best."""
    name = crs_name(crs)
    if used.accuracy_m is None:
        text = f"{what}: the accuracy of the shift from {name} is unknown; it may be metres."
    elif used.accuracy_m > rule("crs_accuracy_notice_m"):
        text = f"{what}: the shift from {name} is accurate to {used.accuracy_m:g} m only."
    elif not used.best:
        text = f"{what}: a shift from {name} better than the {used.accuracy_m:g} m used exists."
    else:
        return None
    if (
        not used.best
        and used.accuracy_m is not None
        and used.accuracy_m > rule("crs_accuracy_notice_m")
    ):
        text += " A better one needs a grid file of PROJ that is not installed."
    return Notice("caution", "crs-accuracy", text)


def crs_name(crs: CRS) -> str:
    """Return ``EPSG:...`` where the system has a code, else its name."""
    authority = crs.to_authority(min_confidence=70)
    return ":".join(authority) if authority else crs.name


def crs_text(crs: CRS) -> str:
    """Return ``EPSG:...`` where the system has a code, else its WKT."""
    authority = crs.to_authority(min_confidence=100)
    return ":".join(authority) if authority else str(crs.to_wkt())


def utm_zone(lon: float, lat: float) -> CRS:
    """Return the UTM zone (WGS 84) of a place, or the polar system beyond 84 N and 80 S.

    The zone is that of the longitude alone; the widened zones off Norway are not used, which keeps
    the scale within that of any zone elsewhere. Longitude 180 opens zone 1.

    Parameters
    ----------
    lon, lat
        Centre of the field [degrees].
    """
    if lat > 84:
        return CRS.from_epsg(32661)
    if lat < -80:
        return CRS.from_epsg(32761)
    zone = math.floor(((lon + 180.0) % 360.0) / 6.0) + 1
    return CRS.from_epsg((32600 if lat >= 0 else 32700) + min(zone, 60))


def _is_meant_for(crs: CRS, lon: float, lat: float) -> bool:
    """Whether a place lies in the area of use of a system, or within a margin of it."""
    use, margin = crs.area_of_use, rule("working_crs_margin_deg")
    if use is None:
        return True
    width = (use.east - use.west) % 360.0 or 360.0
    along = (lon - use.west + margin) % 360.0
    return along <= width + 2 * margin and use.south - margin <= lat <= use.north + margin


def working_crs_trouble(crs: CRS, lon: float, lat: float) -> str | None:
    """Return why a system cannot be worked in at a place, or ``None`` where it can."""
    if not crs.is_projected:
        return "is not projected"
    if any(axis.unit_name not in {"metre", "meter"} for axis in crs.axis_info[:2]):
        return "is not in metres"
    if not _is_meant_for(crs, lon, lat):
        return "is not meant for the place of the field"
    try:
        scale = float(Proj(crs).get_factors(lon, lat, errcheck=True).areal_scale)
    except ProjError:
        return "does not reach the field"
    error = abs(scale - 1.0)
    if not math.isfinite(error) or error > rule("working_crs_areal_error_max"):
        return f"would give areas {error:.1%} off at the field"
    return None
