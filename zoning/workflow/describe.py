"""What each zone says about itself, and where the plan is unsure."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from scipy.special import ndtr

from zoning import parts as parts_room
from zoning.contracts import constant
from zoning.model import PanSurface, Settings
from zoning.workflow.cautions import cleared
from zoning.workflow.cells import Cells


def assurance_of(
    depth_cm: NDArray[np.float64], surface: PanSurface, clearance_cm: float
) -> NDArray[np.float64]:
    """Return the probability, place by place, that `depth_cm` passes the pan base by the clearance.

    A place without a pan needs nothing, so ``1 - p + p * Phi((d - clearance - mean) / sd)``.
    """
    z = (depth_cm - clearance_cm - surface.base_mean_cm) / surface.base_sd_cm
    return 1.0 - surface.pan_probability * ndtr(-z)


def _parts_of(part: pd.Series) -> str:
    share = part.value_counts(normalize=True)
    named = sorted(share.index[share >= constant("plan_rules", "part_share_named")])
    return "; ".join(named)


def describe_zones(
    zones: gpd.GeoDataFrame,
    cell_zone: NDArray[np.int64],
    cells: Cells,
    surface: PanSurface,
    settings: Settings,
) -> gpd.GeoDataFrame:
    """Add ``parts, pan_base_cm, assurance, headland_share, cleared`` to `zones`.

    Parameters
    ----------
    zones
        ``zone, depth_cm, area_ha, geometry``.
    cell_zone
        Zone number of each cell, shape ``(n,)``.
    cells, surface
        The cells and what is predicted there.
    settings
        Clearance and what was done about services.
    """
    cell_zone, nearest = _with_the_tiny(zones, cell_zone, cells)
    cells, surface = cells.take(nearest), surface.take(nearest)
    depth = zones.set_index("zone")["depth_cm"].reindex(cell_zone).to_numpy(dtype=float)
    frame = pd.DataFrame(
        {
            "zone": cell_zone,
            "part": cells.part,
            "weight": np.maximum(surface.pan_probability, 1e-9),
            "base": surface.base_mean_cm,
            "assurance": assurance_of(depth, surface, settings.depth.clearance_cm),
            "headland": cells.part == "headland",
        }
    )
    frame["weighted"] = frame["base"] * frame["weight"]
    by_zone = frame.groupby("zone")
    told = pd.DataFrame(
        {
            "parts": by_zone["part"].agg(_parts_of),
            "pan_base_cm": by_zone["weighted"].sum() / by_zone["weight"].sum(),
            "assurance": by_zone["assurance"].mean(),
            "headland_share": by_zone["headland"].mean(),
        }
    )
    out = zones.merge(told, left_on="zone", right_index=True, how="left").sort_values("zone")
    out["cleared"] = [cleared(d, settings) for d in out["depth_cm"]]
    return out.reset_index(drop=True)


def _with_the_tiny(
    zones: gpd.GeoDataFrame, cell_zone: NDArray[np.int64], cells: Cells
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return zone and index of each cell, and the nearest cell again for a zone without one."""
    tiny = zones[~zones["zone"].isin(cell_zone)]
    places = shapely.get_coordinates(shapely.point_on_surface(tiny.geometry.to_numpy()))
    nearest = cKDTree(cells.xy_m).query(places)[1] if len(tiny) else np.empty(0, dtype=int)
    index = np.concatenate([np.arange(len(cell_zone)), nearest]).astype(np.int64)
    return np.concatenate([cell_zone, tiny["zone"].to_numpy(dtype=np.int64)]), index


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
            {"reason": reason, "area_ha": round(shape.area / 1e4, 4), "geometry": shape}
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
    columns = ["pass", "step", "part", "from_m", "to_m", "depth_cm", "geometry"]
    return runs.assign(part=most)[columns]


def _most(held: NDArray[np.str_]) -> str:
    names, counts = np.unique(held, return_counts=True)
    leading = names[counts == counts.max()]
    middle = held[len(held) // 2]
    return str(middle if middle in leading else leading[0])
