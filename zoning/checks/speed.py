"""What to say of the speed: only speeds that are new, in reach and allowed there."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import pandas as pd

from zoning.checks.ground import Ground
from zoning.checks.groups import FIELD, tally
from zoning.checks.kept import next_plan
from zoning.checks.ran import sound, steady
from zoning.checks.rules import SLACK, rule
from zoning.checks.steps import Step
from zoning.checks.trials import (
    ROUGH,
    curve_of_pits,
    ridge_at_cm,
    runs_kept,
    runs_set,
    wanted_ridge_cm,
)
from zoning.contracts import NOT_CLEARED, constant, joined, rows
from zoning.model.check import RidgeCurve
from zoning.units import tenths

OF_PITS = " The pits here were at "
"""What comes between the runs that are asked for and the speed that the pits were dug behind."""
_FEWER_LEGS = "Where the tractor cannot hold that, try fewer legs at full speed."


def speed_steps(ground: Ground) -> Iterator[Step]:
    """Yield the run to drive or to try; nothing where none is allowed or in reach."""
    if np.isfinite(ground.slower_km_h):
        yield Step("speed", f"{_slower(ground)}{_once_located(ground)}")
    elif ground.fast_ridge_words:
        return
    elif ground.faster_pits_even:
        yield Step("speed", f"{_faster_as_pits(ground)}{_once_located(ground)}")
    elif ground.fast_enough:
        return
    elif ground.curve.slowest_even_km_h is not None:
        yield Step("speed", f"{_faster_as_runs(ground)}{_once_located(ground)}")
    elif ground.all_not_cleared:
        return  # there is no ground to try a speed on
    elif ground.curve.speeds.empty:
        yield from _faster_runs(ground)
    elif words := _no_even_speed(ground):
        yield Step("speed", words)


def speed_kept(ground: Ground) -> Iterator[Step]:
    """Yield for the whole field the speed to go on at: most pits ran so, slower ones left more."""
    if ground.name == FIELD and ground.drives_even:
        where = "" if ground.holds(ground.even_km_h) else ", slower where the sheet says so"
        text = f"Go on at {ground.even_km_h:g} km/h{where}: {_pits_show(ground.of_pits)}."
        yield Step("speed", text)
        yield from next_plan(ground, ground.even_km_h)


def speeds_kept(zones: pd.DataFrame, pits: pd.DataFrame, trials: pd.DataFrame) -> pd.DataFrame:
    """Return the zones with ``work_speed_km_h`` no less than what was driven at depth.

    A speed at which a trial run or a pit of this work kept the depth that was set is held at that
    depth and at shallower ones, whatever the equations say.

    Parameters
    ----------
    zones
        ``depth_cm`` and ``work_speed_km_h``, the fastest that the tractor pulls by the equations
        (NaN: none); without that column they are returned as they are.
    pits
        Rows of `zoning.checks.judge_pits`.
    trials
        Rows of ``shared/schemas/trials.schema.json``.
    """
    if "work_speed_km_h" not in zones:
        return zones
    own = sound(pits[pits["of_work"].astype(bool) & ~pits["earlier"].astype(bool)])
    kept = pd.DataFrame([*runs_kept(own), *runs_kept(runs_set(trials))], columns=["cm", "km_h"])
    seen = [kept.loc[kept["cm"] + SLACK >= depth, "km_h"].max() for depth in zones["depth_cm"]]
    return zones.assign(work_speed_km_h=np.fmax(zones["work_speed_km_h"].astype(float), seen))


def names_speed(ground: Ground) -> bool:
    """Return whether pits or trial runs name a speed to drive: what was measured, no trial."""
    return bool(np.isfinite(ground.named_km_h)) and next(speed_steps(ground), None) is not None


def _once_located(ground: Ground) -> str:
    return " Only once services are located." if ground.all_not_cleared else ""


def _faster_runs(ground: Ground) -> Iterator[Step]:
    """Yield the trial speeds above those of the pits that the tractor can pull there."""
    own_km_h = ground.machine.speed_km_h
    new = [v for v in _above(ground, own_km_h) if ground.holds(v)]
    if not new:
        yield from _faster_in_places(ground)
        return
    runs = "a faster run" if len(new) == 1 else "faster runs"
    behind = "it" if len(new) == 1 else "each"
    told = joined([f"{v:g}" for v in new])
    planned = ", as planned," if new == [own_km_h] else f" ({own_km_h:g} as planned)"
    planned = planned if own_km_h in new else ""
    known = np.isfinite(ground.fastest_pull_km_h)
    reach = "" if known else ", as far as the tractor can pull it at that depth"
    apart = joined([f"{depth:g} cm" for depth in ground.not_cleared_cm])
    away = f" Not at {apart}: that ground is NOT CLEARED." if apart else ""
    text = (
        f"Try {runs}: {told} km/h{planned} at the same setting{reach}, a pit behind {behind}, "
        f"noted in trials.csv.{OF_PITS}{ground.speed_words}.{away}"
    )
    yield Step("speed", text)


def _above(ground: Ground, own_km_h: float) -> list[float]:
    """Return the usual trial speeds above those of the pits, and the one given if well above."""
    usual = [float(row["speed_km_h"]) for row in rows("trial_speeds")]
    faster = {v for v in usual if v > ground.fastest_km_h}
    if own_km_h - ground.fastest_km_h >= constant("machine_rules", "trial_apart_km_h"):
        faster.add(own_km_h)
    return sorted(faster)


def _faster_in_places(ground: Ground) -> Iterator[Step]:
    """Yield the slowest faster speed that the tractor pulls at each depth that left the pan.

    At each depth of the ground where none did, and the ridge alone asks.
    """
    left = set(ground.missed("between")["depth_cm"])
    pulls = [(cm, pull) for cm, pull in _pulls(ground) if not left or cm in left]
    runs = {cm: km_h for cm, pull in pulls if (km_h := _next_km_h(ground, pull)) > 0}
    if not runs:
        return
    told = joined(
        [
            f"{km_h:g} km/h at {joined([f'{cm:g}' for cm in runs if runs[cm] == km_h])} cm"
            for km_h in sorted(set(runs.values()))
        ]
    )
    text = (
        f"Try a faster run where the tractor can pull it: {told}, at the same setting, a pit "
        f"behind it, noted in trials.csv.{OF_PITS}{ground.speed_words}."
    )
    zones = ground.zones.loc[ground.zones["depth_cm"].isin(runs), "zone"]
    yield Step("speed", text, tuple(int(zone) for zone in zones))


def _pulls(ground: Ground) -> list[tuple[float, float]]:
    """Return the depths that are cleared, with the fastest that the tractor pulls at each."""
    own = ground.worked[ground.worked["cleared"] != NOT_CLEARED]
    if "work_speed_km_h" not in own:
        return []
    slowest = own["work_speed_km_h"].astype(float).fillna(0.0).groupby(own["depth_cm"]).min()
    return [(float(str(cm)), float(km_h)) for cm, km_h in slowest.items()]


def _next_km_h(ground: Ground, pull_km_h: float) -> float:
    """Return the slowest faster speed to try at such a pull, NaN without one.

    Of the usual ones, and that of the plan there, rounded down as the sheet has it; else a whole
    one that is held.
    """
    planned = min(ground.machine.speed_km_h, math.floor(pull_km_h * 10.0 + SLACK) / 10.0)
    faster = _above(ground, planned)
    held = (v for v in faster if v <= pull_km_h and v < ground.floats_from_km_h)
    return next(held, _whole_km_h(ground, pull_km_h, ground.fastest_km_h))


def _whole_km_h(ground: Ground, pull_km_h: float, tried_km_h: float) -> float:
    """Return the fastest whole speed that is held at such a pull [km/h], where no usual one is.

    NaN where it is not well above what was tried, and where the pull is not known.
    """
    if not np.isfinite(pull_km_h):
        return math.nan
    km_h = float(math.floor(pull_km_h + SLACK))
    new = km_h - max(tried_km_h, ground.fastest_km_h) >= rule("speed_apart_km_h")
    return km_h if new and km_h < ground.floats_from_km_h else math.nan


def _faster_as_runs(ground: Ground) -> str:
    even_km_h = ground.even_km_h if ground.holds(ground.even_km_h) else _fair_km_h(ground)
    if np.isnan(even_km_h):
        fell = _fell(ground, ground.even_km_h)
        return (
            f"{fell[:1].upper()}{fell[1:]} at {ground.even_km_h:g} km/h, which "
            f"{_not_held(ground)}: try fewer legs at that speed."
        )
    planned = ", as planned," if even_km_h == ground.machine.speed_km_h < ground.even_km_h else ""
    instead = f"{planned} instead of {ground.speed_km_h:g}"
    return f"Drive {even_km_h:g} km/h{instead}: {_fell(ground, even_km_h)}. {_FEWER_LEGS}"


def _fair_km_h(ground: Ground) -> float:
    """Return the slowest new speed that is held, between trial runs that leave no more than wanted.

    NaN where there is none, short of the slowest run that was even and level, between runs that
    both left a level surface.
    """
    new = [v for v in _above(ground, ground.machine.speed_km_h) if ground.holds(v)]
    runs = ground.curve.speeds.set_index("speed_km_h")["surface"].sort_index()

    def level(km_h: float) -> bool:
        about = [*runs[runs.index <= km_h][-1:], *runs[runs.index >= km_h][:1]]
        return len(about) == 2 and not {*about} & {*ROUGH}

    fair = (v for v in new if level(v) and ridge_at_cm(ground.curve, v) <= wanted_ridge_cm())
    return next(fair, math.nan)


def _fell(ground: Ground, km_h: float) -> str:
    """Return how the ridge fell at a speed to that of the trial runs, in words.

    From the runs themselves, or from the pits where no run was as slow as they were.
    """
    curve, now = ground.curve, ground.speed_km_h
    left = f"{tenths(ridge_at_cm(curve, km_h))} cm"
    if now >= curve.speeds["speed_km_h"].min():
        return f"in the trial runs the ridge fell from {tenths(ridge_at_cm(curve, now))} to {left}"
    pits = f"from {tenths(ground.ridge_cm)} cm in the pits " if ground.ridge_cm > 0 else ""
    return f"the ridge fell {pits}to {left} in the trial runs"


def _not_held(ground: Ground) -> str:
    if ground.even_km_h >= ground.floats_from_km_h:
        return "the legs did not stay at their depth at here"
    return "by the equations the tractor may not hold on all of this ground"


def _pits_show(curve: RidgeCurve) -> str:
    told = ", ".join(
        f"{tenths(row['ridge_cm'])} cm at {row['speed_km_h']:g} km/h "
        f"({row['runs']} pit{'' if row['runs'] == 1 else 's'})"
        for row in curve.speeds.to_dict("records")
    )
    return f"the pits show a ridge of {told}"


def _slower(ground: Ground) -> str:
    km_h = ground.slower_km_h
    planned = ", as planned" if km_h == ground.machine.speed_km_h else ""
    shown = _pits_show(curve_of_pits(steady(ground.pits)))
    return f"Drive {km_h:g} km/h{planned}: {shown}. Dig again behind that run; points only after."


def _faster_as_pits(ground: Ground) -> str:
    told = _pits_show(ground.of_pits)
    even_km_h = ground.even_km_h
    if even_km_h >= ground.floats_from_km_h:
        return (
            f"T{told[1:]}. Legs did not stay at their depth at {ground.floats_from_km_h:g} km/h "
            "here: see to pins and level, or try fewer legs at that speed."
        )
    if not ground.holds(even_km_h):
        return (
            f"T{told[1:]}. By the equations the tractor may not hold {even_km_h:g} "
            "km/h on all of this ground: try fewer legs at that speed."
        )
    fast = ground.steady[ground.steady["speed_km_h"] >= even_km_h]
    few = tally(fast).verdict == "cannot_tell"
    dig = " Dig behind the faster run here before trusting it." if few else ""
    again = (
        f"Where ground was driven again at {even_km_h:g} km/h since its slower pits were dug, "
        "withdraw those (worked again), also where they passed."
    )
    return f"{_shallow_first(ground)}Drive {even_km_h:g} km/h: {told}.{dig} {_FEWER_LEGS} {again}"


def _shallow_first(ground: Ground) -> str:
    """Return what comes before the speed where the legs of the slower pits ran shallow too."""
    slow = ground.steady[ground.steady["speed_km_h"] < ground.even_km_h]
    short_cm = float((slow["set_cm"] - slow["loosened_at_leg_cm"]).mean())
    if not short_cm >= rule("set_depth_tolerance_cm"):
        return ""
    return (
        f"At the slower pits the legs ran {tenths(short_cm)} cm shallower than planned: check "
        f"{ground.control} and the frame level first. Then: "
    )


def _no_even_speed(ground: Ground) -> str:
    """Return what to try where no trial run was even; blank where nothing is left to try."""
    curve = ground.curve
    best = curve.speeds.iloc[-1]
    rough = curve.speeds[
        (curve.speeds["fitted_cm"] <= curve.wanted_cm) & curve.speeds["surface"].isin(ROUGH)
    ]
    if len(rough):
        first = rough.iloc[0]
        driven_km_h = ground.pits["speed_km_h"].max()
        if not (ground.holds(first["speed_km_h"]) or first["speed_km_h"] <= driven_km_h):
            return ""
        return (
            f"{first['speed_km_h']:g} km/h is even below but leaves the surface "
            f"{first['surface']}: try less lift on the points at that speed."
        )
    usual = (float(row["speed_km_h"]) for row in rows("trial_speeds"))
    run = "a faster run"
    if not any(v > best["speed_km_h"] and ground.holds(v) for v in usual):
        km_h = _whole_km_h(ground, ground.fastest_pull_km_h, float(best["speed_km_h"]))
        if np.isnan(km_h):
            return ""
        run = f"{km_h:g} km/h, which the tractor holds by the equations,"
    return (
        f"No speed tried was even; the fastest, {best['speed_km_h']:g} km/h, left "
        f"{tenths(best['fitted_cm'])} cm. Try {run} if the surface stays level."
    )
