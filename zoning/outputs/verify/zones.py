"""Zone by zone: what each file says of a zone, against the zones of ``plan.gpkg``."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd
import shapely
from shapely.geometry import shape

from zoning.contracts import constant
from zoning.errors import Fault
from zoning.outputs.columns import table_schema
from zoning.outputs.geojson import outline_trouble, zone_records
from zoning.outputs.map_page.data import ZONE_DECIMALS
from zoning.outputs.map_page.page import page_document
from zoning.outputs.plain import plain, read_json
from zoning.outputs.verify.caps import hazards_passed
from zoning.outputs.verify.files import AS_PLANNED, DOCUMENT, STORE, ReadBack, fault
from zoning.outputs.verify.table import (
    and_more,
    cell_differences,
    numbers_of,
    places_of,
    read_table,
)
from zoning.units import as_number

GEOJSON = "depth_zones.geojson"
TABLE = "depth_zones.csv"
PAGE = "map.html"
_OUTLINE = "geometry_wkt"
_PAGE_MEMBERS = ("zone", "depth_cm", "area_ha", "parts", "cleared", "cautions")

Record = Mapping[str, Any]


def wanted_zones(read: ReadBack) -> list[dict[str, Any]]:
    """Return the zones of ``plan.gpkg`` as every file has to show them."""
    zones = read.zones
    return [plain(row) for row in zone_records(pd.DataFrame(zones.drop(columns="geometry")))]


def document_zone_faults(read: ReadBack) -> Iterator[Fault]:
    """Compare the zones of ``plan.json``, and the totals that follow from them."""
    wanted = wanted_zones(read)
    yield from differences(DOCUMENT, read.document["zones"], wanted)
    area = sum(float(value) for value in read.zones["area_ha"])
    if abs(float(read.document["field"]["area_ha"]) - area) > 1e-5:
        yield fault(DOCUMENT, "The area of the field is not that of its zones.")
    if read.document["totals"].get("zones", len(wanted)) != len(wanted):
        yield fault(DOCUMENT, "The total of zones is not their number.")


def collection_faults(read: ReadBack) -> Iterator[Fault]:
    """Compare the features of ``depth_zones.geojson``: properties, then outlines."""
    features = read_json(read.folder / GEOJSON)["features"]
    features = sorted(features, key=lambda feature: _number(feature["properties"].get("zone")))
    found = [feature["properties"] for feature in features]
    told = list(differences(GEOJSON, found, wanted_zones(read)))
    yield from zones_passed(GEOJSON, found, read)
    yield from told
    if not told:
        yield from _outlines(read, GEOJSON, [shape(feature["geometry"]) for feature in features])


def zones_passed(file: str, found: Sequence[Record], read: ReadBack) -> Iterator[Fault]:
    """Say which zones of a file are worked deeper than planned and than a hazard there allows.

    A zone with another area than planned is other ground, as in a file of another plan.
    """
    zones = read.zones
    area_ha = dict(zip(zones["zone"], zones["area_ha"], strict=True))
    depth = {
        row.get("zone"): row.get("depth_cm")
        for row in found
        if _same_area(row.get("area_ha"), area_ha.get(row.get("zone")))
    }
    said = [depth.get(number) for number in zones["zone"]]
    given = pd.to_numeric(pd.Series(said, dtype=object), errors="coerce").to_numpy(np.float64)
    planned = zones["depth_cm"].to_numpy(dtype=np.float64)
    told = hazards_passed(zones.geometry.to_numpy(), given, planned, read)
    for number, cm, name in zip(zones["zone"], given, told, strict=True):
        if name:
            what = f"Do not work by it: zone {number} reads {cm:g} cm, deeper than {name} allows."
            yield fault(file, what)


def _same_area(found_ha: object, planned_ha: object) -> bool:
    """Return whether two areas are of the same ground; so is one that is not told."""
    pair = pd.to_numeric(pd.Series([found_ha, planned_ha], dtype=object), errors="coerce")
    apart_ha = abs(pair.iloc[0] - pair.iloc[1])
    return not apart_ha > constant("verify_rules", "zone_area_ha")


def table_faults(read: ReadBack) -> Iterator[Fault]:
    """Compare the rows of ``depth_zones.csv``: cells, then outlines, in whatever order they stand.

    That only the order differs is said where the outlines are as planned too.
    """
    wanted = pd.DataFrame(read.zones.drop(columns="geometry"))
    schema = table_schema("depth_zones")
    table = read_table(read.folder / TABLE, schema)
    told = list(cell_differences(TABLE, table, wanted, schema))
    found = numbers_of(table, ["zone", "depth_cm", "area_ha"])
    yield from zones_passed(TABLE, plain(found.to_dict("records")), read)
    as_planned = all(each.what.startswith(AS_PLANNED) for each in told)
    if as_planned and _OUTLINE not in table.header:
        told = [fault(TABLE, f"The column {_OUTLINE} is missing.")]
    elif as_planned:
        at = table.header.index(_OUTLINE)
        texts = [table.lines[place][at] for place in places_of(table, wanted, schema)]
        told = [*_text_outlines(texts, read)] or told
    yield from told


def _text_outlines(texts: Sequence[str], read: ReadBack) -> Iterator[Fault]:
    """Compare outlines given as well-known text, by zone."""
    areas = shapely.from_wkt(texts, on_invalid="ignore")
    broken = np.flatnonzero(shapely.is_missing(areas))
    if len(broken):
        where = f"of zone {read.zones['zone'].iloc[broken[0]]} is no outline"
        what = f"{_OUTLINE} {where}{and_more(len(broken), 'zone')}: cut, or its points made commas."
        yield fault(TABLE, what)
    else:
        yield from _outlines(read, TABLE, list(areas))


def page_faults(read: ReadBack) -> Iterator[Fault]:
    """Compare the zones and the depths along the passes that ``map.html`` draws."""
    page = page_document((read.folder / PAGE).read_text(encoding="utf-8"))
    zones = pd.DataFrame(read.zones.drop(columns="geometry"))
    wanted = [_short(row) for row in plain(zones.to_dict("records"))]
    yield from zones_passed(PAGE, page["zones"], read)
    yield from differences(PAGE, [_short(row) for row in page["zones"]], wanted)
    passes = read.layers["passes"].sort_values(["pass", "step"], kind="stable")
    drawn = [[one["pass"], *(run[0] for run in one["runs"])] for one in page["passes"]]
    planned = [
        [int(as_number(number)), *(round(float(depth), 2) for depth in runs["depth_cm"])]
        for number, runs in passes.groupby("pass", sort=True)
    ]
    if drawn != planned:
        yield fault(PAGE, f"The depths along the passes are not those of {STORE}.")


def _short(row: Record) -> dict[str, Any]:
    return {
        name: round(value, ZONE_DECIMALS) if isinstance(value, float) else value
        for name in _PAGE_MEMBERS
        if (value := row.get(name)) is not None
    }


def differences(file: str, found: Sequence[Record], wanted: Sequence[Record]) -> Iterator[Fault]:
    """Say where the zones of `file` differ from those of ``plan.gpkg``."""
    if len(found) != len(wanted):
        yield fault(file, f"The file holds {len(found)} zones where {len(wanted)} belong.")
    elif [row.get("zone") for row in found] != [row["zone"] for row in wanted]:
        yield fault(file, f"The zones bear other numbers than in {STORE}.")
    else:
        held = {name for row in found for name in row}
        absent = sorted({name for row in wanted for name in row} - held)
        if absent:
            yield fault(file, f"Members of every zone are missing: {', '.join(absent)}.")
        for name in sorted(held):
            pairs = zip(found, wanted, strict=True)
            unlike = [(row, right) for row, right in pairs if row.get(name) != right.get(name)]
            if unlike:
                yield fault(file, _differs(name, *unlike[0], len(unlike)))


def _differs(name: str, row: Record, right: Record, count: int) -> str:
    found, wanted = (json.dumps(side.get(name), ensure_ascii=False)[:60] for side in (row, right))
    what = f"In zone {right['zone']}, {name} reads {found} where {STORE} has {wanted}"
    return f"{what}{and_more(count, 'zone')}."


def _number(value: object) -> float:
    return value if isinstance(value, (int, float)) else math.inf


def _outlines(read: ReadBack, file: str, areas: Sequence[Any]) -> Iterator[Fault]:
    trouble = outline_trouble(read.zones, read.boundary, read.working_crs, areas)
    if trouble:
        yield fault(file, trouble[0].upper() + trouble[1:])
