"""Accuracy of the surface room on fields with a known truth, beside other methods.

``python tests/benchmarks/surface_accuracy.py --repeats 20`` prints the table. Each field is 10 ha
with a headland 8 cm deeper than the body and wheelings 5 cm deeper (2 m wide, every 24 m), the
spatial residual has an exponential covariance with a nugget of a fifth of the sill, and 60 or 200
stations are read. The last lines take truths that are not of the fitted family, and censored
readings.

Columns: root mean square error of the true base over the field [cm] and, for each other method,
ours over theirs; coverage of the central 90 % interval for the true base.

=================  =================================================================
``ok``             ordinary kriging, covariance by the same restricted likelihood
``uk``             universal kriging with parts as drift (wide prior), same likelihood
``forest``         random forest on x, y and the part
``process``        scikit-learn Gaussian process on x, y and one-hot parts, fitted
=================  =================================================================
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
from fields import gaussian_field, spread_out
from scipy.special import ndtri
from sklearn.ensemble import RandomForestRegressor
from sklearn.exceptions import ConvergenceWarning
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import ConstantKernel, Matern, WhiteKernel
from threadpoolctl import threadpool_limits

from zoning.surface import KrigingRegressor, PanModel
from zoning.surface.covariance import Covariance
from zoning.surface.inference import Recipe, infer
from zoning.surface.likelihood import CovariancePrior
from zoning.surface.stations import place_codes
from zoning.surface.system import Effects, Readings

CELL_M = 2.0
SHAPE = (158, 158)  # 10 ha
SIDE_M = SHAPE[0] * CELL_M
SILL_CM2 = 16.0
ERROR_CM = 1.0
Z90 = float(ndtri(0.95))


@dataclass(frozen=True)
class Case:
    """One line of the table."""

    name: str
    practical_m: float = 60.0
    stations: int = 60
    headland_cm: float = 8.0
    wheeling_cm: float = 5.0
    family: str = "exponential"
    stones: float = 0.0
    trend_cm: float = 0.0
    patches_cm: float = 0.0
    position_m: float = 0.0


CASES = (
    Case("range 60, 60 stations"),
    Case("range 180, 60 stations", 180.0),
    Case("range 60, 200 stations", stations=200),
    Case("range 180, 200 stations", 180.0, 200),
    Case("5 % stones", 120.0, 100, stones=0.05),
    Case("parts differ in nothing", 120.0, 60, 0.0, 0.0),
    Case("truth Matern 3/2", 120.0, 60, family="matern"),
    Case("truth with a trend of 10 cm", 90.0, 60, trend_cm=10.0),
    Case("truth in patches", 60.0, 60, patches_cm=6.0),
    Case("wrong part lines, 1.5 m off", 120.0, 60, position_m=1.5),
)


@dataclass(frozen=True)
class Drawn:
    """Truth at every cell; readings at stations."""

    xy: np.ndarray
    part: np.ndarray
    truth: np.ndarray
    rows: np.ndarray
    value: np.ndarray
    part_read: np.ndarray


def parts_at(xy: np.ndarray) -> np.ndarray:
    """Return the part of each place: headland 20 m wide, wheelings of 2 m every 24 m."""
    edge = np.minimum(xy, SIDE_M - xy).min(axis=1)
    off = np.abs((xy[:, 0] + 12.0) % 24.0 - 12.0)
    part = np.where(off <= 1.0, "wheeling", "body")
    return np.where(edge < 20.0, "headland", part)


def draw(case: Case, seed: int) -> Drawn:
    """Draw one field and its readings."""
    rng = np.random.default_rng([seed, 77])
    axis = (np.arange(SHAPE[0]) + 0.5) * CELL_M
    x, y = np.meshgrid(axis, axis)
    xy = np.column_stack([x.ravel(), y.ravel()])
    part = parts_at(xy)
    residual = gaussian_field(rng, SHAPE, CELL_M, case.practical_m, case.family).ravel()
    small = rng.standard_normal(len(xy))
    truth = 32.0 + np.sqrt(SILL_CM2) * (np.sqrt(0.8) * residual + np.sqrt(0.2) * small)
    truth += case.headland_cm * (part == "headland") + case.wheeling_cm * (part == "wheeling")
    truth += case.trend_cm * (xy[:, 0] / SIDE_M - 0.5)
    if case.patches_cm:
        other = gaussian_field(rng, SHAPE, CELL_M, 120.0, "matern").ravel()
        truth += case.patches_cm * (other > 0.5)
    rows = spread_out(rng, xy, round(0.8 * case.stations))
    wheelings = np.flatnonzero(part == "wheeling")
    rows = np.concatenate([rows, rng.choice(wheelings, case.stations - len(rows), replace=False)])
    value = truth[rows] + ERROR_CM * rng.standard_normal(len(rows))
    stone = rng.random(len(rows)) < case.stones
    value = np.where(stone, value - rng.uniform(10, 18, len(rows)), value)
    moved = xy[rows] + case.position_m * rng.standard_normal((len(rows), 2))
    part_read = part[rows] if case.position_m == 0 else parts_at(np.clip(moved, 0.1, SIDE_M - 0.1))
    return Drawn(xy, part, truth, rows, value, part_read)


Method = Callable[[Drawn], tuple[np.ndarray, np.ndarray]]


def zoning_field(d: Drawn) -> tuple[np.ndarray, np.ndarray]:
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
    mean, var = model.base.predict(d.xy, model.stations.parts.of(d.part.tolist()))
    return mean, np.sqrt(var)


def zoning_regressor(d: Drawn) -> tuple[np.ndarray, np.ndarray]:
    """The estimator with parts and errors."""
    model = KrigingRegressor().fit(
        d.xy[d.rows], d.value, parts=d.part_read, error_var=np.full(len(d.rows), ERROR_CM**2)
    )
    return model.predict(d.xy, parts=d.part, return_std=True)


def ordinary(d: Drawn) -> tuple[np.ndarray, np.ndarray]:
    """Ordinary kriging without parts, the error known."""
    model = KrigingRegressor(outlier_limit=None).fit(
        d.xy[d.rows], d.value, error_var=np.full(len(d.rows), ERROR_CM**2)
    )
    return model.predict(d.xy, return_std=True)


def universal(d: Drawn) -> tuple[np.ndarray, np.ndarray]:
    """Universal kriging: each part a drift of its own, no prior to speak of."""
    names = np.unique(d.part)
    code = np.searchsorted(names, d.part_read)
    count = len(d.rows)
    xy = d.xy[d.rows]
    readings = Readings(
        xy, d.value, np.full(count, ERROR_CM**2), code, np.full(count, -1), place_codes(xy, code)
    )
    effects = Effects(np.zeros(len(names)), np.where(np.arange(len(names)) == 0, 0.0, 1e5))
    spread = float(np.var(d.value))
    prior = CovariancePrior(spread, 1.5, 0.2, 1.5, 0.35 * SIDE_M, 1.0)
    recipe = Recipe(effects, Covariance("exponential", 1.0, 1.0, 1.0), prior)
    system = infer(readings, np.empty(0, np.int64), recipe).system
    mean, var = system.predict(d.xy, np.searchsorted(names, d.part))
    return mean, np.sqrt(var)


def one_hot(xy: np.ndarray, part: np.ndarray, scale: float) -> np.ndarray:
    """Return places and part columns."""
    return np.column_stack([xy, *(scale * (part == name) for name in ("headland", "wheeling"))])


def forest(d: Drawn) -> tuple[np.ndarray, np.ndarray]:
    """Random forest; the spread of its trees is no interval."""
    model = RandomForestRegressor(300, min_samples_leaf=2, random_state=0)
    model.fit(one_hot(d.xy[d.rows], d.part_read, 1.0), d.value)
    return model.predict(one_hot(d.xy, d.part, 1.0)), np.full(len(d.xy), np.nan)


def process(d: Drawn) -> tuple[np.ndarray, np.ndarray]:
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
        model.fit(one_hot(d.xy[d.rows], d.part_read, 1.0), d.value - centre)
    mean, sd = model.predict(one_hot(d.xy, d.part, 1.0), return_std=True)
    return mean + centre, sd


METHODS: dict[str, Method] = {
    "zoning": zoning_field,
    "regressor": zoning_regressor,
    "ok": ordinary,
    "uk": universal,
    "forest": forest,
    "process": process,
}


def score(d: Drawn, found: tuple[np.ndarray, np.ndarray]) -> tuple[float, float]:
    """Return root mean square error and coverage of the central 90 % interval."""
    mean, sd = found
    error = mean - d.truth
    return float(np.sqrt(np.mean(error**2))), float(np.mean(np.abs(error) <= Z90 * sd))


def line(case: Case, repeats: int) -> str:
    """Return one line of the table."""
    rmse: dict[str, list[float]] = {name: [] for name in METHODS}
    cover: dict[str, list[float]] = {name: [] for name in METHODS}
    for seed in range(repeats):
        d = draw(case, seed)
        for name, method in METHODS.items():
            got = score(d, method(d))
            rmse[name].append(got[0])
            cover[name].append(got[1])
    mean = {name: float(np.mean(values)) for name, values in rmse.items()}
    ratios = "  ".join(f"{mean['zoning'] / mean[name]:7.3f}" for name in list(METHODS)[1:])
    covers = "  ".join(
        f"{np.mean(cover[name]):6.3f}" for name in ("zoning", "regressor", "ok", "uk")
    )
    return f"{case.name:<30} {mean['zoning']:6.2f}  {ratios}   {covers}"


def censored_line(repeats: int) -> list[str]:
    """Return the lines on readings of which a fifth are cut off."""
    names = ("all known (oracle)", "limits used", "limits dropped", "limits taken as read")
    errors: dict[str, list[tuple[float, float, float]]] = {name: [] for name in names}
    for seed in range(repeats):
        d = draw(Case("censored", 120.0, 100), 500 + seed)
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
    best = table[names[0]]
    return [
        f"{name:<30} bias {b - best[0]:+6.2f} cm against the oracle, rmse {r:5.2f} "
        f"({r / best[1]:5.3f} of the oracle's), coverage {c:5.3f}"
        for name, (b, r, c) in table.items()
    ]


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--repeats", type=int, default=20)
    parser.add_argument("--cases", type=int, default=len(CASES))
    given = parser.parse_args()
    start = time.perf_counter()
    print(
        f"{time.strftime('%Y-%m-%d %H:%M')}  {platform.machine()}, {os.cpu_count()} cores, load "
        f"{os.getloadavg()[0]:.1f}; {given.repeats} repeats of each line"
    )
    print(
        f"{'':30} zoning  rmse of zoning over that of                   90 % interval covers\n"
        f"{'':30}   rmse  "
        + "  ".join(f"{name[:7]:>7}" for name in list(METHODS)[1:])
        + "   zoning  regr.     ok      uk"
    )
    with threadpool_limits(1, "blas"):
        for case in CASES[: given.cases]:
            print(line(case, given.repeats), flush=True)
        print("\na fifth of 100 readings cut off at their 80 % point (regressor)")
        for text in censored_line(given.repeats):
            print(text, flush=True)
    print(f"\n{time.perf_counter() - start:.0f} s, load at the end {os.getloadavg()[0]:.1f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
