"""Fields of one farm with few stations: true loss of plans that borrow strength against alone.

``python tests/benchmarks/batch_farm.py --farms 3 --fields 20 --stations 8``. A farm draws the
parameters of its pan once; each of its fields lies within a fifth of the usual range round them,
with an outline, a pattern and stations of its own. The loss is worked out from the truth at every
cell; the choice of how alike the fields of a farm are is this benchmark's own (no source).
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from dataclasses import asdict, replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[2] / "sample_data"))

from field_probing import choose_places, dig, probe
from field_scenario import Scenario, draw
from plan_accuracy import depth_at
from simulate import Simulated, simulate
from truth_scores import Rule

from zoning import surface, workflow
from zoning.model import FieldInputs

COMMON = (
    "body_base_cm", "headland_cm", "wheeling_cm", "gateway_cm", "range_m", "sd_cm",
    "small_range_m", "small_sd_cm", "no_pan_share", "no_pan_range_m", "thickness_cm",
)  # fmt: skip
ALIKE = 0.2


def farm_of(seed: int, count: int, stations: int) -> list[Simulated]:
    """Return the fields of a farm."""
    rng = np.random.default_rng(seed)
    whole = draw(rng)
    grown = (simulate(1000 * seed + n, scenario=one_of(whole, rng, 30)) for n in range(count))
    return [probed(sim, rng, stations) for sim in grown]


def probed(sim: Simulated, rng: np.random.Generator, stations: int) -> Simulated:
    """Return the field with few stations: half in the body, each part seen at least once."""
    headland, wheeling = max(1, stations // 4), max(1, stations // 8)
    counts = {"gateway": 1, "headland": headland, "wheeling": wheeling}
    counts["body"] = stations - sum(counts.values())
    cone, insertions = probe(sim.truth, choose_places(sim.truth, rng, counts), rng)
    dug = choose_places(sim.truth, rng, {"body": 1})
    return replace(sim, cone=cone, insertions=insertions, pits=dig(sim.truth, dug, rng))


def one_of(whole: Scenario, rng: np.random.Generator, stations: int) -> Scenario:
    """Return a field of the farm `whole`."""
    own = asdict(draw(rng))
    common = {name: (1 - ALIKE) * asdict(whole)[name] + ALIKE * own[name] for name in COMMON}
    return replace(
        Scenario(**own), **common, area_ha=rng.uniform(3, 8), stations=stations,
        smoothness=whole.smoothness,
    )  # fmt: skip


def true_loss_cm(sim: Simulated, inputs: FieldInputs, shared: surface.SharedPrior | None) -> float:
    """Return the mean true loss of the plan of one field [cm]."""
    plan = workflow.make_plan(inputs, shared=shared)
    rule = Rule(plan.settings.depth.clearance_cm, plan.settings.depth.assurance)
    xy = plan.grid.centres_m()[np.flatnonzero(plan.inside)]
    need = sim.need_cm(xy, rule.clearance_cm)
    return float(rule.loss_cm(depth_at(plan, xy), need).mean())


def main() -> None:
    """Print the loss of every field and the means."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--farms", type=int, default=1)
    parser.add_argument("--fields", type=int, default=20)
    parser.add_argument("--stations", type=int, default=8)
    parser.add_argument("--first", type=int, default=1)
    given = parser.parse_args()
    every = []
    for seed in range(given.first, given.first + given.farms):
        fields = farm_of(seed, given.fields, given.stations)
        with tempfile.TemporaryDirectory() as folder:
            inputs = [workflow.read_field(s.write(Path(folder) / str(s.seed))) for s in fields]
        said = [workflow.evidence_of(one) for one in inputs]
        prior = surface.shared_prior([one for one in said if one is not None])
        losses = np.array(
            [
                [true_loss_cm(sim, one, None), true_loss_cm(sim, one, prior)]
                for sim, one in zip(fields, inputs, strict=True)
            ]
        )
        every.append(losses)
        print(f"farm {seed}: {prior.facts() if prior else 'no prior'}")
        tell(f"farm {seed}", losses)
    tell("all", np.concatenate(every))


def tell(name: str, losses: np.ndarray) -> None:
    """Print the mean loss alone and shared, and the difference with its standard error."""
    alone, shared = losses.mean(axis=0)
    gain = losses[:, 0] - losses[:, 1]
    error = gain.std(ddof=1) / np.sqrt(len(gain))
    print(
        f"{name}: {len(losses)} fields, true loss alone {alone:.3f} cm, shared {shared:.3f} cm, "
        f"gain {gain.mean():.3f} +- {error:.3f} cm ({100 * gain.mean() / alone:.1f} %), "
        f"{(gain > 0).sum()} fields better, {(gain < 0).sum()} worse",
        flush=True,
    )


if __name__ == "__main__":
    main()
