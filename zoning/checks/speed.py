"""What to say of the speed: only speeds that are new, in reach and allowed there."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from zoning.checks.ground import Ground
from zoning.checks.trials import ROUGH, ridge_at_cm
from zoning.contracts import rows
from zoning.model.check import RidgeCurve

Step = tuple[str, str]
_FEWER_LEGS = "Where the tractor cannot hold that, try fewer legs at full speed."


def speed_steps(ground: Ground) -> Iterator[Step]:
    """Yield the faster run to drive or to try; nothing where none is allowed or in reach."""
    if ground.slow_pits_even:
        yield "speed", f"{ground.slow_pits_even} and dig again; points only after."
    elif ground.fast_no_better or ground.all_not_cleared or ground.fast_enough:
        return
    elif ground.slow_pits_uneven:
        yield "speed", _faster_as_pits(ground)
    elif ground.curve.speeds.empty:
        yield from _faster_runs(ground)
    elif (even := ground.curve.slowest_even_km_h) is not None:
        curve, now = ground.curve, ground.speed_km_h
        text = (
            f"Drive {even:g} km/h instead of {now:g}: in the trial runs the ridge fell from "
            f"{ridge_at_cm(curve, now):.0f} to {ridge_at_cm(curve, even):.0f} cm. {_FEWER_LEGS}"
        )
        yield "speed", text
    else:
        yield "speed", _no_even_speed(ground.curve)


def _faster_runs(ground: Ground) -> Iterator[Step]:
    """Yield the usual trial speeds above those of the pits that the tractor can pull there."""
    tried = (float(row["speed_km_h"]) for row in rows("trial_speeds"))
    most = ground.fastest_pull_km_h
    new = [f"{speed:g}" for speed in tried if ground.fastest_km_h < speed <= most]
    if not new:
        return
    runs = "a faster run" if len(new) == 1 else "faster runs"
    behind = "it" if len(new) == 1 else "each"
    told = " and ".join([", ".join(new[:-1]), new[-1]] if len(new) > 1 else new)
    reach = "" if np.isfinite(most) else ", as far as the tractor can pull it at that depth"
    apart = ", ".join(f"{depth:g} cm" for depth in ground.not_cleared_cm)
    away = f" Not at {apart}, which is NOT CLEARED." if apart else ""
    text = (
        f"Try {runs} first: {told} km/h at the same setting{reach}, a pit behind {behind}, noted "
        f"in trials.csv. The pits here were at {ground.speed_words}.{away}"
    )
    yield "speed", text


def _faster_as_pits(ground: Ground) -> str:
    seen = ground.of_pits
    told = ", ".join(
        f"{row['ridge_cm']:.0f} cm at {row['speed_km_h']:g} km/h "
        f"({row['runs']} pit{'' if row['runs'] == 1 else 's'})"
        for row in seen.speeds.to_dict("records")
    )
    return (
        f"Drive {seen.slowest_even_km_h:g} km/h: the pits show a ridge of {told}. They lie at "
        "different places, so dig behind the faster run here before trusting it. "
        f"{_FEWER_LEGS}"
    )


def _no_even_speed(curve: RidgeCurve) -> str:
    best = curve.speeds.iloc[-1]
    rough = curve.speeds[
        (curve.speeds["fitted_cm"] <= curve.wanted_cm) & curve.speeds["surface"].isin(ROUGH)
    ]
    if len(rough):
        first = rough.iloc[0]
        return (
            f"{first['speed_km_h']:g} km/h is even below but leaves the surface "
            f"{first['surface']}: try less lift on the points at that speed."
        )
    return (
        f"No speed tried was even; the fastest, {best['speed_km_h']:g} km/h, left "
        f"{best['fitted_cm']:.0f} cm. Try a faster run if the surface stays level."
    )
