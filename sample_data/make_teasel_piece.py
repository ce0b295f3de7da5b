"""Make the sample field Teasel Piece again, byte for byte.

Run ``python sample_data/make_teasel_piece.py``, with another folder as its argument if wanted.

Field, farm, readings and truth are invented. The place is ordinary farmland chosen so that the map
has ground under it; the outline follows no real field.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pandas as pd
from field_folder import lonlat_of, write_csv, write_folder, write_layer
from field_scenario import Scenario
from field_shapes import Shapes, outer_ring
from shapely import LineString
from shapely.geometry.base import BaseGeometry
from simulate import Simulated, simulate

NAME = "Teasel Piece"
SEED = 26
TRUTH_STEP_M = 5.0
SCENARIO = Scenario(
    area_ha=10.4,
    aspect=1.5,
    corners=7,
    notch=False,
    pond=False,
    heading_deg=23.0,
    headland_width_m=24.0,
    wheeling_spacing_m=30.0,
    wheeling_width_m=2.6,
    wheeling_map_error_m=0.2,
    gateways=1,
    gateway_radius_m=20.0,
    body_base_cm=31.0,
    headland_cm=6.5,
    wheeling_cm=4.5,
    gateway_cm=9.0,
    named_cm=6.0,
    range_m=120.0,
    sd_cm=3.0,
    smoothness=1.5,
    small_range_m=4.0,
    small_sd_cm=1.0,
    no_pan_share=0.14,
    no_pan_range_m=220.0,
    thickness_cm=11.0,
    thickness_sd_cm=1.5,
    stations=52,
    pits=7,
    insertions=3,
    step_cm=2.5,
    cone_depth_cm=60.0,
    noise_cv=0.07,
    within_sd_cm=1.0,
    position_sd_m=0.8,
    part_recorded=0.85,
    stone_share=0.10,
    refusal_share=0.06,
    stiff_share=0.05,
    hard_share=0.02,
    day_cv=0.0,
)

TOML = """\
# Teasel Piece: an invented field with invented readings, to try the program on.
# Every length says its unit at the end of its name. Lines that begin with # are remarks.

[field]
name = "Teasel Piece"
season = 2026
boundary = "boundary.geojson"       # the outline; GeoPackage or a zipped shapefile will do as well

[readings]
cone = "cone.csv"                   # cone penetrometer: a row for each depth of each insertion
pits = "pits.csv"                   # what was seen with the spade
limit_mpa = 2.0                     # cone index above which the soil counts as pan

[areas]                             # parts of the field where the pan may lie at another depth
headland_width_m = 24
gateways = "gateways.geojson"       # points; ground within the radius counts as gateway
gateway_radius_m = 20
named = "areas.geojson"             # anything else worth its own depth: here an old clamp pad

[areas.wheelings]
lines = "wheelings.geojson"         # the middle of each wheeling
width_m = 2.6

[hazards]
file = "hazards.geojson"            # a shallow drain and a water pipe, and how far to keep off
services = "records"                # not_checked until you ask; records (plans seen) or located
reference = "invented enquiry 000"  # printed on every output
notice_depth_cm = 30                # deeper than this, ground not "located" is marked NOT CLEARED

[machine]
name = "seven-leg loosener"
legs = 7
leg_spacing_cm = 43
foot_width_cm = 6
point = "plain"                     # plain or winged
depth_min_cm = 15
depth_max_cm = 50
depth_step_cm = 2.5                 # from one pin hole to the next
depth_control = "pins"
frame = "two_row"
row_gap_cm = 90
speed_km_h = 8
travel_heading_deg = 23             # clockwise from grid north; without it, along the longest side

[tractor]
pto_power_kw = 180
drive = "4wd"
ground = "firm"

[soil]
texture = "medium"                  # fine, medium or coarse

[depth]
clearance_cm = 3                    # how far below the pan the points should run
assurance = 0.8                     # probability, place by place, of working below the pan
max_depths = 4                      # different working depths on the field
min_run_m = 25                      # shortest run before the depth may change again
lift_out = true                     # legs may be lifted out where there is no pan

[costs]
currency = "EUR"
fuel_per_l = 1.1
"""

TRUTH_README = """\
# The truth of Teasel Piece

Invented, like the field: what the generator put into the ground, never known of a real field.

`truth.csv` has a row for each place of a 5 m grid inside the outline:
`easting, northing` (EPSG:32631) and `lon, lat` (WGS 84), `part` the place belongs to,
`pan` (`yes` or `no`), `pan_top_cm` and `pan_base_cm` (blank without a pan). It is no input of the
program; it serves to judge a plan made from the readings.
"""


def hazards(shapes: Shapes) -> list[tuple[BaseGeometry, dict[str, object]]]:
    """Return a shallow drain across the field and a water pipe across a corner."""
    ring = outer_ring(shapes.boundary)

    def across(start: float, end: float) -> LineString:
        ends = [ring.interpolate(at, normalized=True) for at in (start, end)]
        return LineString(ends)

    return [
        (
            across(0.30, 0.66),
            {"kind": "drain", "name": "stone drain", "depth_cm": 45, "clear_m": 1.5},
        ),
        (
            across(0.13, 0.26),
            {"kind": "service", "name": "water pipe", "depth_cm": 75, "clear_m": 3},
        ),
    ]


def truth_grid(sim: Simulated) -> pd.DataFrame:
    """Return what lies at each place of the grid."""
    xy = sim.grid_m(TRUTH_STEP_M)
    pan = sim.true_pan(xy)
    lonlat = np.round(lonlat_of(xy, sim.crs), 7)
    return pd.DataFrame(
        {
            "easting": xy[:, 0],
            "northing": xy[:, 1],
            "lon": lonlat[:, 0],
            "lat": lonlat[:, 1],
            "part": sim.part(xy),
            "pan": np.where(pan, "yes", "no"),
            "pan_top_cm": np.where(pan, np.round(sim.truth.top_cm(xy), 1), np.nan),
            "pan_base_cm": np.where(pan, np.round(sim.true_base_cm(xy), 1), np.nan),
        }
    )


def make(folder: Path) -> Simulated:
    """Write the whole sample field into `folder`."""
    sim = simulate(SEED, scenario=SCENARIO, named=True)
    write_folder(sim.truth, sim.cone, sim.pits, sim.crs, folder, NAME)
    (folder / "field.toml").write_text(TOML, encoding="utf-8", newline="\n")
    write_layer(folder / "hazards.geojson", hazards(sim.shapes), sim.crs)
    (folder / "truth").mkdir(exist_ok=True)
    grid = truth_grid(sim)
    write_csv(folder / "truth" / "truth.csv", grid, grid.columns)
    readme = folder / "truth" / "README.md"
    readme.write_text(TRUTH_README, encoding="utf-8", newline="\n")
    return sim


if __name__ == "__main__":
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent / "teasel_piece"
    make(target)
    print(f"Written: {target}")
