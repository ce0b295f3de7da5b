"""Work a simulated field after its plan, slowly or fast, and dig behind the machine.

Run ``python sample_data/simulate_after.py slow FOLDER`` (or ``fast``): FOLDER becomes the sample
field with its plan, and with what an adviser would find after a pass at that speed: pits of phase
``after``, cone readings after the work and trial runs. Then try ``zoning check FOLDER``.

At 4 km/h the soil between legs is loosened 10-12 cm less deep than at the legs, at 10 km/h about
3 cm, with the same settings (common practice). Everything else is a guess of this generator:
a leg runs within a centimetre of its setting, the ridge is a straight slope from leg to leg, and
the adviser notes in seven pits of ten whether a pan is left.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from field_folder import CONE_COLUMNS, PIT_COLUMNS, with_lonlat, write_csv
from field_probing import PIT_SD_CM
from field_profiles import draw_ground, draw_log
from field_truth import Numbers, Places
from make_teasel_piece import make
from simulate import Simulated

import zoning
from zoning.outputs.check.read import read_planned

DATE = "2026-09-10"
LEG_SD_CM = 0.7
NOTED_SHARE = 0.7
PITS_A_DEPTH = 5
STATIONS_A_DEPTH = 4
INSIDE_M = 3.0
BESIDE_M = 4.0
AFTER_COLUMNS = (
    *PIT_COLUMNS[:-1],
    "loosened_at_leg_cm",
    "loosened_between_cm",
    "speed_km_h",
    "note",
)


@dataclass(frozen=True, slots=True)
class Passage:
    """One way of working: speed, and the ridge it leaves between legs [cm], least and most."""

    speed_km_h: float
    ridge_cm: tuple[float, float]


SLOW = Passage(4.0, (10.0, 12.0))
FAST = Passage(10.0, (2.5, 3.5))
READINGS = '[readings]\ncone_after = "cone_after.csv"\ntrials = "trials.csv"\n'
PASSAGES = {"slow": SLOW, "fast": FAST}


def trial_runs() -> pd.DataFrame:
    """Return trial runs at four speeds with the ridges of common practice, evenly between."""
    ridge = (11.0, 8.0, 5.0, 3.0)
    return pd.DataFrame(
        {
            "run": ["A", "B", "C", "D"],
            "speed_km_h": [4.0, 6.0, 8.0, 10.0],
            "depth_setting_cm": 35.0,
            "loosened_at_leg_cm": 35.0,
            "loosened_between_cm": [35.0 - r for r in ridge],
            "surface": "level",
            "note": "",
        }
    )


def places_by_depth(zones: gpd.GeoDataFrame, count: int, rng: np.random.Generator) -> pd.DataFrame:
    """Return `count` random places well inside the ground of each working depth."""
    rows = []
    for depth, held in zones[zones["depth_cm"] > 0].groupby("depth_cm", sort=True):
        ground = shapely.union_all(held.geometry.to_numpy()).buffer(-INSIDE_M)
        west, south, east, north = ground.bounds
        tries = rng.uniform((west, south), (east, north), (4000, 2))
        inside = tries[shapely.contains_xy(ground, tries[:, 0], tries[:, 1])][:count]
        rows += [{"x_m": x, "y_m": y, "depth_cm": float(str(depth))} for x, y in inside]
    return pd.DataFrame(rows)


def beside_pits(sim: Simulated, zones: gpd.GeoDataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Return a place a few steps from each pit dug before, where the ground was worked."""
    xy = sim.pits[["x_m", "y_m"]].to_numpy()
    angle = rng.uniform(0, 2 * np.pi, len(xy))
    near = xy + BESIDE_M * np.column_stack([np.cos(angle), np.sin(angle)])
    points = gpd.GeoDataFrame(geometry=gpd.points_from_xy(*near.T), crs=zones.crs)
    held = points.sjoin(zones[zones["depth_cm"] > 0][["depth_cm", "geometry"]])
    return pd.DataFrame(
        {"x_m": held.geometry.x, "y_m": held.geometry.y, "depth_cm": held["depth_cm"]}
    )


