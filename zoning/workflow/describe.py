"""What each zone says about itself, and where the plan is unsure."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from zoning import parts as parts_room
from zoning.contracts import constant
from zoning.depths import Places, probability_enough
from zoning.model import PanSurface, Settings
from zoning.units import M2_PER_HA
from zoning.workflow.cautions import cleared
from zoning.workflow.cells import Cells

STRETCHES = ("body", "headland", "wheeling")


def _parts_of(area_m2: pd.Series) -> str:
    """Return the parts of a zone that are worth naming, from the ground of each part in it.

    A gateway or a named area is named where a zone holds more of it than a sliver, since someone
    looks for it there; one of `STRETCHES` where it holds a share worth naming.
    """
    share = area_m2 / area_m2.sum()
    large = share >= constant("plan_rules", "part_share_named")
    sought = (area_m2 >= constant("plan_rules", "ground_told_m2")) & ~area_m2.index.isin(STRETCHES)
    return "; ".join(sorted(area_m2.index[large | sought]))


def describe_zones(
    zones: gpd.GeoDataFrame,
    piece_zone: NDArray[np.int64],
    places: Places,
    surface: PanSurface,
    settings: Settings,
) -> gpd.GeoDataFrame:
    """Add ``parts, pan_base_cm, assurance, headland_share, cleared`` to `zones`.

    Parameters
    ----------
    zones
        ``zone, depth_cm, area_ha, geometry``.
    piece_zone
        Zone number of each piece, shape ``(pieces,)``.
    places, surface
        The ground of each part in each piece and the pan there.
    settings
        Clearance and what was done about services.
    """
    zone, area = piece_zone[places.piece], places.area_m2
    depth = zones.set_index("zone")["depth_cm"].reindex(zone).to_numpy(dtype=float)
    weight = area * np.maximum(surface.pan_probability, 1e-9)
    enough = probability_enough(surface, depth, clearance_cm=settings.depth.clearance_cm)
    frame = pd.DataFrame(
        {
            "zone": zone,
            "part": places.part,
            "area": area,
            "weight": weight,
            "base": weight * surface.base_mean_cm,
            "assurance": area * enough,
            "headland": area * (places.part == "headland"),
        }
    )
    total = frame.groupby("zone")[["area", "weight", "base", "assurance", "headland"]].sum()
    by_part = frame.pivot_table("area", "part", "zone", aggfunc="sum")
    told = pd.DataFrame(
        {
            "parts": by_part.apply(_parts_of),
            "pan_base_cm": total["base"] / total["weight"],
            "assurance": total["assurance"] / total["area"],
            "headland_share": total["headland"] / total["area"],
        }
    )
    out = zones.merge(told, left_on="zone", right_index=True, how="left").sort_values("zone")
    out["cleared"] = [cleared(d, settings) for d in out["depth_cm"]]
    return out.reset_index(drop=True)


def uncertain_places(cells: Cells, surface: PanSurface, crs: str) -> gpd.GeoDataFrame:
    """Return polygons where the readings say little: ``reason, area_ha, geometry``.

    Reasons, the first that holds: no station near; base uncertain; presence of a pan in doubt.
    """
    low = constant("plan_rules", "presence_unsure_low")
    high = constant("plan_rules", "presence_unsure_high")
    doubt = (surface.pan_probability > low) & (surface.pan_probability < high)
    reasons = np.select(
        [
            surface.stations_near == 0,
            surface.base_sd_cm > constant("plan_rules", "support_sd_cm"),
            doubt,
        ],
        ["no station near", "pan base uncertain", "a pan may or may not be there"],
        default="",
    )
    found: list[dict[str, object]] = []
    for reason in sorted(set(reasons) - {""}):
        found += [
            {"reason": reason, "area_ha": round(shape.area / M2_PER_HA, 4), "geometry": shape}
            for shape in _clumps(cells, reasons == reason)
        ]
    frame = pd.DataFrame(found, columns=["reason", "area_ha", "geometry"])
    return gpd.GeoDataFrame(frame, geometry="geometry", crs=crs)


def _clumps(cells: Cells, chosen: NDArray[np.bool_]) -> list[shapely.Polygon]:
    """Return outlines of joined cells, if large enough to matter, from the north-west."""
    half = cells.grid.cell_m / 2
    x, y = cells.xy_m[chosen].T
    merged = shapely.union_all(shapely.box(x - half, y - half, x + half, y + half))
    least = constant("plan_rules", "uncertain_min_area_m2")
    shapes = [part for part in shapely.get_parts(merged) if part.area >= least]
    return sorted(shapes, key=lambda shape: (-shape.bounds[3], shape.bounds[0]))


def describe_runs(runs: gpd.GeoDataFrame, parts: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Add ``part`` to `runs`: the part that most of each run of a pass lies in.

    It is the part at most of the places spread evenly along the run; of parts at equally many, the
    one at its middle, failing that the first by name.
    """
    places = int(constant("plan_rules", "run_part_places"))
    along = (np.arange(places) + 0.5) / places
    lines = np.repeat(runs.geometry.to_numpy(), places)
    points = shapely.line_interpolate_point(lines, np.tile(along, len(runs)), normalized=True)
    found = np.asarray(parts_room.part_of(parts, shapely.get_coordinates(points)), dtype=str)
    most = [_most(held) for held in found.reshape(len(runs), places)]
    columns = ["pass", "step", "part", "laid", "from_m", "to_m", "depth_cm", "geometry"]
    return runs.assign(part=most)[columns]


def _most(held: NDArray[np.str_]) -> str:
    names, counts = np.unique(held, return_counts=True)
    leading = names[counts == counts.max()]
    middle = held[len(held) // 2]
    return str(middle if middle in leading else leading[0])
