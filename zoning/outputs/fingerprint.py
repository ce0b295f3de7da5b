"""The fingerprint of a plan: what it was made from and what it says, in 64 hexadecimal digits.

Each of five things is written in one canonical form and hashed by SHA-256 (FIPS 180-4); the
fingerprint is the hash of the five hashes, so each can be checked by itself. Canonical means:
places in the working coordinate system to the millimetre, longitude and latitude to 1e-8 degree,
other numbers to six decimals, rings from their least point in a fixed direction, rows sorted.

Row order, the names of files and folders, line numbers, notes and photographs do not count: a file
that is renamed leaves the fingerprint as it is, and its content counts through the rows read from
it. Pits dug after the work do not count either: they judge a plan and make none. Settings that name
files or layers are left out for the same reason. Wheelings, gateways and named areas count through
the zones that follow from them.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant
from zoning.model import Settings

_CONE = {
    "station": 0, "insertion": 0, "lon": 8, "lat": 8, "depth_cm": 6, "cone_index_mpa": 6,
    "date": 0, "moisture": 0, "part": 0, "refused": 0,
}  # fmt: skip
_PITS = {
    "pit": 0, "date": 0, "phase": 0, "lon": 8, "lat": 8, "part": 0, "pan": 0, "pan_top_cm": 6,
    "pan_base_cm": 6, "structure_score": 6, "moisture": 0, "loosened_at_leg_cm": 6,
    "loosened_between_cm": 6, "speed_km_h": 6,
}  # fmt: skip
_FILE_NAMES = {
    "field": ("boundary", "boundary_layer", "backdrop"),
    "readings": ("cone", "pits", "cone_after", "trials"),
    "areas": ("gateways", "named"),
    "wheelings": ("lines",),
    "hazards": ("file",),
}


def digests(
    *,
    boundary: MultiPolygon,
    working_crs: str,
    cone: pd.DataFrame,
    pits: pd.DataFrame,
    settings: Settings,
    hazards: gpd.GeoDataFrame,
    zones: gpd.GeoDataFrame,
) -> dict[str, str]:
    """Return the SHA-256 of boundary, readings, settings, hazards and zones, by name.

    Parameters
    ----------
    boundary
        Outline of the field [m, working CRS].
    working_crs
        The working coordinate system.
    cone, pits
        Readings as read: schemas ``cone_readings`` and ``pits``.
    settings
        Settings with their defaults filled in.
    hazards
        ``kind, depth_cm, clear_m, geometry`` in the working CRS.
    zones
        ``zone, depth_cm, geometry`` in the working CRS; further columns do not count.
    """
    return {
        "boundary": boundary_digest(boundary, working_crs),
        "readings": readings_digest(cone, pits),
        "settings": settings_digest(asdict(settings)),
        "hazards": hazards_digest(hazards),
        "zones": zones_digest(zones),
    }


def readings_digest(cone: pd.DataFrame, pits: pd.DataFrame) -> str:
    """Return the SHA-256 of cone readings and of pits dug before the work."""
    rows = [*_rows(cone, _CONE), *_rows(pits[pits["phase"] != "after"], _PITS)]
    return _hash(sorted(rows))


def boundary_digest(boundary: BaseGeometry, working_crs: str) -> str:
    """Return the SHA-256 of the outline of a field and its coordinate system."""
    return _hash([working_crs, *_outlines([boundary])])


def settings_digest(settings: Mapping[str, object]) -> str:
    """Return the SHA-256 of settings as nested mappings, names of files left out."""
    return _hash([json.dumps(_settings(settings), sort_keys=True)])


def changed_settings(then: Mapping[str, object], now: Mapping[str, object]) -> dict[str, str]:
    """Return what has changed between two settings, by ``section.key``: ``1.1, now 1.4``.

    Parameters
    ----------
    then, now
        Nested mappings; names of files are left out, as the fingerprint leaves them out.
    """
    before, after = (dict(_by_key(_settings(side))) for side in (then, now))
    return {
        key: f"{_told(before.get(key))}, now {_told(after.get(key))}"
        for key in sorted({*before, *after})
        if before.get(key) != after.get(key)
    }


def _by_key(section: Mapping[str, object], name: str = "") -> Iterator[tuple[str, object]]:
    """Yield each setting under the names of its sections and its own, with points between."""
    for key, value in section.items():
        if isinstance(value, Mapping):
            yield from _by_key(value, f"{name}{key}.")
        else:
            yield f"{name}{key}", value


def _told(value: object) -> str:
    """Return a setting as a person writes it; one that is not given in words."""
    if value is None:
        return "not given"
    if isinstance(value, str) and re.fullmatch(r"-?\d+\.\d{6}", value):
        return value.rstrip("0").rstrip(".")
    return json.dumps(value, ensure_ascii=False)


def hazards_digest(hazards: gpd.GeoDataFrame) -> str:
    """Return the SHA-256 of ``kind, name, depth_cm, clear_m`` and place of every hazard."""
    return _hash(_features(hazards, {"kind": 0, "name": 0, "depth_cm": 6, "clear_m": 6}))


def zones_digest(zones: gpd.GeoDataFrame) -> str:
    """Return the SHA-256 of ``zone, depth_cm`` and outline of every zone."""
    return _hash(_features(zones, {"zone": 0, "depth_cm": 6}))


def plan_id(
    *,
    boundary: MultiPolygon,
    working_crs: str,
    cone: pd.DataFrame,
    pits: pd.DataFrame,
    settings: Settings,
    hazards: gpd.GeoDataFrame,
    zones: gpd.GeoDataFrame,
) -> str:
    """Return the fingerprint of a plan; parameters as those of `digests`."""
    return combined(
        digests(
            boundary=boundary,
            working_crs=working_crs,
            cone=cone,
            pits=pits,
            settings=settings,
            hazards=hazards,
            zones=zones,
        )
    )


def combined(parts: Mapping[str, str]) -> str:
    """Return the fingerprint that follows from the hashes of its parts."""
    return _hash([f"{name}:{parts[name]}" for name in sorted(parts)])


def short_id(plan_id: str) -> str:
    """Return the first letters of a fingerprint, by which people tell plans apart."""
    return plan_id[:8]


def _hash(lines: Sequence[str]) -> str:
    return hashlib.sha256("\n".join(lines).encode("utf-8")).hexdigest()


def _features(frame: gpd.GeoDataFrame, columns: Mapping[str, int]) -> list[str]:
    outlines = _outlines(list(frame.geometry))
    rows = _rows(pd.DataFrame(frame), columns)
    return sorted(f"{row}\x1f{outline}" for row, outline in zip(rows, outlines, strict=True))


def _outlines(shapes: Sequence[BaseGeometry]) -> list[str]:
    step = constant("output_rules", "fingerprint_step_m")

    def rounded(xy: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.round(xy / step) + 0.0

    # One polygon and a multipolygon of one are the same place.
    grouped = [shapely.multipolygons([s]) if s.geom_type == "Polygon" else s for s in shapes]
    least_first = [shapely.normalize(shapely.transform(shape, rounded)) for shape in grouped]
    return [str(shapely.to_wkb(shape, hex=True, byte_order=1)) for shape in least_first]


def _rows(frame: pd.DataFrame, columns: Mapping[str, int]) -> list[str]:
    texts = [_texts(frame[name].tolist(), places) for name, places in columns.items()]
    return ["\x1f".join(row) for row in zip(*texts, strict=True)]


def _texts(values: Sequence[Any], places: int) -> list[str]:
    if len(set(map(type, values))) > 1:  # 1, 1.0 and True are equal and read otherwise
        return [_text(value, places) for value in values]
    known = {value: _text(value, places) for value in set(values)}
    return [known[value] for value in values]


def _text(value: Any, places: int) -> str:
    if value is None or value is pd.NA or value != value:  # noqa: PLR0124 - NaN differs from itself
        return ""
    if places:
        return f"{round(float(value), places) + 0.0:.{places}f}"
    return json.dumps(str(value)) if value != "" else ""


def _settings(section: Mapping[str, object], name: str = "") -> dict[str, object]:
    """Return a section of settings without names of files, numbers as text of six decimals."""
    kept: dict[str, object] = {}
    for key, value in section.items():
        if key in _FILE_NAMES.get(name, ()):
            continue
        if isinstance(value, Mapping):
            kept[key] = _settings(value, key)
        elif isinstance(value, (int, float)) and not isinstance(value, bool):
            kept[key] = f"{value + 0.0:.6f}"
        else:
            kept[key] = value
    return kept
