"""The facts of a fit in plain numbers and words."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from zoning.surface.anisotropy import HeadingTest
from zoning.surface.averaging import Averaged, mixed
from zoning.surface.inference import Inference
from zoning.surface.presence import Presence
from zoning.surface.priors import BODY, rule
from zoning.surface.shared_prior import SharedPrior
from zoning.surface.stations import Stations
from zoning.surface.system import System
from zoning.surface.validation import Score, leave_blocks_out, score, spatial_blocks

Value = float | str | bool | None


def make_report(
    read: Stations,
    averaged: Averaged,
    presence: Presence,
    heading: HeadingTest | None,
    shared: SharedPrior | None = None,
) -> Mapping[str, Value]:
    """Return name to number or text for ``plan.json``."""
    base = averaged.best
    report: dict[str, Value] = {
        "stations": float(len(read.names)),
        "bases_read": float(len(read.base.value)),
        "bases_censored": float(len(read.censored)),
        "outliers": "; ".join(read.names[i] for i in read.base_row[base.outliers]),
        "no_pan_probability": _doubted(read, averaged),
        "longer_range_along_heading": heading.answer
        if heading
        else "not tested: too many bases read",
        "longer_range_along_heading_gain": heading.twice_gain if heading else 0.0,
    }
    report.update(_parameters(averaged))
    report.update(_effects(read, base))
    report.update(_validation(averaged))
    report.update(_presence(presence))
    report.update({} if shared is None else shared.facts())
    return report


def _doubted(read: Stations, averaged: Averaged) -> str:
    """Return each station whose base may be none, with the probability of that."""
    probability = averaged.no_pan_probability()
    rows = np.flatnonzero(probability)
    return "; ".join(f"{read.names[read.base_row[i]]} ({probability[i]:.0%})" for i in rows)


def _parameters(averaged: Averaged) -> dict[str, Value]:
    fitted = averaged.best.fit.covariance
    weights = [weight for weight, i in averaged.nodes if i.fit.covariance.kind == fitted.kind]
    compared = len(np.unique(averaged.best.raw.part)) > 1
    return {
        "covariance": fitted.kind,
        "covariance_weight": sum(weights),
        "variance_factor": averaged.variance_factor,
        "nugget_cm2": fitted.nugget,
        "partial_sill_cm2": fitted.partial_sill,
        "range_m": fitted.range_m,
        "practical_range_m": fitted.practical_range_m,
        "body_base_cm": averaged.best.system.level,
        # One part alone says nothing of whether parts differ.
        "parts_differ_probability": averaged.parts_differ if compared else None,
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
        facts["days_warning"] = days_warning(read)
    return facts


def days_warning(read: Stations) -> str:
    """Return a warning where the cone readings of a day lie in a place of their own, else nothing.

    A day whose stations enclose hardly one of another day cannot be told from its place. Stations
    of one day repeated on another can, on the same part of the field; pits have no day.
    """
    dated = np.flatnonzero(read.base.day >= 0)
    if len(dated) < 2:
        return ""
    day, part = read.base.day[dated], read.base.part[dated]
    tree = cKDTree(read.base.xy_m[dated])
    pairs = tree.query_pairs(rule("day_repeat_m"), output_type="ndarray")
    near = day[pairs[part[pairs[:, 0]] == part[pairs[:, 1]]]]
    places = np.atleast_1d(np.asarray(shapely.points(tree.data), dtype=np.object_))
    codes = [code for code in np.unique(day) if _apart(places, day == code, near == code)]
    apart = [read.days[code] for code in codes]
    if not apart:
        return ""
    return (
        f"Day and place cannot be told apart: the cone stations of {' and of '.join(apart)} lie in "
        "a place of their own, so a difference of moisture between the days may be taken for one "
        "of the ground. Repeat 2 or 3 stations of one day on another, and look twice at a zone "
        "edge that follows a day."
    )


def _apart(
    places: NDArray[np.object_], own: NDArray[np.bool_], near_own: NDArray[np.bool_]
) -> bool:
    """Return whether the stations of a day enclose hardly any other, and none is repeated.

    Hardly any of those on the ground that they enclose, nor of all the others: many stations of one
    day outnumber few of another wherever these lie.

    `near_own` holds for each pair of stations at one place whether they are of the day, ``(m, 2)``.
    """
    repeats = np.sum(near_own[:, 0] != near_own[:, 1])
    if own.all() or own.sum() < rule("confounded_least") or repeats >= rule("day_repeats"):
        return False
    ground = shapely.convex_hull(shapely.multipoints(places[own]))
    others = int(np.sum(shapely.intersects(ground, places) & ~own))
    of_ground, of_others = own.sum() + others, np.sum(~own)
    most = 1.0 - rule("confounded_share")
    return bool(others <= most * of_ground and others <= most * of_others)


def _validation(averaged: Averaged) -> dict[str, Value]:
    base, level = averaged.best, rule("interval_level")
    rows = np.setdiff1d(np.arange(len(base.used)), base.censored)
    value = base.raw.value[rows]
    mean, var = averaged.leave_one_out()
    single = score(value, mean[rows], var[rows], level)
    block = spatial_blocks(base.raw.xy_m, int(rule("validation_blocks")))
    exact = [(w, system) for w, system in averaged.best_split if isinstance(system, System)]
    mean, var = mixed(
        [(w, *leave_blocks_out(system, block)) for w, system in exact] or [(1.0, mean, var)]
    )
    blocked = score(value, mean[rows], var[rows], level)
    return {
        "interval_level": level,
        **_scores("left_out", single),
        **_scores("blocks_left_out", blocked),
        "left_out_words": _left_out_words(single, blocked, level),
    }


def _left_out_words(single: Score, blocked: Score, level: float) -> str:
    if single.count < rule("left_out_least"):
        read = "1 base was" if single.count == 1 else f"{single.count} bases were"
        return f"Only {read} read: too few to test the plan by leaving each out in turn."
    blocks = f" With a whole block of ground left out at a time, {blocked.inside} did."
    return (
        f"Of {single.count} bases read, each left out in turn, {single.inside} fell inside the "
        f"stated {level:.0%} range.{blocks if blocked.count else ''}"
    )


def _scores(name: str, found: Score) -> dict[str, Value]:
    return {
        name: float(found.count),
        f"{name}_inside": float(found.inside),
        f"{name}_bias_cm": found.bias,
        f"{name}_rmse_cm": found.rmse,
        f"{name}_crps_cm": found.crps,
    }


def _presence(presence: Presence) -> dict[str, Value]:
    """Return how well the answer of each station is told from the others."""
    asked = presence.known > 0
    if not np.any(asked):
        return {"presence_stations": 0.0}
    share = presence.with_pan[asked] / presence.known[asked]
    told = presence.leave_one_out()[asked]
    return {
        "presence_stations": float(asked.sum()),
        "presence_share_with_pan": float(share.mean()),
        "presence_left_out_mean": float(told.mean()),
        "presence_left_out_brier": float(np.mean((told - share) ** 2)),
        "presence_practical_range_m": presence.practical_range_m,
    }
