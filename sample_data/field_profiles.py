"""What a cone reads on its way down: shapes without noise, then the accidents of work."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from field_scenario import Scenario
from numpy.typing import NDArray

Numbers = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Ground:
    """What the cone meets at one insertion, without noise.

    `base_cm` and `top_cm` are where the cone index passes the limit exactly; NaN without a pan. A
    second hard layer starts to rise at `stiff_from_cm`; infinite where there is none. `hard` ground
    never falls back below the limit.
    """

    top_cm: float
    base_cm: float
    topsoil_mpa: float
    peak_mpa: float
    subsoil_mpa: float
    shoulder_up_cm: float
    shoulder_down_cm: float
    stiff_from_cm: float
    hard: bool
    limit_mpa: float


def draw_ground(scenario: Scenario, rng: np.random.Generator, *, stiff: bool, hard: bool) -> Ground:
    """Return the soil of a station, its pan still to be filled in.

    Topsoil 0.4-1.3 MPa, peak of the pan 2.6-4.5 MPa, subsoil 0.9-1.5 MPa; the cone index rises into
    the pan over a logistic shoulder of scale 1-2.5 cm and falls out of it over one of 1.2-3.5 cm.
    """
    return Ground(
        top_cm=np.nan,
        base_cm=np.nan,
        topsoil_mpa=rng.uniform(0.4, 1.3),
        peak_mpa=rng.uniform(2.6, 4.5),
        subsoil_mpa=rng.uniform(2.3, 3.0) if hard else rng.uniform(0.9, 1.5),
        shoulder_up_cm=rng.uniform(1.0, 2.5),
        shoulder_down_cm=rng.uniform(1.2, 3.5),
        stiff_from_cm=rng.uniform(10, 20) if stiff else np.inf,
        hard=hard,
        limit_mpa=scenario.limit_mpa,
    )


def cone_index_mpa(depth_cm: Numbers, ground: Ground) -> Numbers:
    """Return the noise-free cone index at each depth [MPa].

    Above the pan the soft topsoil rises into it and below the pan it falls into the subsoil; each
    is a logistic step placed so that it passes the limit exactly at the top and at the base, and
    the lower of the two is what the cone reads.
    """
    soft = _soft_mpa(depth_cm, ground)
    if np.isnan(ground.base_cm):
        return soft
    upper = _step(
        depth_cm - ground.top_cm, _topsoil(depth_cm, ground), ground.shoulder_up_cm, ground
    )
    if ground.hard:
        return upper
    lower = _step(
        ground.base_cm - depth_cm, _subsoil(depth_cm, ground), ground.shoulder_down_cm, ground
    )
    second = 0.08 * (depth_cm - ground.base_cm - ground.stiff_from_cm) + ground.limit_mpa
    return np.maximum(np.minimum(upper, lower), np.minimum(second, ground.peak_mpa))


def _topsoil(depth_cm: Numbers, ground: Ground) -> Numbers:
    return ground.topsoil_mpa * (0.3 + 0.7 * np.minimum(depth_cm / 8.0, 1.0))


def _subsoil(depth_cm: Numbers, ground: Ground) -> Numbers:
    """Slowly harder with depth, but short of the limit."""
    return np.minimum(ground.subsoil_mpa + 0.006 * np.maximum(depth_cm - 40, 0), 1.7)


def _soft_mpa(depth_cm: Numbers, ground: Ground) -> Numbers:
    """Topsoil passing into subsoil at plough depth, nowhere over the limit."""
    below = 1 / (1 + np.exp(-(depth_cm - 27.0) / 4.0))
    subsoil = np.minimum(_subsoil(depth_cm, ground), 1.7)
    return _topsoil(depth_cm, ground) * (1 - below) + subsoil * below


def _step(inside_cm: Numbers, outside_mpa: Numbers, scale_cm: float, ground: Ground) -> Numbers:
    """Rise from `outside_mpa` to the peak, passing the limit where `inside_cm` is zero."""
    edge = (ground.limit_mpa - outside_mpa) / (ground.peak_mpa - outside_mpa)
    shift = np.log(edge / (1 - edge))
    share = 1 / (1 + np.exp(-np.clip(inside_cm / scale_cm + shift, -50, 50)))
    return outside_mpa + (ground.peak_mpa - outside_mpa) * share


@dataclass(frozen=True, slots=True, eq=False)
class Log:
    """What the logger holds of one insertion."""

    depth_cm: Numbers
    cone_index_mpa: Numbers
    stone_at_cm: float
    refused_at_cm: float


def draw_log(
    scenario: Scenario, rng: np.random.Generator, ground: Ground, day_factor: float
) -> Log:
    """Return one push: noise on every reading, perhaps a stone, perhaps a stop.

    A stone 2-6 cm thick lifts the readings it meets, at least one, by 2.5-5 MPa. A
    stopped push reads 5-8 MPa where it stops and after that either zeros or nothing.
    """
    depth = np.arange(scenario.step_cm, scenario.cone_depth_cm + 1e-9, scenario.step_cm)
    noise = np.exp(scenario.noise_cv * rng.standard_normal(depth.size))
    reading = cone_index_mpa(depth, ground) * noise * day_factor
    stone_at = np.nan
    if rng.random() < scenario.stone_share:
        at = int(rng.integers(0, depth.size))
        met = depth < depth[at] + rng.uniform(2, 6)
        met[:at] = False
        reading[met] += rng.uniform(2.5, 5.0)
        stone_at = float(depth[at])
    refused_at = np.nan
    if rng.random() < scenario.refusal_share:
        at = int(np.searchsorted(depth, rng.uniform(12, 0.9 * scenario.cone_depth_cm)))
        reading[at], refused_at = rng.uniform(5, 8), float(depth[at])
        reading[at + 1 :] = 0.0
        if rng.random() < 0.5:
            depth, reading = depth[: at + 1], reading[: at + 1]
    return Log(depth, np.round(reading, 2), stone_at, refused_at)
