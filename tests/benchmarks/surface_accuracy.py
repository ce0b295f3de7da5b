"""Accuracy of the surface room on fields with a known truth, beside other methods.

``python tests/benchmarks/surface_accuracy.py --repeats 20`` prints the table: for each kind of
field (`surface_fields`) the number of fields, the root mean square error [cm] of the pan model, and
its error over that of each other method with the standard error of that ratio (paired: the same
fields and readings).

Two truths are printed. ``structured`` is the base without its small-scale variation (the nugget),
and is the one judged: the variation of a place nobody read adds the same 1.8 cm to every method and
only hides how they differ. ``whole`` includes it, and is what the stated interval is for.

==============  ===================================================================================
``regressor``   the scikit-learn estimator of this room, which is told nothing of pans
``ok``          ordinary kriging, family of the truth told, this room's restricted likelihood
``uk``          universal kriging, parts as drift; the same likelihood, family chosen by it
``uk told``     the same, told the exponential family, which is the truth's in most lines
``uk lib``      universal kriging of PyKrige, parts as specified drift, exponential, its own fit
``forest``      scikit-learn's random forest on x, y and the part as it comes
``forest+``     300 trees, leaves of two or more, half of the columns a split: best of seven tried
``process``     scikit-learn's Gaussian process on x, y and one-hot parts, Matern 1/2, all fitted
``best``        all parameters of the field known: nobody can do better (trend and patches apart)
==============  ===================================================================================
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
import time
import warnings
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from pykrige.uk import UniversalKriging
from scipy.special import ndtri
from sklearn.ensemble import RandomForestRegressor
from sklearn.exceptions import ConvergenceWarning
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import ConstantKernel, Matern, WhiteKernel
from surface_fields import (
    ASKED,
    CASES,
    ERROR_CM,
    LEVEL_CM,
    NO_PARTS,
    NUGGET_SHARE,
    SIDE_M,
    SILL_CM2,
    Case,
    Drawn,
    draw,
)
from threadpoolctl import threadpool_limits

from zoning.surface import KrigingRegressor, PanModel
from zoning.surface.covariance import Covariance, Kind, practical_factor
from zoning.surface.inference import Recipe, infer
from zoning.surface.likelihood import CovariancePrior
from zoning.surface.stations import place_codes
from zoning.surface.system import Effects, Readings, System

Z90 = float(ndtri(0.95))
PARTS = np.array(["body", "headland", "wheeling"])
NONE = np.empty(0, np.int64)
ABSURD_CM = 1000.0  # a fit whose matrix is singular answers 1e9 cm: no answer


@dataclass(frozen=True)
class Found:
    """Prediction at every cell: mean and standard deviation, and the small-scale part of it."""

    mean: np.ndarray
    sd: np.ndarray | None = None
    small_var: float = 0.0


Method = Callable[[Drawn], Found]


def zoning_field(d: Drawn) -> Found:
    """The pan model, as the plan uses it."""
    count = len(d.rows)
    frame = pd.DataFrame(
        {
            "station": [f"S{k:03d}" for k in range(count)],
            "kind": "cone",
            "x_m": d.xy[d.rows, 0],
            "y_m": d.xy[d.rows, 1],
            "n_pan": 1,
            "n_known": 1,
            "pan_base_cm": d.value,
            "error_sd_cm": ERROR_CM,
            "censored": False,
            "date": "",
            "part_used": d.part_read,
            "used": True,
        }
    )
    model = PanModel.fit(frame)
    pan = model.predict(d.xy, d.part.tolist())
    small = sum(weight * system.covariance.nugget for weight, system in model.base.systems)
    return Found(pan.base_mean_cm, pan.base_sd_cm, small)


def zoning_regressor(d: Drawn) -> Found:
    """The estimator with parts and errors."""
    noise = np.full(len(d.rows), ERROR_CM**2)
    model = KrigingRegressor().fit(d.xy[d.rows], d.value, parts=d.part_read, error_var=noise)
    mean, sd = model.predict(d.xy, parts=d.part, return_std=True)
    return Found(mean, sd, model.covariance_.nugget)


def ordinary(d: Drawn) -> Found:
    """Ordinary kriging without parts, the error known."""
    noise = np.full(len(d.rows), ERROR_CM**2)
    model = KrigingRegressor(outlier_limit=None).fit(d.xy[d.rows], d.value, error_var=noise)
    return Found(*model.predict(d.xy, return_std=True), model.covariance_.nugget)


def readings_of(d: Drawn, part: np.ndarray) -> Readings:
    """Return the readings of the surface room, with `part` for each."""
    xy, code = d.xy[d.rows], np.searchsorted(PARTS, part)
    noise = np.full(len(xy), ERROR_CM**2)
    return Readings(xy, d.value, noise, code, np.full(len(xy), -1), place_codes(xy, code))


def universal(d: Drawn, kinds: tuple[Kind, ...]) -> Found:
    """Universal kriging: each part a drift of its own; the likeliest of `kinds`."""
    effects = Effects(np.zeros(3), np.array([0.0, 1e5, 1e5]))
    prior = CovariancePrior(float(np.var(d.value)), 1.5, 0.2, 1.5, 0.35 * SIDE_M, 1.0)
    readings = readings_of(d, d.part_read)
    fits = [
        infer(readings, NONE, Recipe(effects, Covariance(kind, 1.0, 1.0, 1.0), prior))
        for kind in kinds
    ]
    system = max(fits, key=lambda found: found.fit.log_likelihood).system
    mean, var = system.predict(d.xy, np.searchsorted(PARTS, d.part))
    return Found(mean, np.sqrt(var), system.covariance.nugget)


def universal_chosen(d: Drawn) -> Found:
    """Universal kriging that has to choose its family."""
    return universal(d, ("exponential", "spherical", "matern32"))


def universal_told(d: Drawn) -> Found:
    """Universal kriging that is told the family."""
    return universal(d, ("exponential",))


def universal_library(d: Drawn) -> Found:
    """PyKrige's universal kriging with its own fit of the variogram."""
    x, y = d.xy[d.rows].T
    model = UniversalKriging(
        x,
        y,
        d.value,
        variogram_model="exponential",
        drift_terms=["specified"],
        specified_drift=[1.0 * (d.part_read == name) for name in PARTS[1:]],
    )
    there = [1.0 * (d.part == name) for name in PARTS[1:]]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)
        mean = np.asarray(model.execute("points", *d.xy.T, specified_drift_arrays=there)[0])
    sound = np.abs(mean - d.value.mean()) < ABSURD_CM
    return Found(mean if sound.all() else np.full(len(mean), np.nan))


