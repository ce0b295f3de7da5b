"""Plan simulated fields from their readings alone and judge each plan by the truth.

``python tests/benchmarks/plan_accuracy.py --fields 20`` prints a row a field and the mean. Losses
are true pinball losses [cm, mean over the raster cells of the field, or 15,000 of them]:
``assurance`` a centimetre too shallow, the rest a centimetre too deep, against pan base + clearance
where a pan is, 0 elsewhere.

``driven``      the plan
``free``        each cell its own best among the plan's depths, by the plan's own surface
``free_all``    the same among all steps of the machine
``part``        the best depth by part of the field, chosen *with the truth known*
``part_adv``    the same, chosen from the same stations
``single``      the best one depth, chosen with the truth known
``single_adv``  the same, chosen from the same stations
``floor``       the least that the readings leave room for, every parameter of the field known
``/part ...``   the driven plan's loss over that one
``cover90``     share of true bases, on ground with a pan, inside the central 90 % predicted
``rmse, sd``    root mean square error of the base there, and what the surface expected it to be
``brier``       score of the probability of a pan
``brier0``      what the field's true share everywhere would score

``--sample`` judges the plan of the sample field instead.
"""

from __future__ import annotations

import argparse
import resource
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import shapely

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[2] / "sample_data"))

import make_teasel_piece
from field_scenario import draw, draw_marked
from floor import informed_surface
from simulate import Simulated, simulate
from truth_scores import (
    Calibration,
    Losses,
    Numbers,
    Rule,
    Surface,
    by_part_knowing_cm,
    calibration,
    losses,
    own_best_cm,
    station_needs,
)

if TYPE_CHECKING:
    from zoning.model import Plan, Settings

TARGETS = {"/part": 0.80, "/single": 0.60, "/free": 1.10}
SAMPLE = -1
GROUNDS = {"marked": draw_marked, "wide": draw}  # see field_scenario
MOST_PLACES = 15_000
DEFAULT_STEPS_CM = np.append(0.0, np.arange(15.0, 55.1, 2.5))


@dataclass(frozen=True, slots=True)
class Predicted:
    """A surface as read from the rasters of a plan."""

    base_mean_cm: Numbers
    base_sd_cm: Numbers
    pan_probability: Numbers


@dataclass(frozen=True, slots=True)
class FieldScore:
    """One row of the table."""

    seed: int
    area_ha: float
    stations: int
    depths: str
    losses: Losses
    calibration: Calibration
    seconds: float
    peak_mb: float


def steps_cm(settings: Settings) -> Numbers:
    """Return the depths the machine can be set to, 0 first where the legs may be lifted out."""
    machine = settings.machine
    steps = np.arange(machine.depth_min_cm, machine.depth_max_cm + 1e-6, machine.depth_step_cm)
    return np.append(0.0, steps) if settings.depth.lift_out else steps


def depth_at(plan: Plan, xy_m: Numbers) -> Numbers:
    """Return the depth of the zone that holds each place; the nearest zone for one on a seam."""
    zones = np.asarray(plan.zones.geometry)
    place, zone = shapely.STRtree(zones).query_nearest(shapely.points(xy_m), all_matches=False)
    depth = np.empty(len(xy_m))
    depth[place] = plan.zones["depth_cm"].to_numpy(dtype=float)[zone]
    return depth


def score_plan(sim: Simulated, plan: Plan) -> tuple[Losses, Calibration]:
    """Judge a plan at the centres of its raster cells."""
    settings = plan.settings
    rule = Rule(settings.depth.clearance_cm, settings.depth.assurance)
    cells = np.flatnonzero(plan.inside)
    if len(cells) > MOST_PLACES:
        cells = np.sort(np.random.default_rng(sim.seed).choice(cells, MOST_PLACES, replace=False))
    xy = plan.grid.centres_m()[cells]
    names = ("pan_base_cm", "pan_base_sd_cm", "pan_probability")
    surface = Predicted(*(plan.rasters[name].ravel()[cells] for name in names))
    judged = losses(
        sim,
        xy,
        depth_at(plan, xy),
        surface,
        station_needs(plan.stations, rule),
        steps_cm=steps_cm(settings),
        rule=rule,
    )
    return judged, calibration(surface, sim.true_base_cm(xy), sim.true_pan(xy))


def score_surface(
    sim: Simulated, surface_at: Callable[[Numbers], Surface], *, step_m: float = 4.0
) -> dict[str, float]:
    """Judge a predictor alone, without passes: its calibration, the loss of its own best depths.

    `surface_at` takes places of shape ``(n, 2)`` in the working CRS and gives what
    `zoning.model.PanSurface` holds; the part of a place is to be had from ``sim.part``.
    """
    rule = Rule()
    xy = sim.grid_m(step_m)
    surface = surface_at(xy)
    need = sim.need_cm(xy, rule.clearance_cm)
    known = by_part_knowing_cm(need, sim.part(xy), DEFAULT_STEPS_CM, rule)
    free = float(rule.loss_cm(own_best_cm(surface, DEFAULT_STEPS_CM, rule), need).mean())
    part = float(rule.loss_cm(known, need).mean())
    best = own_best_cm(informed_surface(sim, xy), DEFAULT_STEPS_CM, rule)
    floor = float(rule.loss_cm(best, need).mean())
    judged = calibration(surface, sim.true_base_cm(xy), sim.true_pan(xy))
    return {"free_cm": free, "part_cm": part, "floor_cm": floor, **asdict(judged)}


