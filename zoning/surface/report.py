"""The facts of a fit in plain numbers and words."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from zoning.surface.averaging import Averaged
from zoning.surface.inference import Inference
from zoning.surface.presence import Presence
from zoning.surface.priors import BODY, rule
from zoning.surface.scores import crps, interval_hits
from zoning.surface.stations import Stations

Value = float | str | bool | None


def make_report(read: Stations, averaged: Averaged, presence: Presence) -> Mapping[str, Value]:
    """Return name to number or text for ``plan.json``."""
    base = averaged.best
    report: dict[str, Value] = {
        "stations": float(len(read.names)),
        "bases_read": float(len(read.base.value)),
        "bases_censored": float(len(read.censored)),
    }
    report.update(_parameters(base))
    report.update(_effects(read, base))
    report.update(_left_out(averaged))
    report.update(_presence(read, presence))
    report["outliers"] = "; ".join(read.names[i] for i in read.base_row[base.outliers])
    return report


def _parameters(base: Inference) -> dict[str, Value]:
    fitted = base.fit.covariance
    return {
        "covariance": fitted.kind,
        "nugget_cm2": fitted.nugget,
        "partial_sill_cm2": fitted.partial_sill,
        "range_m": fitted.range_m,
        "practical_range_m": fitted.practical_range_m,
        "body_base_cm": base.system.level,
    }


def _effects(read: Stations, base: Inference) -> dict[str, Value]:
    facts: dict[str, Value] = {}
    for code in np.unique(read.places.part):
        name = read.parts.names[code]
        if name != BODY:
            mean, sd = base.system.part_effect(int(code))
            facts[f"part_effect_{name}_cm"], facts[f"part_effect_sd_{name}_cm"] = mean, sd
    if len(read.days) > 1:
        for code, day in enumerate(read.days):
            mean, sd = base.system.day_effect(code)
            facts[f"day_effect_{day}_cm"], facts[f"day_effect_sd_{day}_cm"] = mean, sd
    return facts


def _presence(read: Stations, presence: Presence) -> dict[str, Value]:
    """Return how well the stations with an answer are told from the others left in."""
    asked = read.known > 0
    if not np.any(asked):
        return {"presence_stations": 0.0}
    share = read.with_pan[asked] / read.known[asked]
    told = presence.leave_one_out()[asked]
    return {
        "presence_stations": float(asked.sum()),
        "presence_share_with_pan": float(share.mean()),
        "presence_left_out_mean": float(told.mean()),
        "presence_left_out_brier": float(np.mean((told - share) ** 2)),
        "presence_practical_range_m": presence.practical_range_m,
    }


def _left_out(averaged: Averaged) -> dict[str, Value]:
    base = averaged.best
    rows = np.setdiff1d(np.arange(len(base.used)), base.censored)
    mean, var = averaged.leave_one_out()
    mean, sd = mean[rows], np.sqrt(var[rows])
    value = base.raw.value[rows]
    level = rule("interval_level")
    if not len(rows):
        return {"left_out": 0.0, "left_out_inside": 0.0, "left_out_interval": level}
    return {
        "left_out": float(len(rows)),
        "left_out_inside": float(interval_hits(value, mean, sd, level)),
        "left_out_interval": level,
        "left_out_crps_cm": float(crps(value, mean, sd).mean()),
        "left_out_rmse_cm": float(np.sqrt(np.mean((value - mean) ** 2))),
    }