def one_hot(xy: np.ndarray, part: np.ndarray) -> np.ndarray:
    """Return places and part columns."""
    return np.column_stack([xy, *(1.0 * (part == name) for name in PARTS[1:])])


def forest(d: Drawn, model: RandomForestRegressor) -> Found:
    """Random forest; the spread of its trees is no interval."""
    model.fit(one_hot(d.xy[d.rows], d.part_read), d.value)
    return Found(model.predict(one_hot(d.xy, d.part)))


def forest_library(d: Drawn) -> Found:
    """The forest as the library sets it up."""
    return forest(d, RandomForestRegressor(random_state=0))


def forest_tuned(d: Drawn) -> Found:
    """The best of seven settings tried on such fields."""
    return forest(
        d, RandomForestRegressor(300, max_features=0.5, min_samples_leaf=2, random_state=0)
    )


def process(d: Drawn) -> Found:
    """Gaussian process on places and one-hot parts, an own length scale each."""
    kernel = ConstantKernel(16.0, (0.1, 1e4)) * Matern(
        [40.0, 40.0, 1.0, 1.0], [(3, 1e3), (3, 1e3), (0.05, 1e3), (0.05, 1e3)], nu=0.5
    ) + WhiteKernel(3.0, (0.1, 100))
    model = GaussianProcessRegressor(
        kernel, alpha=ERROR_CM**2, normalize_y=False, n_restarts_optimizer=1, random_state=0
    )
    centre = d.value.mean()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ConvergenceWarning)
        model.fit(one_hot(d.xy[d.rows], d.part_read), d.value - centre)
    return Found(model.predict(one_hot(d.xy, d.part)) + centre)


