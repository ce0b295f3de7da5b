"""Trial runs: the ridge between legs against speed, and what it asks of the next plan."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from zoning.checks.ran import base_passed
from zoning.checks.rules import rule
from zoning.contracts import joined
from zoning.model import Notice
from zoning.model.check import RidgeCurve
from zoning.units import tenths

RUN_COLUMNS = ("run", "speed_km_h", "depth_setting_cm", "ridge_cm", "surface")
SPEED_COLUMNS = ("speed_km_h", "runs", "ridge_cm", "fitted_cm", "surface")
ROUGH = ("heaved", "cloddy")


def wanted_ridge_cm() -> float:
    """Return the most ridge that counts as even work [cm]: about 3 cm and a reading error."""
    return rule("ridge_even_cm") + rule("ridge_read_cm")


def evenness(ridge_cm: float) -> str:
    """Return the word for a ridge: ``even``, ``fair``, ``uneven``; blank where not known."""
    if not np.isfinite(ridge_cm):
        return ""
    if ridge_cm <= wanted_ridge_cm():
        return "even"
    return "uneven" if ridge_cm >= rule("ridge_uneven_cm") else "fair"


def ridge_curve(trials: pd.DataFrame) -> RidgeCurve:
    """Return what the trial runs say about ridge and speed.

    Parameters
    ----------
    trials
        Rows of ``shared/schemas/trials.schema.json``; runs without both depths are left aside.

    Notes
    -----
    The ridge is the depth loosened at the leg less that between legs. Soil breaks wider at speed,
    so the ridge does not grow with it: the fitted ridge is the least-squares fit to the runs that
    never rises (isotonic regression), which keeps a single odd run from naming a speed. Speeds
    that were not tried are not named.
    """
    ridge = trials["loosened_at_leg_cm"] - trials["loosened_between_cm"]
    return curve_of(trials.assign(ridge_cm=ridge))


def curve_of(runs: pd.DataFrame) -> RidgeCurve:
    """Return the curve of runs or pits with their ridge known; those without one are left aside.

    Parameters
    ----------
    runs
        ``run, speed_km_h, depth_setting_cm, ridge_cm, surface``.
    """
    known = runs[runs["ridge_cm"].notna() & (runs["speed_km_h"] > 0)]
    ordered = known.sort_values(["speed_km_h", "run"], kind="stable")
    runs = ordered[list(RUN_COLUMNS)].reset_index(drop=True)
    speeds = _speeds(runs)
    return RidgeCurve(runs, speeds, next(_even_km_h(speeds), None), wanted_ridge_cm())


def _even_km_h(speeds: pd.DataFrame) -> Iterator[float]:
    """Yield the speeds that left even and level work, the slowest first."""
    even = (speeds["fitted_cm"] <= wanted_ridge_cm()) & ~speeds["surface"].isin(ROUGH)
    yield from speeds.loc[even, "speed_km_h"].astype(float)


def curve_of_pits(pits: pd.DataFrame) -> RidgeCurve:
    """Return the curve of pits, as if each were a trial run.

    A pit tells whether the pan was passed. So where no speed was even, one stands for it at which
    most pits passed and the ridge is not uneven. Of pits at several depths the slowest even speed
    is one that each depth was driven at: what a slower one does at another depth nobody saw.

    Parameters
    ----------
    pits
        Rows of `zoning.checks.judge_pits`.
    """
    named = {"pit": "run", "depth_cm": "depth_setting_cm"}
    curve = curve_of(pits.rename(columns=named).assign(surface=""))
    good = [*_even_km_h(curve.speeds), *_passing_km_h(curve.speeds, pits)]
    everywhere = (v for v in good if _at_each_depth(curve.runs, v))
    return replace(curve, slowest_even_km_h=next(everywhere, None))


def _passing_km_h(speeds: pd.DataFrame, pits: pd.DataFrame) -> Iterator[float]:
    """Yield the speeds at which most pits passed the pan with a fair ridge, the slowest first."""
    passed = base_passed(pits["chance_between"])
    share = pd.Series(passed, pits.index).groupby(pits["speed_km_h"]).mean()
    fair = speeds[speeds["fitted_cm"] < rule("ridge_uneven_cm")]
    yield from (v for v in fair["speed_km_h"].astype(float) if 2 * share[v] > 1)


def _at_each_depth(runs: pd.DataFrame, km_h: float) -> bool:
    """Return whether each depth was driven at a speed, or at one not told from it."""
    off_km_h = (runs["speed_km_h"] - km_h).abs().groupby(runs["depth_setting_cm"]).min()
    return bool((off_km_h < rule("speed_apart_km_h")).all())


def ridge_at_cm(curve: RidgeCurve, speed_km_h: float) -> float:
    """Return the ridge to expect at a speed [cm]; NaN without trial runs.

    Straight lines between the speeds tried; beyond them the value of the nearest, which is too
    little below the slowest.
    """
    if curve.speeds.empty:
        return float("nan")
    speeds = curve.speeds["speed_km_h"].to_numpy(dtype=np.float64)
    return float(np.interp(speed_km_h, speeds, curve.speeds["fitted_cm"].to_numpy(np.float64)))


def ridge_allowance_cm(trials: pd.DataFrame, speed_km_h: float) -> float:
    """Return what a plan adds below pan base and clearance so that the ridge passes too [cm].

    Between the legs the soil is loosened as deep as at the leg less the ridge, so the leg must run
    deeper by the ridge of its speed. 0 without trial runs: nothing is assumed.
    """
    ridge = ridge_at_cm(ridge_curve(trials), speed_km_h)
    return round(max(ridge, 0.0), 1) if np.isfinite(ridge) else 0.0


def runs_set(trials: pd.DataFrame) -> pd.DataFrame:
    """Return trial runs with the depth that was set under the name that pits have it by."""
    return trials.rename(columns={"depth_setting_cm": "set_cm"})


def runs_kept(runs: pd.DataFrame) -> tuple[tuple[float, float], ...]:
    """Return depth set [cm] and speed [km/h] of the runs whose legs kept their depth.

    Parameters
    ----------
    runs
        ``set_cm, loosened_at_leg_cm, speed_km_h``, NaN where not noted; such a run says nothing.
    """
    kept = runs[runs["set_cm"] - runs["loosened_at_leg_cm"] < rule("set_depth_tolerance_cm")]
    pairs = kept[["set_cm", "speed_km_h"]].dropna().astype(float)
    return tuple(sorted(pairs.itertuples(index=False, name=None)))


def allowance_notices(
    trials: pd.DataFrame,
    speed_km_h: float,
    *,
    held_km_h: float | None = None,
    pulled_km_h: float | None = None,
) -> tuple[Notice, ...]:
    """Return what a plan must say about its ridge allowance.

    The first, ``ridge-allowance``, has the key ``speed_km_h`` where that speed is to be kept.

    Parameters
    ----------
    trials
        Runs: ``run, speed_km_h, loosened_at_leg_cm, loosened_between_cm, surface``.
    speed_km_h
        Speed of the plan [km/h].
    held_km_h
        Speed that the tractor holds where it cannot hold that of the plan; ``None``: it can, or
        its power is not known [km/h].
    pulled_km_h
        Fastest speed, up to the slowest that was even or else the fastest tried, that it could
        pull at the depth that this speed would ask for on most ground; ``None``: its power is not
        known [km/h].
    """
    curve = ridge_curve(trials)
    allowance = ridge_allowance_cm(trials, speed_km_h)
    if curve.speeds.empty:
        return ()
    rough = curve.speeds_about(speed_km_h)["surface"]
    rough = rough if rough.isin(ROUGH).all() else rough[:0]
    slow = bool(slower_than_tried(curve, speed_km_h))
    keys = () if slow or len(rough) or held_km_h is not None else ("speed_km_h",)
    words = _allowance_words(curve, allowance, speed_km_h)
    words += "" if slow else _speed_words(speed_km_h, held_km_h, keep=bool(keys))
    found = [Notice("caution", "ridge-allowance", f"{words}.", keys=keys)]
    if words := slower_than_tried(curve, speed_km_h):
        text = (
            f"{words}: the ridge will be higher than the {allowance:g} cm allowed. Try "
            f"{speed_km_h:g} km/h too, or set speed_km_h to a speed tried, and plan again."
        )
        found.append(Notice("caution", "ridge-speed-not-tried", text))
    if allowance > wanted_ridge_cm():
        start = f"A ridge of {allowance:g} cm is a costly thing to dig under."
        text = f"{start} {_remedy(curve, speed_km_h, pulled_km_h)}"
        found.append(Notice("caution", "ridge-allowance-large", text))
    elif len(rough):
        left = f"{curve.runs_about(speed_km_h)} left the surface {joined(rough.unique())}"
        text = f"{left[0].upper()}{left[1:]}. {_remedy(curve, speed_km_h, pulled_km_h)}"
        found.append(Notice("caution", "trial-surface-rough", text))
    return tuple(found)


def odd_run_notices(trials: pd.DataFrame, shallowest_cm: float) -> tuple[Notice, ...]:
    """Return a caution for runs whose depths can hardly be centimetres of this machine.

    Parameters
    ----------
    trials
        ``run, depth_setting_cm, loosened_at_leg_cm, file, row``; NaN where not noted.
    shallowest_cm
        Shallowest depth of the machine [cm].
    """
    was_set = trials["depth_setting_cm"].fillna(shallowest_cm)
    short = trials["loosened_at_leg_cm"] < rule("run_least_share") * was_set
    odd = trials[(was_set < shallowest_cm) | short]
    if odd.empty:
        return ()
    runs = [f"{r.run} ({r.file}, row {r.row})" for r in odd.itertuples(index=False)]
    text = (
        f"Trial run{'' if len(odd) == 1 else 's'} {joined(runs)}: set less deep than this machine "
        f"goes ({shallowest_cm:g} cm), or loosened at the leg to less than half of what was set. "
        "Are these inches? The file takes centimetres (inches times 2.54). Correct it and plan "
        "again: the ridge that the depths hold comes from it."
    )
    return (Notice("caution", "trial-depth-odd", text),)


def _allowance_words(curve: RidgeCurve, allowance_cm: float, speed_km_h: float) -> str:
    return (
        f"The depths hold {allowance_cm:g} cm for the ridge between legs, from "
        f"{curve.runs_about(speed_km_h)}: do not add it again at the machine"
    )


def _speed_words(speed_km_h: float, held_km_h: float | None, *, keep: bool) -> str:
    if held_km_h is not None:
        return (
            f", and where the tractor holds no more than {held_km_h:g} km/h expect a higher ridge, "
            "since slower leaves one"
        )
    return f", and keep {speed_km_h:g} km/h, since slower leaves a higher ridge" if keep else ""


def slower_than_tried(curve: RidgeCurve, speed_km_h: float) -> str:
    """Return in words that a plan is slower than every trial run; blank where it is not."""
    tried = curve.speeds["speed_km_h"]
    if tried.empty or speed_km_h >= tried.iloc[0]:
        return ""
    return (
        f"The speed of the plan, {speed_km_h:g} km/h, is below every trial run, the slowest at "
        f"{tried.iloc[0]:g} km/h"
    )


def _remedy(curve: RidgeCurve, speed_km_h: float, pulled_km_h: float | None) -> str:
    """Return which speed the next plan is to take, or that none of those tried will do."""
    if curve.slowest_even_km_h is None:
        fastest = curve.speeds.iloc[-1]
        weak = pulled_km_h is not None and pulled_km_h < fastest["speed_km_h"]
        no_faster = weak or fastest["surface"] in ROUGH
        faster = "" if no_faster else ", or a faster run if the tractor can pull it"
        return (
            f"At no speed did the runs leave {curve.wanted_cm:g} cm or less on average and "
            f"a level surface: try points and spacing first{faster}."
        )
    fitted = ridge_at_cm(curve, curve.slowest_even_km_h)
    start = f"At {curve.slowest_even_km_h:g} km/h the trial runs left {tenths(fitted)} cm"
    if curve.slowest_even_km_h <= speed_km_h:
        return f"{start}: set speed_km_h to that and plan again."
    if pulled_km_h is None:
        return f"{start}: set speed_km_h to that and plan again, if the tractor can pull it."
    if pulled_km_h < curve.slowest_even_km_h:
        return (
            f"{start}, but with these legs the tractor pulls by the equations no more than "
            f"{pulled_km_h:.1f} km/h on most ground, at the depth that its ridge would ask for "
            "there: try that speed at that depth, or give fewer legs, or a stronger tractor, with "
            f"speed_km_h at {curve.slowest_even_km_h:g}, and plan again."
        )
    return f"{start}: set speed_km_h to that and plan again."


def _speeds(runs: pd.DataFrame) -> pd.DataFrame:
    if runs.empty:
        return pd.DataFrame({name: pd.Series(dtype=float) for name in SPEED_COLUMNS})
    by_speed = runs.groupby("speed_km_h", sort=True)
    out = by_speed["ridge_cm"].agg(runs="size", ridge_cm="mean").reset_index()
    out["fitted_cm"] = _never_rising(
        out["speed_km_h"].to_numpy(float), out["ridge_cm"].to_numpy(float), out["runs"].to_numpy()
    )
    out["surface"] = by_speed["surface"].agg(_surface).to_numpy()
    return out[list(SPEED_COLUMNS)]


def _never_rising(
    speed: NDArray[np.float64], ridge: NDArray[np.float64], weight: NDArray[np.int64]
) -> NDArray[np.float64]:
    from sklearn.isotonic import IsotonicRegression  # noqa: PLC0415 - heavy, and only for trials

    fit = IsotonicRegression(increasing=False).fit_transform(speed, ridge, sample_weight=weight)
    return np.asarray(fit, dtype=np.float64)


def _surface(words: pd.Series) -> str:
    """Return how the surface was left at one speed: the roughest word that stands as often."""
    known = [word for word in words if word]
    if not known:
        return ""
    order = ("level", "heaved", "cloddy")
    return max(order, key=lambda word: (known.count(word), order.index(word)))
