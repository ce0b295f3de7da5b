"""What the work takes by zone and in total, with one uniform depth beside it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from zoning import machine
from zoning.model import Losses, Notice
from zoning.workflow.between_legs import RIDGE_FOUND, TOO_CLOSE


@dataclass(frozen=True, slots=True, eq=False)
class Effort:
    """Zones with what each takes, the totals, and what does not fit."""

    zones: gpd.GeoDataFrame
    totals: Mapping[str, float]
    notices: tuple[Notice, ...]


def driven_share(
    pieces: gpd.GeoDataFrame, depth_cm: NDArray[np.float64], zone: NDArray[np.int64]
) -> NDArray[np.float64]:
    """Return the share of each zone, in order, on passes that are driven.

    A pass on which the legs are lifted all the way asks for no drive: it is left out.

    Parameters
    ----------
    pieces
        ``pass_id`` and geometry.
    depth_cm, zone
        Working depth and zone of each piece, zones from 1.
    """
    worked = pd.Series(depth_cm > 0).groupby(pieces["pass_id"].to_numpy()).transform("any")
    area_m2 = pieces.geometry.area.to_numpy()
    driven = np.bincount(zone, area_m2 * worked.to_numpy())[1:]
    return np.asarray(driven / np.bincount(zone, area_m2)[1:], dtype=np.float64)


def effort_of(
    zones: gpd.GeoDataFrame,
    outfit: machine.Outfit,
    losses: Losses,
) -> Effort:
    """Return what the zones take, and what one uniform depth on all of them would.

    Parameters
    ----------
    zones
        ``zone, depth_cm, area_ha, headland_share, driven_share`` and what else there is.
    outfit
        Machine, tractor, soil and prices, and what was measured behind them.
    losses
        Names the uniform depth: the single one that is enough on most of the field.
    """
    depths_cm = tuple(sorted({float(depth) for depth in zones["depth_cm"] if depth > 0}))
    outfit = replace(outfit, depths_cm=depths_cm)
    worked = machine.work_of_zones(zones, outfit)
    depth_cm = losses.point95_depth_cm
    throughout = zones.assign(depth_cm=depth_cm, driven_share=1.0)
    even = machine.work_totals(machine.work_of_zones(throughout, outfit))
    totals = {
        **asdict(machine.work_totals(worked)),
        "uniform_depth_cm": depth_cm,
        "uniform_draft_energy_mj": even.draft_energy_mj,
        "uniform_fuel_l": even.fuel_l,
        "uniform_time_min": even.time_min,
    }
    return Effort(gpd.GeoDataFrame(worked, crs=zones.crs), totals, _findings(outfit))


def zone_totals(zones: gpd.GeoDataFrame) -> Mapping[str, float]:
    """Return how many zones there are, and the mean depth of those that are worked [cm]."""
    worked = zones[zones["depth_cm"] > 0]
    area_ha = float(worked["area_ha"].sum())
    weighted = float((worked["depth_cm"] * worked["area_ha"]).sum())
    return {"zones": float(len(zones)), "mean_depth_cm": weighted / area_ha if area_ha else 0.0}


def at_most_totals(losses_cm: Sequence[float]) -> Mapping[str, float]:
    """Return the expected loss with at most 1, 2, ... working depths along the same passes [cm]."""
    return {f"loss_at_most_{i}_cm": loss for i, loss in enumerate(losses_cm, start=1)}


def _findings(outfit: machine.Outfit) -> tuple[Notice, ...]:
    """Return each finding once, of the depth that it binds most, with the others that it binds."""
    setup = machine.setup_findings(outfit)
    at_depths: dict[str, list[tuple[float, machine.Finding]]] = {}
    for depth_cm in outfit.depths_cm:
        for each in machine.zone_findings(depth_cm, outfit):
            at_depths.setdefault(each.code, []).append((depth_cm, each))
    own = [
        held for code, held in at_depths.items() if not _TOLD_WITH.get(code, set()) & {*at_depths}
    ]
    told = [(each, str(each)) for each in setup] + [_most(held) for held in own]
    return tuple(
        Notice("caution" if each.level == "change" else "note", f"machine-{each.code}", words)
        for each, words in sorted(told)
    )


def _most(held: list[tuple[float, machine.Finding]]) -> tuple[machine.Finding, str]:
    """Return the finding at the depth that it binds most, and its words.

    A change that other depths ask for too, with other figures, names them.
    """
    at = 0 if held[0][1].code in BINDS_AT_THE_SHALLOWEST else -1
    first = held[at][1]
    others = [f"{depth:g}" for depth, each in held if each != first and each.level == "change"]
    too = f" At {', '.join(others)} cm too, by less." if others and first.level == "change" else ""
    return first, f"{first}{too}"


_TOLD_WITH: Mapping[str, frozenset[str]] = {
    RIDGE_FOUND: frozenset({RIDGE_FOUND}),  # told with the pan, and with what the spacing does
    TOO_CLOSE: frozenset({RIDGE_FOUND}),
    "near-critical-depth": frozenset({"below-critical-depth"}),
    "may-not-be-pulled": frozenset({"pull-slower", "cannot-be-pulled"}),
}
"""Findings that a plan does not tell where one of the others says it; the zones keep them."""
BINDS_AT_THE_SHALLOWEST = frozenset(
    {"legs-too-wide"}
)  # the widest spacing allowed grows with depth
