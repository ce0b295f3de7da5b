"""Speed of the surface room beside general-purpose geostatistics libraries, in one run.

``python tests/benchmarks/surface_speed.py`` prints the table; ``--quick`` takes small sizes. Every
row gives the same work to all: the same readings, the same exponential covariance, the same number
of neighbours, mean and variance. A peer that is not installed is left out and named. Peers that
take seconds a thousand cells are timed on a part of the cells and given by cells a second.
"""

from __future__ import annotations

import argparse
import os
import platform
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from fields import gaussian_field
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import ConstantKernel, Matern
from sklearn.neighbors import KNeighborsRegressor
from threadpoolctl import threadpool_limits

from zoning.surface import Covariance, KrigingRegressor
from zoning.surface import threads as room_threads
from zoning.surface.local import Sharing
from zoning.surface.many import share
from zoning.surface.stations import place_codes
from zoning.surface.system import Effects, Readings, System

try:
    from pykrige.ok import OrdinaryKriging
except ImportError:
    OrdinaryKriging = None

SIDE_M = 1000.0
MODEL = Covariance("exponential", 3.0, 13.0, 30.0)
NEIGHBOURS = 64
NO_EFFECTS = Effects(np.zeros(1), np.zeros(1))
R_KRIGE = """
library(gstat); library(sp)
a <- commandArgs(TRUE)
d <- read.csv(a[1]); coordinates(d) <- ~x+y
p <- read.csv(a[2]); coordinates(p) <- ~x+y
v <- vgm({psill}, "Exp", {range}, {nugget})
t <- system.time(k <- krige(z~1, d, p, v, nmax={nmax}, debug.level=0))["elapsed"]
write.csv(data.frame(m=k$var1.pred, v=k$var1.var), a[3], row.names=FALSE)
cat(t)
"""
R_CV = """
library(gstat); library(sp)
a <- commandArgs(TRUE)
d <- read.csv(a[1]); coordinates(d) <- ~x+y
v <- vgm({psill}, "Exp", {range}, {nugget})
t <- system.time(k <- krige.cv(z~1, d, v, verbose=FALSE, debug.level=0))["elapsed"]
cat(t)
"""


