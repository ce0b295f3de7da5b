"""The slower speed to go back to, as the pits show it, and speed that did not help."""

from __future__ import annotations

import numpy as np
import pandas as pd

from zoning.checks.ran import base_missed, base_passed
from zoning.checks.rules import rule
from zoning.checks.trials import wanted_ridge_cm
from zoning.contracts import constant
from zoning.units import tenths


def compared(pits: pd.DataFrame) -> pd.DataFrame:
    """Return the pits that show what a faster speed does: those of depths worked at several speeds.

    Where a plan works deeper it works slower, and deeper work leaves more of a ridge: between
    depths, less of it at speed says nothing of the speed. None where another depth was driven
    slower or faster only, and well: there each depth speaks for itself. Pits of one depth are
    returned as they are.

    Parameters
    ----------
    pits
        Rows of `zoning.checks.judge_pits` whose ridge and speed are gone by.
    """
    if pits["depth_cm"].nunique() < 2:
        return pits
    known = pits[pits["ridge_cm"].notna() & (pits["speed_km_h"] > 0)]
    speeds = known.groupby("depth_cm")["speed_km_h"]
    apart_km_h = speeds.transform("max") - speeds.transform("min")
    several = apart_km_h >= rule("speed_apart_km_h")
    fastest_km_h = known.loc[several, "speed_km_h"].max()
    slower = speeds.transform("max") < fastest_km_h - same_km_h()
    faster = speeds.transform("min") > fastest_km_h + same_km_h()
    well = any(not _left(own) for _, own in known[slower | faster].groupby("depth_cm"))
    return known.iloc[:0] if well else known[several]


def slower_km_h(pits: pd.DataFrame, plan_km_h: float) -> float:
    """Return the speed to go back to before anything else is changed; NaN without one [km/h].

    Parameters
    ----------
    pits
        Rows of `zoning.checks.judge_pits` whose ridge and speed are gone by, and those of `tried`.
    plan_km_h
        Speed of the plan; NaN where more is known of speeds than the pits tell [km/h].

    Notes
    -----
    It is the fastest at which most pits passed the pan with clearly less of a ridge than the faster
    ones, if these left the pan or uneven work. Without one it is that of the plan, if its own pits
    left clearly less, or if all ran faster, left more than an even ridge and were no more even the
    faster they ran.
    """
    own = pits[pits["ridge_cm"].notna() & (pits["speed_km_h"] > 0)]
    speeds = [float(v) for v in own["speed_km_h"].unique()]
    passed = [v for v in speeds if _clearly_less(own, v) and _most_passed(_at(own, v))]
    planned = _clearly_less(own, plan_km_h) or _all_faster(own, plan_km_h)
    return max(passed, default=plan_km_h if planned else np.nan)


def tried(withdrawn: pd.DataFrame, plan_km_h: float) -> pd.DataFrame:
    """Return the pits that ran at the speed of the plan, as rows that `slower_km_h` takes.

    Once ground was driven again its pits are withdrawn. What they showed of the speed stands: they
    count as pits that did not pass.

    Parameters
    ----------
    withdrawn
        ``part, depth_cm, loosened_at_leg_cm, loosened_between_cm, speed_km_h``.
    plan_km_h
        Speed of the plan [km/h].
    """
    own = _at(withdrawn, plan_km_h)
    ridge_cm = own["loosened_at_leg_cm"] - own["loosened_between_cm"]
    told = own[["part", "depth_cm", "speed_km_h"]]
    return told.assign(ridge_cm=ridge_cm, chance_between=0.0).dropna(ignore_index=True)


def fast_ridge_words(pits: pd.DataFrame) -> str:
    """Return ridges in words where the fastest pits are uneven, no better than the slowest.

    Blank where that is not so. `pits` are those whose ridge and speed are gone by.
    """
    by_speed = pits.groupby("speed_km_h")["ridge_cm"].mean().dropna()
    if len(by_speed) < 2:
        return ""
    slowest, fastest = float(by_speed.iloc[0]), float(by_speed.iloc[-1])
    if fastest < max(slowest, rule("ridge_uneven_cm")):
        return ""
    speeds = by_speed.index.to_numpy(dtype=float)
    low, high = f"{tenths(slowest)} cm at {speeds[0]:g}", f"{tenths(fastest)} cm at {speeds[-1]:g}"
    return f"{low} km/h, {high} km/h"


def ridge_from_cm(pits: pd.DataFrame, km_h: float | None) -> float:
    """Return the mean ridge of pits at a speed or faster; NaN of none, or without a speed [cm]."""
    fast = pits["speed_km_h"] >= (np.inf if km_h is None else km_h - same_km_h())
    return float(pits.loc[fast, "ridge_cm"].mean())


def same_km_h() -> float:
    """Return the difference below which two speeds are the same [km/h]."""
    return constant("machine_rules", "speed_same_km_h")


def _at(pits: pd.DataFrame, km_h: float) -> pd.DataFrame:
    return pits[(pits["speed_km_h"] - km_h).abs() < rule("speed_apart_km_h")]


def _faster(pits: pd.DataFrame, km_h: float) -> pd.DataFrame:
    return pits[pits["speed_km_h"] >= km_h + rule("speed_apart_km_h")]


def _most_passed(pits: pd.DataFrame) -> bool:
    return bool(base_passed(pits["chance_between"]).sum() * 2 > len(pits))


def _left(pits: pd.DataFrame) -> bool:
    """Return whether most pits left the pan, or uneven work; of none neither is so."""
    missed = base_missed(pits["chance_between"]).sum() * 2 > len(pits)
    return bool(missed or pits["ridge_cm"].mean() >= rule("ridge_uneven_cm"))


def _clearly_less(pits: pd.DataFrame, km_h: float) -> bool:
    """Return whether pits at a speed left clearly less of a ridge than faster ones that failed.

    Of parts that were driven at both, where there are such: another part is other ground.
    """
    fast, slow = _faster(pits, km_h), _at(pits, km_h)
    both = {*fast["part"]} & {*slow["part"]} - {""}
    if both:
        fast, slow = (own[own["part"].isin(both)] for own in (fast, slow))
    less_cm = fast["ridge_cm"].mean() - slow["ridge_cm"].mean()
    return _left(fast) and bool(less_cm >= rule("ridge_clear_cm"))


def _all_faster(pits: pd.DataFrame, km_h: float) -> bool:
    """Return whether all ran faster than a speed, left a ridge, and no less the faster they ran.

    That is asked at each depth: deeper ground may have both the slower runs and more of a ridge.
    """
    fast = _faster(pits, km_h)
    if fast.empty or len(fast) < len(pits) or not _left(fast):
        return False
    falls = any(_falls(own) for _, own in fast.groupby("depth_cm"))
    return bool(fast["ridge_cm"].mean() > wanted_ridge_cm() and not falls)


def _falls(pits: pd.DataFrame) -> bool:
    """Return whether the ridge of pits at one depth falls clearly with speed."""
    by_speed = pits.groupby("speed_km_h")["ridge_cm"].mean()
    apart_km_h = by_speed.index[-1] - by_speed.index[0]
    fell_cm = by_speed.iloc[0] - by_speed.iloc[-1]
    return bool(apart_km_h >= rule("speed_apart_km_h") and fell_cm >= rule("ridge_clear_cm"))
