"""``check.json`` and ``check.geojson``: everything a check says, for programs and for a GIS."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

from shapely.geometry import Point, mapping
from shapely.geometry.base import BaseGeometry

from zoning.contracts import DISTRIBUTION, program_version
from zoning.errors import OutputFailed
from zoning.model.check import Check
from zoning.outputs.check.rows import (
    dig_records,
    pit_records,
    plain_records,
    probe_records,
    zone_records,
)
from zoning.outputs.cleared import not_cleared_words
from zoning.outputs.left_out import COLUMNS as LEFT_OUT
from zoning.outputs.places import decimals, lonlat_areas
from zoning.outputs.plain import plain, read_json, siblings, write_text

MARK = "check.json"


def check_document(check: Check) -> dict[str, Any]:
    """Return the members of ``check.json``, the list of files left out."""
    said: dict[str, Any] = plain(_said(check))
    text = json.dumps(said, sort_keys=True, ensure_ascii=False, allow_nan=False)
    return {"check_id": hashlib.sha256(text.encode("utf-8")).hexdigest()} | said


def _said(check: Check) -> dict[str, Any]:
    field = check.settings.field
    return {
        "plan_id": check.plan_id,
        "program": {"name": DISTRIBUTION, "version": program_version()},
        "field": {"name": field.name, "season": field.season},
        "inputs": [
            asdict(file) for file in sorted(check.inputs.files, key=lambda f: (f.role, f.name))
        ],
        "groups": plain_records(check.groups),
        "zones": zone_records(check),
        "pits": pit_records(check),
        "probes": probe_records(check),
        "pairs": plain_records(check.pairs),
        "changes": plain_records(check.changes),
        "advice": plain_records(check.advice),
        "dig_next": dig_records(check),
        "trials": _trials(check),
        "not_cleared": not_cleared_words(check.zones, check.settings),
        "cautions": _notices(check, "caution"),
        "notes": _notices(check, "note"),
        "left_out": plain_records(check.inputs.left_out[LEFT_OUT]),
    }


def _trials(check: Check) -> dict[str, Any]:
    ridge = check.ridge
    return {
        "runs": plain_records(ridge.runs),
        "speeds": plain_records(ridge.speeds),
        "slowest_even_km_h": ridge.slowest_even_km_h,
        "wanted_cm": ridge.wanted_cm,
        "ridge_allowance_cm": check.ridge_allowance_cm,
        "plan_speed_km_h": check.settings.machine.speed_km_h,
    }


def _notices(check: Check, level: str) -> list[dict[str, str]]:
    return [{"code": n.code, "text": n.text} for n in check.notices if n.level == level]


def write_check_file(check: Check, path: Path) -> None:
    """Write ``check.json``, last of all, with the SHA-256 of every file that stands beside it."""
    document = check_document(check) | {"outputs": siblings(path)}
    text = json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False)
    write_text(path, text + "\n")


def verify_check_file(check: Check, path: Path) -> None:
    """Read ``check.json`` back and compare it with the check and the files beside it.

    Raises
    ------
    OutputFailed
        If anything differs.
    """
    if read_json(path) != check_document(check) | {"outputs": siblings(path)}:
        raise OutputFailed(f"{path.name} did not read back as written.")


def geojson_text(check: Check) -> str:
    """Return the zones, pits, cone stations and places to dig next as RFC 7946 GeoJSON.

    The property ``kind`` tells them apart: ``zone``, ``pit``, ``probe``, ``dig_next``.
    """
    areas = lonlat_areas(list(check.zones.geometry), check.working_crs)
    features = [
        *_features("zone", zone_records(check), list(areas)),
        *_points("pit", pit_records(check)),
        *_points("probe", probe_records(check)),
        *_points("dig_next", dig_records(check)),
    ]
    head = {
        "type": "FeatureCollection",
        "plan_id": check.plan_id,
        "field": check.settings.field.name,
        "not_cleared": not_cleared_words(check.zones, check.settings),
        "cautions": [n.text for n in check.notices if n.level == "caution"],
    }
    lines = [json.dumps(f, ensure_ascii=False, allow_nan=False) for f in features]
    start = json.dumps(head, ensure_ascii=False, allow_nan=False, indent=1)
    return start[:-2] + ',\n "features": [\n' + ",\n".join(lines) + "\n]}\n"


def _features(
    kind: str, rows: list[dict[str, Any]], shapes: list[BaseGeometry]
) -> list[dict[str, Any]]:
    return [
        {"type": "Feature", "properties": {"kind": kind} | row, "geometry": mapping(shape)}
        for row, shape in zip(rows, shapes, strict=True)
    ]


def _points(kind: str, rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    places: list[BaseGeometry] = [
        Point(*(round(row[name], decimals()) for name in ("lon", "lat"))) for row in rows
    ]
    return _features(kind, rows, places)