def score_folder(sim: Simulated, folder: Path) -> FieldScore:
    """Plan the folder of a simulated field and judge the plan."""
    from zoning import make_plan, read_field  # noqa: PLC0415  (its import counts in the peak)

    start = time.perf_counter()
    plan = make_plan(read_field(folder))
    seconds = time.perf_counter() - start
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    depths = sorted({float(d) for d in plan.zones["depth_cm"]})
    judged, agreed = score_plan(sim, plan)
    return FieldScore(
        seed=sim.seed,
        area_ha=sim.boundary.area / 1e4,
        stations=sim.cone["station"].nunique() + len(sim.pits),
        depths=" ".join(f"{d:g}" for d in depths),
        losses=judged,
        calibration=agreed,
        seconds=seconds,
        peak_mb=peak_mb,
    )


def score_field(seed: int, ground: str) -> FieldScore:
    """Simulate a field, plan it from its folder and judge the plan; the sample field if -1."""
    if seed == SAMPLE:
        sample = simulate(make_teasel_piece.SEED, scenario=make_teasel_piece.SCENARIO, named=True)
        return score_folder(sample, Path(make_teasel_piece.__file__).parent / "teasel_piece")
    sim = simulate(seed, scenario=GROUNDS[ground](np.random.default_rng(seed)))
    with tempfile.TemporaryDirectory() as scratch:
        return score_folder(sim, sim.write(Path(scratch) / "field"))


def score_or_reason(seed: int, ground: str) -> FieldScore | str:
    """Return the score of a field, or the end of the traceback that kept it from one."""
    try:
        return score_field(seed, ground)
    except Exception:  # noqa: BLE001  (a field that fails is a row of the table)
        return traceback.format_exc(limit=-3)


def table_of(scores: list[FieldScore]) -> pd.DataFrame:
    """Return the table as numbers, a row a field."""
    rows = []
    for s in scores:
        way, fit = s.losses, s.calibration
        rows.append(
            {
                "seed": s.seed,
                "ha": s.area_ha,
                "stations": s.stations,
                "driven": way.driven_cm,
                "free": way.free_same_depths_cm,
                "free_all": way.free_all_steps_cm,
                "part": way.part_knowing_cm,
                "part_adv": way.part_advised_cm,
                "single": way.single_knowing_cm,
                "single_adv": way.single_advised_cm,
                "floor": way.floor_cm,
                "/part": way.driven_cm / way.part_knowing_cm,
                "/single": way.driven_cm / way.single_knowing_cm,
                "/free": way.driven_cm / way.free_same_depths_cm,
                "cover90": fit.coverage_90,
                "rmse": fit.rmse_cm,
                "sd": fit.mean_sd_cm,
                "brier": fit.brier,
                "brier0": fit.brier_base_rate,
                "s": s.seconds,
                "MB": s.peak_mb,
                "depths": s.depths,
            }
        )
    return pd.DataFrame(rows)


def line_of(cells: Iterable[object]) -> str:
    """Return one line of the printed table."""
    return " ".join(f"{cell:{'10.3f' if isinstance(cell, float) else '>10'}}" for cell in cells)


def summary(table: pd.DataFrame) -> str:
    """Return the means, the ratios of mean losses with their targets, and the adviser's ratios."""
    mean = table.drop(columns=["depths"]).mean()
    lines = [line_of(["mean", *mean.iloc[1:]]), ""]
    lines.append("ratio of mean losses      got   target")
    for name, target in TARGETS.items():
        got = mean["driven"] / mean[name.removeprefix("/")]
        said = "met" if got <= target else "MISSED"
        lines.append(f"driven {name:<17} {got:6.3f}   {target:.2f} {said}")
    lines += [
        f"driven /{name:<16} {mean['driven'] / mean[name]:6.3f}"
        for name in ("part_adv", "single_adv", "free_all", "floor")
    ]
    lines += [
        f"mean of ratios {name:<9} {mean[name]:6.3f}   {TARGETS[name]:.2f}" for name in TARGETS
    ]
    return "\n".join(lines)


def main() -> int:
    """Run the benchmark; return 1 if a field could not be planned."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--fields", type=int, default=20)
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--csv", type=Path, help="write the table here as well")
    parser.add_argument("--ground", choices=sorted(GROUNDS), default="marked")
    parser.add_argument("--sample", action="store_true", help="only the sample field")
    given = parser.parse_args()
    first = given.first_seed
    seeds = [SAMPLE] if given.sample else list(range(first, first + given.fields))
    scores: list[FieldScore] = []
    failed = 0
    # A fresh process for each field, so that its peak of memory is its own.
    with ProcessPoolExecutor(
        given.jobs, mp_context=get_context("spawn"), max_tasks_per_child=1
    ) as pool:
        for seed, result in zip(
            seeds, pool.map(score_or_reason, seeds, [given.ground] * len(seeds)), strict=True
        ):
            if isinstance(result, str):
                failed += 1
                print(f"field {seed} failed:\n{result}", flush=True)
                continue
            scores.append(result)
            row = table_of([result])
            if len(scores) == 1:
                print(line_of(row.columns))
            print(line_of(row.iloc[0]), flush=True)
    if scores:
        table = table_of(scores)
        if given.sample:
            print("\nHazards cap the driven depths here and no other: judge the surface only.")
        print("\n" + summary(table))
        if given.csv:
            table.to_csv(given.csv, index=False)
    print(f"{len(scores)} fields planned, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