def best(d: Drawn) -> Found:
    """Covariance, level, part effects, stones and true parts known; not trend or patches."""
    case = d.case
    kind: Kind = "exponential" if case.family == "exponential" else "matern32"
    reach = case.practical_m / (3.0 if kind == "exponential" else practical_factor(kind))
    nugget = NUGGET_SHARE * SILL_CM2
    shifts = np.array([0.0, case.headland_cm, case.wheeling_cm])
    effects = Effects(shifts, np.zeros(3), 0.0, LEVEL_CM, 1e9)
    readings = readings_of(d, d.part[d.rows]).take(np.flatnonzero(d.sound))
    system = System(readings, effects, Covariance(kind, nugget, SILL_CM2 - nugget, reach))
    mean, var = system.predict(d.xy, np.searchsorted(PARTS, d.part))
    return Found(mean, np.sqrt(var), nugget)


METHODS: dict[str, Method] = {
    "zoning": zoning_field,
    "regressor": zoning_regressor,
    "ok": ordinary,
    "uk": universal_chosen,
    "uk told": universal_told,
    "uk lib": universal_library,
    "forest": forest_library,
    "forest+": forest_tuned,
    "process": process,
    "best": best,
}
COVERED = ("zoning", "regressor", "ok", "uk")
MOST = {"ok": 0.85, "forest": 0.88, "process": 0.92, "uk": 1.0}


def score(d: Drawn, found: Found) -> list[float]:
    """Return error and share inside the central 90 % interval, structured truth and whole."""
    scores = []
    for truth, left_out in ((d.structured, found.small_var), (d.truth, 0.0)):
        error = found.mean - truth
        scores.append(float(np.sqrt(np.mean(error**2))))
        sd = np.nan if found.sd is None else np.sqrt(np.maximum(found.sd**2 - left_out, 0.0))
        scores.append(float(np.mean(np.abs(error) <= Z90 * sd)))
    return scores


def ratio(ours: np.ndarray, theirs: np.ndarray) -> tuple[float, float]:
    """Return the ratio of mean errors and its standard error, over the fields both answer."""
    both = np.isfinite(ours + theirs)
    ours, theirs = ours[both], theirs[both]
    found = ours.mean() / theirs.mean()
    return found, float(np.std(ours - found * theirs, ddof=1) / theirs.mean() / len(ours) ** 0.5)


def lines(case: Case, seeds: range) -> tuple[list[str], dict[str, float]]:
    """Return the two lines of a case, and the structured ratio to each method."""
    rows: dict[str, list[list[float]]] = {name: [] for name in METHODS}
    for seed in seeds:
        d = draw(case, seed)
        for name, method in METHODS.items():
            rows[name].append(score(d, method(d)))
    table = {name: np.array(values) for name, values in rows.items()}
    text, judged = [], {}
    for column, truth in ((0, "structured"), (2, "whole")):
        ours = table["zoning"][:, column]
        ratios = {n: ratio(ours, t[:, column]) for n, t in table.items() if n != "zoning"}
        judged = judged or {name: value for name, (value, _) in ratios.items()}
        covers = " ".join(f"{table[name][:, column + 1].mean():6.3f}" for name in COVERED)
        name = f"{case.name} ({len(seeds)})" if column == 0 else ""
        text.append(
            f"{name:<33} {truth:<10} {ours.mean():6.2f}  "
            + " ".join(f"{value:6.3f}±{error:5.3f}" for value, error in ratios.values())
            + f"   {covers}"
        )
    return text, judged


