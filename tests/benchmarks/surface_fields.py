"""Fields of 10 ha with a known pan base for `surface_accuracy`.

The headland lies 8 cm deeper than the body, wheelings (2 m wide, every 24 m) 5 cm deeper. The
spatial residual has an exponential covariance with a nugget of a fifth of the sill; each reading
has an error of 1 cm on top. The last cases take truths that are not of that family.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from fields import gaussian_field, spread_out

CELL_M = 2.0
SHAPE = (158, 158)  # 10 ha
SIDE_M = SHAPE[0] * CELL_M
SILL_CM2 = 16.0
NUGGET_SHARE = 0.2
ERROR_CM = 1.0
LEVEL_CM = 32.0


@dataclass(frozen=True)
class Case:
    """One line of the table; `times` as many fields are drawn for it as for the others."""

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
    times: int = 1


ASKED = (
    # Where a line stands near what is asked, its error must be small: more fields are drawn for it.
    Case("range 60, 60 stations", times=15),
    Case("range 180, 60 stations", 180.0, times=4),
    Case("range 60, 200 stations", stations=200),
    Case("range 180, 200 stations", 180.0, 200),
)
STONES = Case("5 % stones", 120.0, 100, stones=0.05)
NO_PARTS = Case("parts differ in nothing", 120.0, 60, 0.0, 0.0, times=4)
CASES = (
    *ASKED,
    STONES,
    NO_PARTS,
    Case("truth Matern 3/2", 120.0, 60, family="matern"),
    Case("truth with a trend of 10 cm", 90.0, 60, trend_cm=10.0),
    Case("truth in patches", 60.0, 60, patches_cm=6.0),
    Case("wrong part lines, 1.5 m off", 120.0, 60, position_m=1.5),
)


@dataclass(frozen=True)
class Drawn:
    """Truth at every cell; readings at stations.

    `structured` is the truth without its small-scale variation, which nobody can know of a place
    that was not read. `sound` tells the readings that met no stone.
    """

    case: Case
    xy: np.ndarray
    part: np.ndarray
    truth: np.ndarray
    structured: np.ndarray
    rows: np.ndarray
    value: np.ndarray
    part_read: np.ndarray
    sound: np.ndarray


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
    small = np.sqrt(NUGGET_SHARE * SILL_CM2) * rng.standard_normal(len(xy))
    truth = LEVEL_CM + np.sqrt((1 - NUGGET_SHARE) * SILL_CM2) * residual + small
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
    return Drawn(case, xy, part, truth, truth - small, rows, value, part_read, ~stone)
