"""Plan every real parcel with readings sprinkled by a seed.

Run ``python tests/benchmarks/real_parcels.py``. The outlines are the open parcels of nine countries
(test data of fiboa/cli, licence per parcel) in the folder ``ZONING_OPEN_DATA``; the ground below
them and the readings are simulated. Prints a row for each parcel that fails and how often each
check failed:

``parts``    the parts cover the outline once: a valid coverage of the same area to 1e-6
``zones``    the same for the depth zones
``passes``   every run of a pass lies within the outline and a metre round it
``depths``   every depth is 0 or a step of the machine within its range
``area``     the outline's area agrees with the published geodesic area to 2 in 1000
             (a UTM zone is up to 0.8 in 1000 off, more at its rims)
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

sys.path.insert(0, str(Path(__file__).parents[2] / "sample_data"))

from field_scenario import draw, override
from field_shapes import Outline
from simulate import simulate

from zoning import make_plan, read_field
from zoning.errors import ZoningError

if TYPE_CHECKING:
    from zoning.model import Plan

ROOT = Path(__file__).parents[2]
OPEN_DATA = Path(os.environ.get("ZONING_OPEN_DATA", ROOT.parent / "shared" / "data"))
AREA_TOLERANCE = 1e-6
UTM_TOLERANCE = 2e-3


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one parcel: the checks that failed, or why there is no plan."""

    parcel: str
    area_ha: float
    stations: int
    seconds: float
    failed: tuple[str, ...]
    no_plan: str = ""


def covers(shapes: Iterable[BaseGeometry], outline: Outline) -> bool:
    """Return whether the polygons cover the outline exactly once."""
    pieces = np.array(list(shapes), dtype=object)
    gone = shapely.symmetric_difference(shapely.union_all(pieces), outline).area
    same = abs(shapely.area(pieces).sum() - outline.area) <= AREA_TOLERANCE * outline.area
    return bool(
        same
        and gone <= AREA_TOLERANCE * outline.area
        and shapely.is_valid(pieces).all()
        and shapely.coverage_is_valid(pieces)
    )


def checks(plan: Plan, geodesic_ha: float) -> dict[str, bool]:
    """Return each check of a plan by name."""
    machine = plan.settings.machine
    depth = plan.zones["depth_cm"].to_numpy(dtype=float)
    worked = depth[depth > 0]
    steps = (worked - machine.depth_min_cm) / machine.depth_step_cm
    near = plan.boundary.buffer(1.0)
    return {
        "parts": covers(plan.parts.geometry, plan.boundary),
        "zones": covers(plan.zones.geometry, plan.boundary),
        "passes": bool(shapely.covers(near, np.asarray(plan.passes.geometry)).all()),
        "depths": bool(
            np.allclose(steps, np.round(steps)) and (worked <= machine.depth_max_cm + 1e-9).all()
        ),
        "area": abs(plan.boundary.area / 1e4 / geodesic_ha - 1) <= UTM_TOLERANCE,
    }


def longer_axis_deg(outline: Outline) -> float:
    """Return the heading of the longer side of the tightest rectangle round the outline."""
    ring = shapely.get_coordinates(shapely.oriented_envelope(outline))
    sides = np.diff(ring[:3], axis=0)
    east, north = sides[np.argmax(np.hypot(*sides.T))]
    return float(np.degrees(np.arctan2(east, north)) % 180)


def sprinkle(parcel: gpd.GeoDataFrame, seed: int, folder: Path) -> int:
    """Write the parcel as a field folder with simulated readings; return the number of stations."""
    utm = parcel.estimate_utm_crs()
    outline: Any = parcel.to_crs(utm).geometry.iloc[0]
    area_ha = outline.area / 1e4
    scenario = override(
        draw(np.random.default_rng(seed)),
        area_ha=area_ha,
        heading_deg=longer_axis_deg(outline),
        stations=float(np.clip(round(4 * area_ha), 12, 80)),
    )
    sim = simulate(seed, scenario=scenario, outline=outline, crs=f"EPSG:{utm.to_epsg()}")
    sim.write(folder)
    # The outline as published, not as it came back from the working CRS.
    shape = json.loads(shapely.to_geojson(parcel.geometry.iloc[0]))
    feature = {"type": "Feature", "properties": {}, "geometry": shape}
    layer = {"type": "FeatureCollection", "features": [feature]}
    (folder / "boundary.geojson").write_text(json.dumps(layer), encoding="utf-8")
    return int(sim.cone["station"].nunique())


def try_parcel(parcel: gpd.GeoDataFrame, seed: int) -> Outcome:
    """Plan one parcel and check the plan."""
    name, area = str(parcel["parcel_id"].iloc[0]), float(parcel["geodesic_ha"].iloc[0])
    stations, start = 0, time.perf_counter()
    try:
        with tempfile.TemporaryDirectory() as scratch:
            stations = sprinkle(parcel, seed, Path(scratch))
            start = time.perf_counter()
            plan = make_plan(read_field(scratch))
    except ZoningError as refusal:
        return Outcome(name, area, stations, 0.0, (), f"refused: {refusal}")
    except Exception:  # noqa: BLE001  (a crash is a row of the table)
        return Outcome(name, area, stations, 0.0, (), traceback.format_exc(limit=-3))
    seconds = time.perf_counter() - start
    failed = tuple(check for check, held in checks(plan, area).items() if not held)
    return Outcome(name, area, stations, seconds, failed)


def parcels() -> list[gpd.GeoDataFrame]:
    """Return the parcels, one row each."""
    layer = json.loads((OPEN_DATA / "parcels" / "parcels_visible.geojson").read_text("utf-8"))
    frame = gpd.GeoDataFrame.from_features(layer["features"], crs="EPSG:4326")
    return [frame.iloc[[i]] for i in range(len(frame))]


def main() -> int:
    """Run the benchmark; return 1 if any parcel got no plan or a faulty one."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--limit", type=int, help="only so many parcels, evenly spread")
    parser.add_argument("--only", help="only the parcel of this name")
    given = parser.parse_args()
    chosen = [p for p in parcels() if given.only in (None, p["parcel_id"].iloc[0])]
    if given.limit:
        chosen = chosen[:: max(1, len(chosen) // given.limit)][: given.limit]
    outcomes = []
    for i, parcel in enumerate(chosen):
        out = try_parcel(parcel, given.seed + i)
        outcomes.append(out)
        if out.no_plan or out.failed or given.only:
            said = out.no_plan or ", ".join(out.failed) or "all checks hold"
            print(f"{out.parcel:<12}{out.area_ha:8.2f} ha {out.stations:3d} st  {said}", flush=True)
    counts = Counter(check for out in outcomes for check in out.failed)
    good = sum(not out.failed and not out.no_plan for out in outcomes)
    unplanned = sum(bool(out.no_plan) for out in outcomes)
    seconds = [out.seconds for out in outcomes if not out.no_plan] or [0.0]
    print(f"{len(outcomes)} parcels: {good} good, {unplanned} unplanned, failed {dict(counts)}")
    print(f"seconds a plan: median {np.median(seconds):.1f}, most {max(seconds):.1f}")
    return 0 if good == len(outcomes) else 1


if __name__ == "__main__":
    sys.exit(main())