def dig_after(
    sim: Simulated, zones: gpd.GeoDataFrame, passage: Passage, rng: np.random.Generator
) -> pd.DataFrame:
    """Return pits dug across a run in the ground of each depth and beside the old pits."""
    places = pd.concat(
        [places_by_depth(zones, PITS_A_DEPTH, rng), beside_pits(sim, zones, rng)], ignore_index=True
    )
    xy, count = places[["x_m", "y_m"]].to_numpy(), len(places)
    leg = np.round(places["depth_cm"].to_numpy() + rng.normal(0, LEG_SD_CM, count))
    between = np.round(leg - rng.uniform(*passage.ridge_cm, count))
    base = sim.true_base_cm(xy)
    left = sim.true_pan(xy) & (base > between)
    noted = rng.random(count) < NOTED_SHARE
    seen = np.round(base + rng.normal(0, PIT_SD_CM, count))
    return pd.DataFrame(
        {
            "pit": [f"A{i + 1:02d}" for i in range(count)],
            "date": DATE,
            "phase": "after",
            "x_m": xy[:, 0],
            "y_m": xy[:, 1],
            "part": sim.part(xy),
            "pan": np.where(noted, np.where(left, "yes", "no"), ""),
            "pan_top_cm": np.nan,
            "pan_base_cm": np.where(noted & left, seen, np.nan),
            "structure_score": np.where(left, 3.5, 2.0),
            "moisture": "friable",
            "loosened_at_leg_cm": leg,
            "loosened_between_cm": between,
            "speed_km_h": passage.speed_km_h,
            "note": "",
        }
    )


def probe_after(
    sim: Simulated, zones: gpd.GeoDataFrame, passage: Passage, rng: np.random.Generator
) -> pd.DataFrame:
    """Return cone readings of after the work: three insertions a station, anywhere across a run."""
    places = places_by_depth(zones, STATIONS_A_DEPTH, rng)
    logs = []
    for i, place in enumerate(places.itertuples()):
        xy = np.array([[place.x_m, place.y_m]])
        for k in range(3):
            loosened = place.depth_cm - rng.uniform(*passage.ridge_cm) * rng.random()
            log = _push(sim, xy, loosened, rng)
            logs.append(
                log.assign(station=f"C{i + 1:02d}", insertion=k + 1, x_m=xy[0, 0], y_m=xy[0, 1])
            )
    cone = pd.concat(logs, ignore_index=True)
    return cone.assign(date=DATE, moisture="friable", part="", refused="", note="")


def _push(sim: Simulated, xy: Places, loosened_cm: float, rng: np.random.Generator) -> pd.DataFrame:
    """Return one push: soft down to the loosened depth, below it what is left of the pan."""
    quiet = replace(sim.scenario, stone_share=0.0, refusal_share=0.0)
    ground = draw_ground(quiet, rng, stiff=False, hard=False)
    base, top = float(sim.true_base_cm(xy)[0]), float(sim.truth.top_cm(xy)[0])
    top = max(top, loosened_cm)
    if sim.true_pan(xy)[0] and base - top > 1.0:
        ground = replace(ground, top_cm=top, base_cm=base)
    log = draw_log(quiet, rng, ground, 1.0)
    softer: Numbers = np.where(log.depth_cm < min(loosened_cm, top) - 2, 0.7, 1.0)
    return pd.DataFrame(
        {"depth_cm": log.depth_cm, "cone_index_mpa": np.round(log.cone_index_mpa * softer, 2)}
    )


def work(sim: Simulated, folder: Path, passage: Passage, seed: int = 1) -> None:
    """Add to a field folder with its plan what is found after a pass.

    Parameters
    ----------
    sim
        The field, with its truth.
    folder
        Its folder, with the plan in ``folder/plan``.
    passage
        How it was worked.
    seed
        The same seed gives the same pits.
    """
    zones = read_planned(folder / "plan").zones
    streams = [np.random.default_rng(s) for s in np.random.SeedSequence([seed]).spawn(2)]
    pits = with_lonlat(dig_after(sim, zones, passage, streams[0]), sim.crs)
    before = pd.read_csv(folder / "pits.csv", keep_default_na=False)
    both = pd.concat([before[before["phase"] == "before"], pits], ignore_index=True)
    known = both.astype(object).where(both.notna(), "")
    write_csv(folder / "pits.csv", known, AFTER_COLUMNS)
    cone = with_lonlat(probe_after(sim, zones, passage, streams[1]), sim.crs)
    write_csv(folder / "cone_after.csv", cone, CONE_COLUMNS)
    write_csv(folder / "trials.csv", trial_runs(), trial_runs().columns)
    path = folder / "field.toml"
    toml = path.read_text(encoding="utf-8")
    if "cone_after" not in toml:
        path.write_text(toml.replace("[readings]\n", READINGS, 1), encoding="utf-8", newline="\n")


def make_worked(folder: Path, passage: Passage) -> None:
    """Write the sample field, plan it, and work it."""
    sim = make(folder)
    zoning.write_plan(zoning.make_plan(zoning.read_field(folder)), folder / "plan")
    work(sim, folder, passage)


if __name__ == "__main__":
    if len(sys.argv) != 3 or sys.argv[1] not in PASSAGES:
        sys.exit("Say how it was worked and where to write: slow or fast, and a folder.")
    make_worked(Path(sys.argv[2]), PASSAGES[sys.argv[1]])
    print(f"Written: {sys.argv[2]}")
