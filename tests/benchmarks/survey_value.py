"""What 12 further stations do to a plan, chosen in four ways, judged by the truth.

``python tests/benchmarks/survey_value.py --fields 10`` surveys simulated fields with a few
stations, adds 12 more at places chosen

``worth``     by the value of information (what ``zoning survey`` does)
``variance``  by the variance of the pan base alone, greedy as well
``spread``    evenly over the field (k-means), with no eye to what is known
``random``    at random places of the field

and plans again. The simulated adviser probes each place with the errors of the first survey, anew
for each of ``--draws`` times; random and spread places are drawn anew each time too. The table
holds how much the true loss of the plan falls [cm, mean over the field], every place at its own
best of the plan's depths (no passes), with the mean over fields and its standard error.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[2] / "sample_data"))

from field_probing import probe
from simulate import Simulated, simulate
from truth_scores import Rule, own_best_cm

from zoning import depths, survey
from zoning.contracts import constant
from zoning.model import FieldInputs
from zoning.surface import PanModel
from zoning.survey.link import Known
from zoning.survey.spread import spread_out
from zoning.workflow import Wish, read_field
from zoning.workflow import survey as proposals
from zoning.workflow.survey_value import Question, candidates_of, station_error_cm

Places = NDArray[np.float64]
WAYS = ("worth", "variance", "spread", "random")
STEP_M = 5.0


def read_back(sim: Simulated) -> FieldInputs:
    """Return the field as the program reads it from its folder."""
    with tempfile.TemporaryDirectory() as scratch:
        return read_field(sim.write(Path(scratch) / "field"))


def true_loss_cm(sim: Simulated, inputs: FieldInputs) -> float:
    """Plan from the readings and return the true loss, each place at its own best depth."""
    field = proposals._lay_out(inputs, lambda _step: None)
    used = field.stations[field.stations["used"]]
    model = PanModel.fit(used, heading_deg=field.heading_deg)
    xy = sim.grid_m(STEP_M)
    part = proposals.parts_room.part_of(field.parts, xy)
    pan = model.predict(xy, part.tolist())
    depth = inputs.settings.depth
    rule = Rule(depth.clearance_cm, depth.assurance)
    options = depths.depth_options(inputs.settings.machine)
    cost = depths.expected_loss(
        pan, options, clearance_cm=depth.clearance_cm, assurance=depth.assurance
    )
    levels = np.append(0.0, depths.choose_levels(cost, options, max_depths=depth.max_depths))
    chosen = own_best_cm(pan, levels, rule)
    return float(rule.loss_cm(chosen, sim.need_cm(xy, rule.clearance_cm)).mean())


def with_stations(sim: Simulated, places: Places, draw: int) -> Simulated:
    """Return the field after the adviser probed `places` too; the draw settles the errors."""
    rng = np.random.default_rng([sim.seed, draw, 77])
    sure = replace(sim.truth, scenario=replace(sim.scenario, insertions=4))
    cone, insertions = probe(sure, places, rng)
    for frame in (cone, insertions):
        frame["station"] = "N" + frame["station"]
    return replace(
        sim,
        cone=pd.concat([sim.cone, cone], ignore_index=True),
        insertions=pd.concat([sim.insertions, insertions], ignore_index=True),
    )


def by_variance(question: Question, count: int, apart_m: float) -> Places:
    """Return the places that lower the mean variance of the base most, greedy."""
    told = candidates_of(question)
    known, area, error = Known(told.base), question.places.area_ha, told.error_var_cm2
    xy, chosen = question.candidates.xy_m, []
    free = np.ones(len(xy), dtype=bool)
    for _ in range(count):
        total = known.own + error
        gain = (known.covariance**2 / total[:, None]) @ area
        row = int(np.argmax(np.where(free, gain, -np.inf)))
        known.take(row, error)
        free &= np.hypot(*(xy - xy[row]).T) >= apart_m
        chosen.append(row)
    return xy[chosen]


def choosers(sim: Simulated, count: int) -> dict[str, Callable[[int], Places]]:
    """Return how each way chooses its places, given the number of the draw."""
    inputs = read_back(sim)
    field = proposals._lay_out(inputs, lambda _step: None)
    worth = proposals._next(field, Wish(count), count).xy_m
    used = field.stations[field.stations["used"]]
    model = PanModel.fit(used, heading_deg=field.heading_deg)
    places = survey.scattered(field.parts, 700, 40, 1)
    candidates = survey.scattered(field.ground, 5000, 40, 2)
    question = Question(model, places, candidates, field.keep_off, station_error_cm(used))
    variance = by_variance(question, count, constant("survey_rules", "next_apart_m"))
    grid = sim.grid_m(STEP_M)

    def spread(draw: int) -> Places:
        return grid[spread_out(grid, count, draw)]

    def random(draw: int) -> Places:
        rng = np.random.default_rng([sim.seed, draw])
        return grid[rng.choice(len(grid), count, replace=False)]

    return {
        "worth": lambda _: worth,
        "variance": lambda _: variance,
        "spread": spread,
        "random": random,
    }


def score(seed: int, *, stations: int, count: int, draws: int) -> dict[str, float]:
    """Return the fall of the true loss of each way on one field, mean over the draws [cm]."""
    sim = simulate(seed, stations=stations, pits=4)
    before = true_loss_cm(sim, read_back(sim))
    row = {"seed": float(seed), "ha": sim.boundary.area / 1e4, "before": before}
    for way, chosen in choosers(sim, count).items():
        after = [
            true_loss_cm(sim, read_back(with_stations(sim, chosen(draw), draw)))
            for draw in range(draws)
        ]
        row[way] = before - float(np.mean(after))
    return row


def main() -> int:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--fields", type=int, default=10)
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--stations", type=int, default=18, help="in the first survey")
    parser.add_argument("--count", type=int, default=12, help="further stations")
    parser.add_argument("--draws", type=int, default=4)
    given = parser.parse_args()
    rows = []
    for seed in range(given.first_seed, given.first_seed + given.fields):
        row = score(seed, stations=given.stations, count=given.count, draws=given.draws)
        rows.append(row)
        told = pd.DataFrame([row]).round(3).to_string(index=False, header=len(rows) == 1)
        print(told, flush=True)
    table = pd.DataFrame(rows)
    error = table.sem()
    print()
    for way in WAYS:
        print(f"{way:<9} {table[way].mean():6.3f} +- {error[way]:.3f} cm")
    for way in WAYS[1:]:
        gap = table["worth"] - table[way]
        print(
            f"worth / {way:<9} {table['worth'].mean() / table[way].mean():5.2f}   "
            f"worth - {way:<9} {gap.mean():6.3f} +- {gap.sem():.3f} cm"
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
