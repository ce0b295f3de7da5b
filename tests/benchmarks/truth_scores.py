"""Judge depths and predictions against the truth of a simulated field.

Nothing here calls the code under test: losses, choices and coverage are worked out again from the
truth, from the predicted numbers and from the stations as the plan lists them.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.stats import norm

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[2] / "sample_data"))

from floor import informed_surface
from simulate import Simulated

Numbers = NDArray[np.float64]
Names = NDArray[np.str_]

CENTRAL_90 = float(norm.ppf(0.95))


class Surface(Protocol):
    """The pan at `n` places, as `zoning.model.PanSurface` has it."""

    @property
    def base_mean_cm(self) -> Numbers: ...
    @property
    def base_sd_cm(self) -> Numbers: ...
    @property
    def pan_probability(self) -> Numbers: ...


@dataclass(frozen=True, slots=True)
class Rule:
    """How a depth is judged: too shallow costs `assurance` a centimetre, too deep the rest."""

    clearance_cm: float = 3.0
    assurance: float = 0.8

    def loss_cm(self, depth_cm: Numbers, need_cm: Numbers) -> Numbers:
        """Return the pinball loss of each depth against each need."""
        short = np.asarray(need_cm, dtype=float) - depth_cm
        return np.where(short > 0, self.assurance * short, (self.assurance - 1) * short)

    def expected_cm(self, depth_cm: float, surface: Surface) -> Numbers:
        """Return the expected loss of one depth everywhere, the base normal, no pan needing 0.

        For N(m, s) and z = (d - m) / s the mean excess of d is s (z Phi(z) + phi(z)): the
        partial expectation of a normal, any textbook of inventory theory.
        """
        spread = np.maximum(surface.base_sd_cm, 1e-9)
        z = (depth_cm - self.clearance_cm - surface.base_mean_cm) / spread
        over = spread * (z * norm.cdf(z) + norm.pdf(z))
        there = self.assurance * (over - z * spread) + (1 - self.assurance) * over
        share = surface.pan_probability
        return np.asarray(share * there + (1 - share) * (1 - self.assurance) * depth_cm)


def own_best_cm(surface: Surface, depths_cm: Numbers, rule: Rule) -> Numbers:
    """Return at each place the depth of least expected loss, no pass or run in the way."""
    expected = np.column_stack([rule.expected_cm(float(d), surface) for d in depths_cm])
    return np.asarray(depths_cm[np.argmin(expected, axis=1)])


def best_one_cm(need_cm: Numbers, depths_cm: Numbers, rule: Rule) -> float:
    """Return the one depth of least loss against all the needs."""
    return float(depths_cm[np.argmin([rule.loss_cm(d, need_cm).mean() for d in depths_cm])])


def by_part_knowing_cm(need_cm: Numbers, part: Names, depths_cm: Numbers, rule: Rule) -> Numbers:
    """Return the best depth of each part, chosen with the truth of every place known."""
    result = np.empty(len(need_cm))
    for name in np.unique(part):
        here = part == name
        result[here] = best_one_cm(need_cm[here], depths_cm, rule)
    return result


def station_needs(stations: pd.DataFrame, rule: Rule) -> pd.DataFrame:
    """Return `part` and `need_cm` of every station that answers where the pan ends.

    As an adviser would take them: the base as read (its lower bound where it was not reached) and
    the clearance, 0 where no pan was found.
    """
    used = stations[stations["used"].astype(bool)]
    known = used["pan_base_cm"].notna() | (used["verdict"] == "no_pan")
    used = used[known]
    need = np.where(used["verdict"] == "no_pan", 0.0, used["pan_base_cm"] + rule.clearance_cm)
    return pd.DataFrame({"part": used["part_used"].to_numpy(), "need_cm": need.astype(float)})


def by_part_advised_cm(
    needs: pd.DataFrame, part: Names, depths_cm: Numbers, rule: Rule, fewest: int = 3
) -> Numbers:
    """Return the depth of each part that suits its stations best; the field's if under three."""
    field = needs["need_cm"].to_numpy()
    result = np.empty(len(part))
    for name in np.unique(part):
        own = needs.loc[needs["part"] == name, "need_cm"].to_numpy()
        result[part == name] = best_one_cm(own if len(own) >= fewest else field, depths_cm, rule)
    return result


@dataclass(frozen=True, slots=True)
class Calibration:
    """How well the predicted pan agrees with the true one."""

    coverage_90: float
    rmse_cm: float
    mean_sd_cm: float
    brier: float
    brier_base_rate: float


def calibration(surface: Surface, base_cm: Numbers, pan: NDArray[np.bool_]) -> Calibration:
    """Compare a surface with the truth: the base on places with a pan, the presence everywhere."""
    error = (base_cm - surface.base_mean_cm)[pan]
    spread = surface.base_sd_cm[pan]
    share = float(pan.mean())
    return Calibration(
        coverage_90=float((np.abs(error) <= CENTRAL_90 * spread).mean()),
        rmse_cm=float(np.sqrt((error**2).mean())),
        mean_sd_cm=float(np.sqrt((spread**2).mean())),
        brier=float(((surface.pan_probability - pan) ** 2).mean()),
        brier_base_rate=share * (1 - share),
    )


@dataclass(frozen=True, slots=True)
class Losses:
    """True mean loss of each way to choose depths [cm]."""

    driven_cm: float
    free_same_depths_cm: float
    free_all_steps_cm: float
    part_knowing_cm: float
    part_advised_cm: float
    single_knowing_cm: float
    single_advised_cm: float
    floor_cm: float


def losses(
    sim: Simulated,
    xy_m: Numbers,
    driven_cm: Numbers,
    surface: Surface,
    needs: pd.DataFrame,
    *,
    steps_cm: Numbers,
    rule: Rule,
) -> Losses:
    """Return the true loss of the driven depths and of every other way, over the places given."""
    need, part = sim.need_cm(xy_m, rule.clearance_cm), sim.part(xy_m)
    levels = np.unique(np.append(driven_cm, steps_cm[:1]))
    every = np.full(len(xy_m), best_one_cm(need, steps_cm, rule))
    advised = np.full(len(xy_m), best_one_cm(needs["need_cm"].to_numpy(), steps_cm, rule))
    ways: Iterable[Numbers] = (
        driven_cm,
        own_best_cm(surface, levels, rule),
        own_best_cm(surface, steps_cm, rule),
        by_part_knowing_cm(need, part, steps_cm, rule),
        by_part_advised_cm(needs, part, steps_cm, rule),
        every,
        advised,
        own_best_cm(informed_surface(sim, xy_m), steps_cm, rule),
    )
    return Losses(*(float(rule.loss_cm(way, need).mean()) for way in ways))
