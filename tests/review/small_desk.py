"""A small invented field with a plan by hand, and short ways to use its review page in tests."""

from __future__ import annotations

import json
import re
from html import unescape
from pathlib import Path
from typing import Any

import geopandas as gpd
import pyogrio
import shapely
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from zoning.records import Body, Check, CheckRow, Draft, Pit, new_id
from zoning.review import Desk

WEST, SOUTH, EAST, NORTH = 0.800, 52.700, 0.804, 52.702
MIDDLE = 0.802
TOML = """
[field]
name = "Test Piece"
season = 2026
boundary = "boundary.geojson"
[readings]
pits = "pits.csv"
cone = "cone.csv"
trials = "trials.csv"
[machine]
legs = 7
"""
PITS = """pit,date,phase,lon,lat,part,pan,pan_top_cm,pan_base_cm,structure_score,moisture,note
P1,2026-08-19,before,0.801,52.701,body,yes,20,30,4,friable,
P2,2026-08-20,before,0.803,52.701,headland,no,,,2,dry,near the oak
"""
SAME_ORIGIN = {"Origin": "http://localhost", "Sec-Fetch-Site": "same-origin"}


def box(west: float, east: float) -> shapely.Polygon:
    return shapely.box(west, SOUTH, east, NORTH)


def write_field(folder: Path, *, pits: str = PITS) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "field.toml").write_text(TOML)
    outline = {"type": "Feature", "properties": {}, "geometry": box(WEST, EAST).__geo_interface__}
    (folder / "boundary.geojson").write_text(json.dumps(outline))
    (folder / "pits.csv").write_text(pits)
    rows = ["station,insertion,lon,lat,depth_cm,cone_index_mpa,date"]
    for depth in range(0, 50, 5):
        mpa = 2.6 if 20 <= depth <= 30 else 1.1
        rows += [f"S1,{i},0.80101,52.70101,{depth},{mpa + i / 10},2026-08-19" for i in (1, 2)]
    (folder / "cone.csv").write_text("\n".join(rows) + "\n")
    (folder / "trials.csv").write_text("run,speed_km_h,loosened_at_leg_cm\nR1,6,34\n")
    return folder


def write_plan(folder: Path, plan_id: str = "ab" * 32) -> None:
    folder.mkdir(exist_ok=True)
    facts = {
        "plan_id": plan_id,
        "settings": {"readings": {"limit_mpa": 2.0}},
        "cautions": ["Locate buried services first."],
    }
    (folder / "plan.json").write_text(json.dumps(facts))
    features = []
    for number, (west, east, depth) in enumerate(((WEST, MIDDLE, 35.0), (MIDDLE, EAST, 0.0)), 1):
        said = {
            "zone": number, "depth_cm": depth, "area_ha": 2.98, "parts": "body", "cautions": "",
            "pan_base_cm": 30.0 if depth else None, "cleared": "NOT CLEARED" if depth else "",
        }  # fmt: skip
        shape = box(west, east).__geo_interface__
        features.append({"type": "Feature", "properties": said, "geometry": shape})
    collection = {"type": "FeatureCollection", "features": features}
    (folder / "depth_zones.geojson").write_text(json.dumps(collection))
    drain = gpd.GeoDataFrame(
        {"kind": ["drain"], "name": [""], "depth_cm": [60.0], "clear_m": [1.0]},
        geometry=[shapely.LineString([(0.8005, SOUTH), (0.8005, NORTH)])],
        crs=4326,
    )
    pyogrio.write_dataframe(drain, folder / "plan.gpkg", layer="hazards", driver="GPKG")
    parts = gpd.GeoDataFrame(
        {"part": ["body", "wheeling"]}, geometry=[box(WEST, MIDDLE), box(MIDDLE, EAST)], crs=4326
    )
    pyogrio.write_dataframe(parts, folder / "plan.gpkg", layer="parts", driver="GPKG")


def form(desk: Desk, **said: str) -> dict[str, str]:
    """A filled-in form of a new after-pit."""
    row = new_id()
    filled = {
        "token": desk.token, "row_id": row, "record_id": row, "version": "0", "phase": "after",
        "pit": "A1", "date": "2026-10-02", "lon": "0.801", "lat": "52.70102",
        "loosened_at_leg_cm": "36", "loosened_between_cm": "31,5", "pan": "no",
        "place_from": "map", "by_whom": "M. Hale",
    }  # fmt: skip
    return filled | said


def post(client: FlaskClient, path: str, data: dict[str, object], **more: object) -> TestResponse:
    headers = more.pop("headers", SAME_ORIGIN)
    return client.post(path, data=data, headers=headers, **more)  # type: ignore[arg-type]


def pits(desk: Desk) -> list[Pit]:
    return [entry.body for entry in desk.record.latest(Pit)]


def drawn(page: str) -> dict[str, Any]:
    """What the map of a page draws."""
    found: dict[str, Any] = json.loads(
        page.partition('id="map-data">')[2].partition("</script>")[0]
    )
    return found


def hidden(answer: TestResponse) -> dict[str, str]:
    """The fields of a page's last form, as a browser would send them back."""
    last = answer.text.rpartition("<form")[2]
    found = re.findall(r'<input[^>]*name="(\w+)"[^>]*?value="([^"]*)"', last)
    return {name: unescape(value) for name, value in found}


def keep(desk: Desk, body: Body, day: str = "") -> str:
    row = new_id()
    at = f"{day}T08:00:00.000Z" if day else ""
    desk.record.save(
        Draft(body=body, row_id=row, record_id=row, based_on=0, origin="check", recorded_at=at)
    )
    return row


def keep_check(desk: Desk, *told: str, plan_id: str = "ab" * 32, **facts: object) -> None:
    check = keep(desk, Check(season=2026, plan_id=plan_id, after_pits=1))
    row = {"season": 2026, "check_id": check}
    for text in told:
        keep(desk, CheckRow(**row, about="advice", name="c", verdict="caution", reason=text))  # type: ignore[arg-type]
    keep(desk, CheckRow(**row, about="pit", name="A1", verdict="lifted_out", reason="Loosened.",
                        facts=json.dumps(facts)))  # type: ignore[arg-type]  # fmt: skip
