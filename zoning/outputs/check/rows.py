"""The rows of a check, columns as its schemas name them."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from zoning.model.check import Check
from zoning.outputs.columns import table_schema
from zoning.outputs.places import lonlat_points
from zoning.outputs.plain import plain
from zoning.units import off_half

FIELD = "whole field"
_APART = ("lifted_out", "held")
_COSTLIER = ("depth", "left", "points", "spacing", "under", "soil")
_PROBE = (
    "station", "zone", "depth_cm", "part", "lon", "lat", "date", "moisture", "n_insertions",
    "verdict", "pan_base_cm", "resistance_mpa", "reason",
)  # fmt: skip


def check_zone_rows(check: Check) -> pd.DataFrame:
    """Return one row a zone, with the first thing to do there."""
    frame = pd.DataFrame(check.zones.drop(columns="geometry"))
    facts = zip(frame["zone"], frame["verdict"], frame["depth_cm"], strict=True)
    frame["advice"] = [
        first_advice(check, _where(check, zone, depth), zone, alone=verdict in _APART)
        or _unseen(check, depth)
        for zone, verdict, depth in facts
    ]
    frame["plan_id"] = check.plan_id
    return frame[[column.name for column in table_schema("check_zones").columns]]


def _unseen(check: Check, depth_cm: float) -> str:
    """Return that no pit at a depth counts, nothing where one does or the legs are lifted."""
    counted = depth_cm in check.groups.loc[check.groups["group"] == "depth", "depth_cm"].tolist()
    return "" if counted or depth_cm == 0 else f"No pit at {depth_cm:g} cm counts yet."


def _where(check: Check, zone: int, depth_cm: float) -> str:
    """Return what the advice calls the ground of a zone, that held by a hazard apart."""
    held = check.advice[check.advice["step"] == "hold"]
    own = held.loc[[zone in zones for zones in held["zones"]], "where"]
    return str(own.iloc[0]) if len(own) else f"{depth_cm:g} cm"


def first_advice(check: Check, where: str, zone: int, *, alone: bool = False) -> str:
    """Return the first advice for a zone: its own or its depth's.

    To stop, to locate and to drive a missed strip come first. What the whole field alone asks for
    is marked as that. Its speed, and what its list has before that, comes before what costs more at
    a depth, and what else it asks to change before digging at a depth; a step for other zones is
    passed over.

    Parameters
    ----------
    check
        The check.
    where
        What the advice calls the ground of the zone.
    zone
        Its number.
    alone
        Whether only what names the zone is for it: it is lifted out or held by a hazard.
    """
    advice = check.advice[check.advice["step"] != "next"]  # which is for no work of now
    named = advice["zones"].map(lambda zones: zone in zones).astype(bool)
    whole, own = advice["where"] == FIELD, advice["where"] == where
    free = (~advice["zones"].map(len).astype(bool)) & (not alone)
    common = whole & ~named
    by_speed = advice.loc[common & (advice["step"] == "speed"), "order"].max()
    speed = common & advice["step"].isin(("speed", *_COSTLIER)) & (advice["order"] <= by_speed)
    costly, dig = (~common & advice["step"].isin(names) for names in (_COSTLIER, ("dig",)))
    change = common & advice["step"].isin(_COSTLIER)
    first = ~common & ~costly & ~dig & (advice["step"] != "so_far")
    urgent = [advice["step"] == name for name in ("stop", "locate")]
    urgent.append(named & (advice["step"] == "drive"))
    rank = np.select([*urgent, first, speed, costly, change, dig], range(8), 8)
    told = advice.assign(rank=rank, whole=whole, common=common)
    told = told[named | (free & (whole | own))].sort_values(["rank", "whole", "order"])
    if told.empty:
        return ""
    first = told.iloc[0]
    if str(first["where"]).startswith(f"{where} "):  # a part of that depth
        return f"{first['where']}: {first['text']}"
    return f"Whole field: {first['text']}" if first["common"] else str(first["text"])


def zone_records(check: Check) -> list[dict[str, Any]]:
    """Return the zones as JSON knows them, numbers with the decimals of the schema."""
    return records(check_zone_rows(check), "check_zones")


def pit_records(check: Check) -> list[dict[str, Any]]:
    """Return the judged pits as JSON knows them."""
    return records(pd.DataFrame(check.pits), "check_pits")


def probe_records(check: Check) -> list[dict[str, Any]]:
    """Return the cone stations of after the work."""
    return plain_records(pd.DataFrame(check.probes)[list(_PROBE)])


def dig_records(check: Check) -> list[dict[str, Any]]:
    """Return the places to dig next, with longitude and latitude."""
    return plain_records(with_lonlat(check.dig_next, check.working_crs))


def with_lonlat(places: gpd.GeoDataFrame, crs: str) -> pd.DataFrame:
    """Return `places` with ``lon, lat`` in place of their working coordinates."""
    lonlat = lonlat_points(places[["x_m", "y_m"]].to_numpy(dtype=np.float64), crs)
    frame = pd.DataFrame(places.drop(columns=["geometry", "x_m", "y_m"]))
    return frame.assign(lon=lonlat[:, 0], lat=lonlat[:, 1])


def records(frame: pd.DataFrame, schema: str) -> list[dict[str, Any]]:
    """Return the rows of `frame` as its schema has them: its columns, its decimals."""
    columns = table_schema(schema).among(set(frame.columns))
    rows = frame[[column.name for column in columns]].to_dict("records")
    kinds = {column.name: column for column in columns}

    def cell(name: str, value: object) -> Any:
        found = plain(value)
        if found is None or kinds[name].kind == "string":
            return found
        decimals = kinds[name].decimals
        number = round(off_half(float(found), decimals), decimals) + 0.0
        return int(number) if kinds[name].kind == "integer" else number

    return [{str(name): cell(str(name), value) for name, value in row.items()} for row in rows]


def plain_records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Return the rows of `frame` as JSON knows them."""
    return [dict(plain(row)) for row in frame.to_dict("records")]