def drawn(count: int, seed: int = 1) -> tuple[np.ndarray, np.ndarray]:
    """Return places and values of readings of one field of 100 ha."""
    rng = np.random.default_rng(seed)
    field = gaussian_field(rng, (1000, 1000), 1.0, 90.0).ravel()
    cell = rng.choice(1_000_000, count, replace=False)
    xy = np.column_stack([cell % 1000, cell // 1000]) + rng.uniform(0.1, 0.9, (count, 2))
    return xy, 30 + 3.6 * field[cell] + 1.7 * rng.standard_normal(count)


def cells(count: int) -> np.ndarray:
    """Return the centres of a square grid of about `count` cells."""
    axis = (np.arange(round(count**0.5)) + 0.5) * SIDE_M / round(count**0.5)
    x, y = np.meshgrid(axis, axis)
    return np.column_stack([x.ravel(), y.ravel()])


def best_of(task: Callable[[], Any], times: int = 3) -> float:
    """Return the shortest of `times` runs [s]."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        task()
        taken.append(time.perf_counter() - start)
    return min(taken)


def say(text: str) -> None:
    """Print at once."""
    print(text, flush=True)


def row(name: str, seconds: float, work: int, unit: str, ours: float | None) -> None:
    """Print one row: time, rate, and how many times slower than ours."""
    slower = "" if ours is None else f"   {seconds / work / ours:8.1f} x ours"
    say(f"  {name:<46} {seconds:9.3f} s  {work / seconds:12,.0f} {unit}/s{slower}")


def with_cores(count: int, task: Callable[[], Any]) -> Callable[[], Any]:
    """Return `task` held to `count` cores."""

    def limited() -> None:
        whole = room_threads.cores
        room_threads.cores = lambda: count  # type: ignore[assignment]
        try:
            with threadpool_limits(count, "blas"):
                task()
        finally:
            room_threads.cores = whole

    return limited


def pykrige_model(xy: np.ndarray, z: np.ndarray) -> Any:
    """Return PyKrige's ordinary kriging with the same covariance, or nothing."""
    if OrdinaryKriging is None:
        return None
    parameters = {
        "psill": MODEL.partial_sill,
        "range": MODEL.practical_range_m,
        "nugget": MODEL.nugget,
    }
    return OrdinaryKriging(
        xy[:, 0], xy[:, 1], z, variogram_model="exponential", variogram_parameters=parameters
    )


def gstat(script: str, xy: np.ndarray, z: np.ndarray, places: np.ndarray | None, nmax: int) -> Any:
    """Return seconds, mean and variance by gstat, or nothing where it is absent."""
    if shutil.which("Rscript") is None:
        return None
    with tempfile.TemporaryDirectory() as scratch:
        names = [str(Path(scratch) / n) for n in ("d.csv", "p.csv", "k.csv", "s.R")]
        np.savetxt(names[0], np.column_stack([xy, z]), "%.17g", ",", header="x,y,z", comments="")
        if places is not None:
            np.savetxt(names[1], places, "%.17g", ",", header="x,y", comments="")
        text = script.format(
            psill=MODEL.partial_sill, range=MODEL.range_m, nugget=MODEL.nugget, nmax=nmax
        )
        Path(names[3]).write_text(text, encoding="utf-8")
        done = subprocess.run(
            ["Rscript", names[3], *names[:3]], capture_output=True, text=True, check=False
        )
        if done.returncode:
            return None
        seconds = float(done.stdout.strip().split()[-1])
        if places is None:
            return seconds, None, None
        return (seconds, *np.loadtxt(names[2], delimiter=",", skiprows=1).T)


def shared_neighbourhoods(sizes: list[int], readings: int) -> None:
    """Compare block-shared neighbourhoods with a neighbourhood a cell."""
    xy, z = drawn(readings)
    model = KrigingRegressor(
        nugget=MODEL.nugget,
        partial_sill=MODEL.partial_sill,
        range_m=MODEL.range_m,
        neighbours=NEIGHBOURS,
        outlier_limit=None,
    ).fit(xy, z)
    part_size = min(10_000, sizes[-1])
    places = cells(sizes[-1])
    some = places[np.linspace(0, len(places) - 1, part_size).astype(int)]
    say(f"\n{readings:,} readings, {NEIGHBOURS} neighbours, mean and variance")
    rates = {}
    for size in sizes:
        grid = cells(size)
        for count in sorted({1, room_threads.cores()}):
            task = with_cores(count, lambda grid=grid: model.predict(grid, return_std=True))
            seconds = best_of(task)
            rates[size, count] = seconds / len(grid)
            row(f"zoning, {len(grid):,} cells, {count} core(s)", seconds, len(grid), "cells", None)
    ours = rates[sizes[-1], room_threads.cores()]
    other = pykrige_model(xy, z)
    if other is None:
        say("  PyKrige is not installed")
    else:
        start = time.perf_counter()
        other.execute("points", some[:, 0], some[:, 1], backend="C", n_closest_points=NEIGHBOURS)
        row(
            "PyKrige, C, a neighbourhood a cell",
            time.perf_counter() - start,
            part_size,
            "cells",
            ours,
        )
    told = gstat(R_KRIGE, xy, z, some, NEIGHBOURS)
    if told is None:
        say("  gstat is not installed")
    else:
        row("gstat, a neighbourhood a cell", told[0], part_size, "cells", ours)
    agreement(xy, z, some[:2000])


def as_readings(xy: np.ndarray, z: np.ndarray) -> Readings:
    """Return plain readings."""
    zeros = np.zeros(len(z), np.int64)
    return Readings(xy, z, np.zeros(len(z)), zeros, zeros - 1, place_codes(xy, zeros))


def agreement(xy: np.ndarray, z: np.ndarray, some: np.ndarray) -> None:
    """State how far sharing is from one exact system of all readings."""
    readings, part = as_readings(xy, z), np.zeros(len(some), np.int64)
    exact = System(readings, NO_EFFECTS, MODEL)
    mean, var = exact.predict(some, part)
    shared = share(readings, NO_EFFECTS, MODEL, NEIGHBOURS)
    own = shared.with_sharing(Sharing(NEIGHBOURS, 0.0))
    scale = np.sqrt(var).mean()
    off = [np.sqrt(np.mean((s.predict(some, part)[0] - mean) ** 2)) for s in (shared, own)]
    say(
        f"  off from all readings at once, rms as share of the mean kriging sd: shared "
        f"{off[0] / scale:.4f}, a neighbourhood a cell {off[1] / scale:.4f} "
        f"(ratio {off[0] / off[1]:.3f})"
    )
    # One block against one system of the same readings.
    middle = np.array([500.0, 500.0])
    side = shared.sharing.side_m
    block = (np.floor(middle / side) + np.random.default_rng(0).uniform(0, 1, (200, 2))) * side
    centre = (np.floor(middle / side) + 0.5) * side
    near = np.sort(np.argsort(np.linalg.norm(xy - centre, axis=1))[:NEIGHBOURS])
    same = System(readings.take(near), NO_EFFECTS, MODEL).predict(block, part[:200])
    got = shared.predict(block, part[:200])
    worst = max(float(np.max(np.abs(g / s - 1))) for g, s in zip(got, same, strict=True))
    say(f"  largest relative difference with the same neighbours: {worst:.1e}")


def exact_global(count: int) -> None:
    """Compare one exact system of 200 readings."""
    xy, z = drawn(200)
    grid = cells(count)
    model = KrigingRegressor(
        nugget=MODEL.nugget, partial_sill=MODEL.partial_sill, range_m=MODEL.range_m
    ).fit(xy, z)
    say(f"\n200 readings, all of them for each of {len(grid):,} cells, mean and variance")
    seconds = best_of(lambda: model.predict(grid, return_std=True))
    ours = seconds / len(grid)
    row(f"zoning, {room_threads.cores()} cores", seconds, len(grid), "cells", None)
    other = pykrige_model(xy, z)
    if other is not None:
        taken = best_of(lambda: other.execute("points", grid[:, 0], grid[:, 1]), 2)
        row("PyKrige, vectorised", taken, len(grid), "cells", ours)
    kernel = ConstantKernel(MODEL.partial_sill) * Matern(MODEL.range_m, nu=0.5)
    process = GaussianProcessRegressor(kernel, alpha=MODEL.nugget, optimizer=None)
    process.fit(xy, z - z.mean())
    taken = best_of(lambda: process.predict(grid, return_std=True), 2)
    row("scikit-learn Gaussian process", taken, len(grid), "cells", ours)
    small = cells(100)
    seconds = best_of(lambda: model.predict(small, return_std=True), 20)
    say("100 cells")
    row("zoning", seconds, len(small), "cells", None)
    if other is not None:
        taken = best_of(lambda: other.execute("points", small[:, 0], small[:, 1]), 20)
        row("PyKrige, vectorised", taken, len(small), "cells", seconds / len(small))
    taken = best_of(lambda: process.predict(small, return_std=True), 20)
    row("scikit-learn Gaussian process", taken, len(small), "cells", seconds / len(small))


def without_variance(readings: int, count: int) -> None:
    """Say what a method without any variance takes."""
    xy, z = drawn(readings)
    grid = cells(count)
    idw = KNeighborsRegressor(12, weights=lambda d: 1 / np.maximum(d, 1e-9) ** 2).fit(xy, z)
    say(f"\nno variance at all: inverse distance, 12 neighbours, {readings:,} readings")
    row(
        "scikit-learn nearest neighbours",
        best_of(lambda: idw.predict(grid), 1),
        len(grid),
        "cells",
        None,
    )


def many_readings(readings: int, count: int) -> None:
    """Fit and predict from very many readings, in a process of its own for its memory."""
    code = (
        "import sys, time, numpy as np; from zoning.surface import KrigingRegressor;"
        "given = np.load(sys.argv[1]); xy, z, grid = given['xy'], given['z'], given['grid'];"
        "a = time.perf_counter(); m = KrigingRegressor().fit(xy, z);"
        "b = time.perf_counter(); p = m.predict(grid, return_std=True); c = time.perf_counter();"
        "peak = [row for row in open('/proc/self/status') if row.startswith('VmHWM')][0];"
        "print(b - a, c - b, int(peak.split()[1]) / 1024,"
        "m.covariance_, m._base.best.system.sharing, sep='|')"
    )
    xy, z = drawn(readings)
    with tempfile.TemporaryDirectory() as scratch:
        file = Path(scratch) / "given.npz"
        np.savez(file, xy=xy, z=z, grid=cells(count))
        done = subprocess.run(
            [sys.executable, "-c", code, str(file)], capture_output=True, text=True, check=True
        )
    fit, predict, peak, covariance, sharing = done.stdout.strip().split("|")
    say(f"\n{readings:,} readings x {count:,} cells, covariance fitted")
    say(
        f"  fit {float(fit):.2f} s, predict {float(predict):.2f} s, together "
        f"{float(fit) + float(predict):.2f} s; peak memory {float(peak):,.0f} MB"
    )
    say(f"  {covariance}\n  {sharing} (drawn with nugget 2.9, partial sill 13.0, range 30 m)")


def fit_of_a_field() -> None:
    """Fit 200 stations with parts, errors and limits."""
    xy, z = drawn(200)
    parts = np.where(xy[:, 0] < 100, "headland", "body")
    limit = np.quantile(z, 0.85)
    model = KrigingRegressor()
    task = with_cores(
        1,
        lambda: model.fit(
            xy, np.minimum(z, limit), parts=parts, error_var=np.full(200, 1.0), censored=z > limit
        ),
    )
    task()
    say("\nfit of 200 stations with parts, errors and 30 limits")
    row("zoning, 1 core", best_of(task, 5), 1, "fits", None)


def left_out() -> None:
    """Compare leaving one out in turn."""
    xy, z = drawn(200)
    system = System(as_readings(xy, z), NO_EFFECTS, MODEL)
    many = 200

    def ours_many() -> None:
        for _ in range(many):
            system.leave_one_out()

    with threadpool_limits(1, "blas"):
        seconds = best_of(ours_many) / many
        solve = best_of(lambda: System(as_readings(xy, z), NO_EFFECTS, MODEL).leave_one_out())
    say("\nleave one out, 200 readings")
    row("zoning, closed form, system at hand", seconds, 1, "rounds", None)
    row("zoning, system solved as well", solve, 1, "rounds", seconds)
    if pykrige_model(xy, z) is not None:
        start = time.perf_counter()
        for k in range(200):
            rest = np.delete(np.arange(200), k)
            pykrige_model(xy[rest], z[rest]).execute("points", xy[k : k + 1, 0], xy[k : k + 1, 1])
        row("PyKrige, a loop", time.perf_counter() - start, 1, "rounds", seconds)
    xy, z = drawn(500)
    system = System(as_readings(xy, z), NO_EFFECTS, MODEL)
    with threadpool_limits(1, "blas"):
        seconds = best_of(system.leave_one_out, 5)
    say("leave one out, 500 readings")
    row("zoning, closed form, system at hand", seconds, 1, "rounds", None)
    told = gstat(R_CV, xy, z, None, 0)
    if told is None:
        say("  gstat is not installed")
    else:
        row("gstat krige.cv", told[0], 1, "rounds", seconds)


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="small sizes, to see that it runs")
    quick = parser.parse_args().quick
    say(
        f"{time.strftime('%Y-%m-%d %H:%M')}  {platform.machine()}, {os.cpu_count()} cores, load "
        f"{os.getloadavg()[0]:.1f}; Python {platform.python_version()}, numpy {np.__version__}"
    )
    if quick:
        shared_neighbourhoods([2_500, 10_000], 1_000)
        exact_global(10_000)
        without_variance(1_000, 10_000)
        many_readings(3_000, 10_000)
    else:
        shared_neighbourhoods([10_000, 100_000, 1_000_000], 2_000)
        exact_global(100_000)
        without_variance(2_000, 100_000)
        many_readings(100_000, 1_000_000)
    fit_of_a_field()
    left_out()
    say(
        f"\nload at the end {os.getloadavg()[0]:.1f}; peak memory of this process "
        f"{resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:,.0f} MB"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