def verdicts(judged: dict[Case, dict[str, float]]) -> list[str]:
    """Return what was asked of the structured truth and whether it was met."""
    text = []
    for name, most in MOST.items():
        got = {case: found[name] for case, found in judged.items() if case in ASKED}
        if got:
            short = [case.name for case, value in got.items() if value > most]
            said = "met" if not short else "MISSED: " + "; ".join(short)
            text.append(f"{name:<10} at most {most:.2f}, highest {max(got.values()):.4f}  {said}")
    if NO_PARTS in judged:
        value = judged[NO_PARTS]["ok"]
        said = "met" if value <= 1.03 else "MISSED"
        text.append(f"{'ok':<10} at most 1.03 where parts differ in nothing: {value:.3f}  {said}")
    return text


def censored_lines(repeats: int, first: int) -> list[str]:
    """Return the lines on readings of which a fifth are cut off."""
    names = ("all known (oracle)", "limits used", "limits dropped", "limits taken as read")
    errors: dict[str, list[tuple[float, float, float]]] = {name: [] for name in names}
    for seed in range(repeats):
        d = draw(Case("censored", 120.0, 100), first + 500 + seed)
        limit = np.quantile(d.value, 0.8)
        hidden = d.value > limit
        cut = np.minimum(d.value, limit)
        keep = ~hidden
        noise = np.full(len(cut), ERROR_CM**2)
        xy = d.xy[d.rows]
        ways = {
            names[0]: (xy, d.value, d.part_read, noise, None),
            names[1]: (xy, cut, d.part_read, noise, hidden),
            names[2]: (xy[keep], cut[keep], d.part_read[keep], noise[keep], None),
            names[3]: (xy, cut, d.part_read, noise, None),
        }
        for name, (at, value, part, var, censored) in ways.items():
            model = KrigingRegressor(outlier_limit=None)
            model.fit(at, value, parts=part, error_var=var, censored=censored)
            mean, sd = model.predict(d.xy, parts=d.part, return_std=True)
            off = mean - d.truth
            errors[name].append(
                (off.mean(), np.sqrt(np.mean(off**2)), np.mean(np.abs(off) <= Z90 * sd))
            )
    table = {name: np.mean(rows, axis=0) for name, rows in errors.items()}
    oracle = table[names[0]]
    return [
        f"{name:<30} bias {b - oracle[0]:+6.2f} cm against the oracle, rmse {r:5.2f} "
        f"({r / oracle[1]:5.3f} of the oracle's), coverage {c:5.3f}"
        for name, (b, r, c) in table.items()
    ]


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--repeats", type=int, default=20)
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--cases", type=int, default=len(CASES))
    given = parser.parse_args()
    start = time.perf_counter()
    print(
        f"{time.strftime('%Y-%m-%d %H:%M')}  {platform.machine()}, {os.cpu_count()} cores, load "
        f"{os.getloadavg()[0]:.1f}; fields of each line "
        f"in brackets, from seed {given.first_seed}"
    )
    print(
        f"{'':33} {'truth':<10} zoning  error of zoning over that of{'':89}90 % interval covers\n"
        f"{'':33} {'':10}   rmse  "
        + " ".join(f"{name:>12}" for name in list(METHODS)[1:])
        + "   "
        + " ".join(f"{name[:6]:>6}" for name in COVERED)
    )
    judged = {}
    with threadpool_limits(1, "blas"):
        for case in CASES[: given.cases]:
            seeds = range(given.first_seed, given.first_seed + given.repeats * case.times)
            text, judged[case] = lines(case, seeds)
            print("\n".join(text), flush=True)
        print("\n" + "\n".join(verdicts(judged)))
        print("\na fifth of 100 readings cut off at their 80 % point (regressor)")
        for line in censored_lines(given.repeats, given.first_seed):
            print(line, flush=True)
    print(f"\n{time.perf_counter() - start:.0f} s, load at the end {os.getloadavg()[0]:.1f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
