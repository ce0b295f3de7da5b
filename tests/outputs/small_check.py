"""A small check made of three zones and a few pits, in place on the ground."""

from __future__ import annotations

import dataclasses

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely import LineString, MultiPolygon, box

from zoning import checks, parts
from zoning.grid import Grid
from zoning.model import Notice, Settings
from zoning.model.check import Check, PlannedGround
from zoning.model.inputs import FieldInputs, InputFile
from zoning.model.settings import FieldSection, MachineSection

CRS = "EPSG:32631"
WEST, SOUTH = 352_000.0, 5_843_000.0
NAME = "Hostile <b>Field</b> & Co"


def planned() -> PlannedGround:
    """Return three zones of 1 ha: 35 cm, 40 cm, lifted out; the pan base at 30 cm."""
    zones = gpd.GeoDataFrame(
        {
            "zone": [1, 2, 3],
            "depth_cm": [35.0, 40.0, 0.0],
            "area_ha": 1.0,
            "parts": ["body", "headland", "body"],
            "pan_base_cm": 30.0,
            "assurance": 0.8,
            "cautions": "",
            "cleared": ["located", "located", "lifted out"],
        },
        geometry=[box(WEST + x, SOUTH, WEST + x + 100, SOUTH + 100) for x in (0.0, 100.0, 200.0)],
        crs=CRS,
    )
    grid = Grid(WEST, SOUTH + 100, 5.0, 20, 60)
    full = np.ones(grid.shape)
    bands = {"pan_base_cm": full * 30, "pan_base_sd_cm": full * 2, "pan_probability": full}
    ground = PlannedGround("a" * 64, {}, {}, zones, CRS, grid, bands, 3.0, 0.0)
    around, _ = parts.hazard_zones(hazards(), machine_width_m=MachineSection().width_m)
    return checks.bounded(ground, around, MachineSection(), run_m=25.0)


def pits(ridge_cm: float = 11.0) -> pd.DataFrame:
    """Return four pits in zone 1 and one in zone 2, driven at 4 km/h, names to trip a page."""
    at = ((10, 35.0), (35, 35.0), (60, 35.0), (85, 35.0), (150, 40.0))
    rows = [
        {"pit": f"=A{i}", "x_m": WEST + x, "y_m": SOUTH + 50, "loosened_at_leg_cm": depth,
         "loosened_between_cm": depth - ridge_cm}
        for i, (x, depth) in enumerate(at)
    ]  # fmt: skip
    usual = {
        "date": "2026-09-10", "phase": "after", "lon": 0.808, "lat": 52.717, "part": "body",
        "pan": "", "pan_top_cm": np.nan, "pan_base_cm": np.nan, "structure_score": np.nan,
        "moisture": "friable", "speed_km_h": 4.0, "photo": "", "note": "", "file": "pits.csv",
        "row": 2,
    }  # fmt: skip
    return pd.DataFrame([usual | row for row in rows])


def probes() -> pd.DataFrame:
    """Return one cone station of after the work."""
    row = {
        "station": "<C1>", "zone": 1, "depth_cm": 35.0, "x_m": WEST + 20, "y_m": SOUTH + 80,
        "lon": 0.808, "lat": 52.717, "part": "body", "date": "", "moisture": "", "n_insertions": 1,
        "n_known": 1, "verdict": "pan", "pan_base_cm": 33.0, "resistance_mpa": 1.2, "reason": "",
    }  # fmt: skip
    return pd.DataFrame([row])


def trials() -> pd.DataFrame:
    """Return the practice of 4 and 10 km/h."""
    return pd.DataFrame(
        {
            "run": ["<A>", "B"],
            "speed_km_h": [4.0, 10.0],
            "depth_setting_cm": 35.0,
            "loosened_at_leg_cm": 35.0,
            "loosened_between_cm": [24.0, 32.0],
            "surface": ["level", "level"],
        }
    )


def hazards() -> gpd.GeoDataFrame:
    """Return a drain and a pipe across the field and beyond it."""
    lines = [LineString([(WEST + x, SOUTH - 500), (WEST + x, SOUTH + 600)]) for x in (40.0, 260.0)]
    facts = {
        "kind": ["drain", "service"], "name": ["<old> tile", ""], "depth_cm": [60.0, np.nan],
        "clear_m": [1.5, 3.0],
    }  # fmt: skip
    return gpd.GeoDataFrame(facts, geometry=lines, crs=CRS)


NO_PARTS = gpd.GeoDataFrame({"part": []}, geometry=[], crs=CRS)


def small_check(ridge_cm: float = 11.0, runs: pd.DataFrame | None = None) -> Check:
    """Return the check of that field."""
    ground = planned()
    own = probes()
    judged = checks.judge_pits(pits(ridge_cm), ground, read_on="")
    groups = checks.judge_groups(ground, judged, own, NO_PARTS)
    used = trials() if runs is None else runs
    curve = checks.ridge_curve(used)
    settings = Settings(field=FieldSection(name=NAME, boundary="b.geojson", season=2026))
    none = checks.paired(judged.iloc[:0].assign(name="", pan=1.0), own.iloc[:0].assign(name=""), ())
    return Check(
        plan_id=ground.plan_id,
        inputs=_inputs(settings),
        zones=checks.judge_zones(ground, judged, own, NO_PARTS),
        groups=groups,
        pits=_placed(judged),
        steady=frozenset(checks.charted(judged)["pit"]),
        probes=_placed(own),
        pairs=none,
        changes=checks.changed(none),
        advice=checks.advise(groups, judged, curve, settings.machine, ground.zones),
        dig_next=checks.dig_next(
            ground,
            groups,
            judged,
            own,
            parts=ground.zones.assign(part=ground.zones["parts"]),
            ridge_cm=ridge_cm,
            keep_off=box(0, 0, 1, 1),
        ),
        ridge=curve,
        ridge_allowance_cm=checks.ridge_allowance_cm(used, settings.machine.speed_km_h),
        notices=(Notice("caution", "c", "Mind <this>."), Notice("note", "n", "A note.")),
    )


def _inputs(settings: Settings) -> FieldInputs:
    """Return the field as read, of which the writers of a check need little."""
    none, shapes = pd.DataFrame(), gpd.GeoDataFrame(geometry=[], crs=CRS)
    outline = MultiPolygon([box(WEST, SOUTH, WEST + 300, SOUTH + 100)])
    tables, layers = (none, none, none), (shapes, shapes, shapes, hazards())
    out = {"file": "pits.csv", "row": 9, "what": "pit <X>", "reason": "20 m outside"}
    files = (InputFile("pits", "pits.csv", "b" * 64),)
    return FieldInputs(
        settings, outline, CRS, None, *tables, *layers, pd.DataFrame([out]), files, ()
    )


def with_hazards(check: Check, found: gpd.GeoDataFrame) -> Check:
    """Return the same check of a field with other hazards."""
    return dataclasses.replace(check, inputs=dataclasses.replace(check.inputs, hazards=found))


def without_pits(check: Check) -> Check:
    """Return the same check with nothing dug."""
    return dataclasses.replace(check, pits=check.pits.iloc[:0])


def _placed(rows: pd.DataFrame) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(rows, geometry=gpd.points_from_xy(rows["x_m"], rows["y_m"]), crs=CRS)
