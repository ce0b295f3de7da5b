"""The truth of a simulated field: what lies at any place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from field_scenario import Scenario
from field_shapes import Shapes
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import gamma, kv

Places = NDArray[np.float64]
Numbers = NDArray[np.float64]

WAVES = 500
SHALLOWEST_BASE_CM = 16.0
DEEPEST_BASE_CM = 52.0
SHALLOWEST_TOP_CM = 8.0
THINNEST_CM = 4.0
NAMED = "old clamp pad"
# Traffic keeps a pan where the rest of the ground has none: the field that says where the pan is
# absent must be this much higher [standard deviations] before it is absent there too (guess).
HOLD = {"body": 0.0, "wheeling": 0.5, "headland": 0.5, "gateway": np.inf, NAMED: np.inf}


def matern(h: float, smoothness: float) -> float:
    """Return the Matern correlation at `h` length scales: 2^(1-v)/Gamma(v) h^v K_v(h)."""
    if h <= 0:
        return 1.0
    return float(2 ** (1 - smoothness) / gamma(smoothness) * h**smoothness * kv(smoothness, h))


def length_scale_m(practical_range_m: float, smoothness: float) -> float:
    """Return the length scale whose correlation falls to 5 % at `practical_range_m`."""
    return practical_range_m / brentq(lambda h: matern(h, smoothness) - 0.05, 0.1, 20)


@dataclass(frozen=True, slots=True, eq=False)
class SmoothField:
    """A Gaussian random field that can be read at any place: a sum of plane waves.

    The wave numbers follow the spectral density of the Matern correlation, which in two dimensions
    is a bivariate t distribution with ``2 * smoothness`` degrees of freedom (Rahimi & Recht 2007,
    Rasmussen & Williams 2006 section 4.2.1, from memory).
    """

    waves: Places
    phases: Numbers
    sd: float

    @classmethod
    def draw(
        cls, rng: np.random.Generator, practical_range_m: float, smoothness: float, sd: float
    ) -> SmoothField:
        """Draw one realisation."""
        scale = length_scale_m(practical_range_m, smoothness)
        spread = np.sqrt(rng.chisquare(2 * smoothness, (WAVES, 1)))
        waves = rng.standard_normal((WAVES, 2)) / (scale * spread)
        return cls(waves, rng.uniform(0, 2 * np.pi, WAVES), sd)

    def at(self, xy_m: Places) -> Numbers:
        """Return the field at places of shape ``(n, 2)``."""
        blocks = np.array_split(np.asarray(xy_m, dtype=float), max(1, len(xy_m) // 4000))
        parts = [np.cos(block @ self.waves.T + self.phases).sum(axis=1) for block in blocks]
        summed: Numbers = np.concatenate(parts)
        return np.asarray(summed * (self.sd * np.sqrt(2 / WAVES)))


@dataclass(frozen=True, slots=True, eq=False)
class Truth:
    """What lies at any place of one field; places are relative to nothing but the working CRS."""

    scenario: Scenario
    shapes: Shapes
    origin_m: tuple[float, float]
    drift: SmoothField
    small: SmoothField
    thick: SmoothField
    absent: SmoothField
    threshold: float

    def part(self, xy_m: Places) -> NDArray[np.str_]:
        """Return the part of the field: the named area, then gateway, headland, wheeling, body."""
        result = np.full(len(xy_m), "body", dtype="<U20")
        layers = (
            ("wheeling", self.shapes.wheelings),
            ("headland", self.shapes.headland),
            ("gateway", self.shapes.gateway_area),
            (NAMED, self.shapes.named),
        )
        for name, geometry in layers:
            shapely.prepare(geometry)
            result[shapely.intersects_xy(geometry, xy_m[:, 0], xy_m[:, 1])] = name
        return result

    def effects_cm(self) -> dict[str, float]:
        """Return how much deeper than the body each part lies [cm]."""
        s = self.scenario
        return {
            "body": 0.0,
            "headland": s.headland_cm,
            "wheeling": s.wheeling_cm,
            "gateway": s.gateway_cm,
            NAMED: s.named_cm,
        }

    def base_cm(self, xy_m: Places) -> Numbers:
        """Return the base of the pan, and what it would be where there is none [cm]."""
        s, effect = self.scenario, self.effects_cm()
        local = xy_m - np.array(self.origin_m)
        by_part = np.array([effect[p] for p in self.part(xy_m)])
        base = s.body_base_cm + by_part + self.drift.at(local) + self.small.at(local)
        return np.clip(base, SHALLOWEST_BASE_CM, DEEPEST_BASE_CM)

    def top_cm(self, xy_m: Places) -> Numbers:
        """Return the top of the pan [cm]."""
        local = xy_m - np.array(self.origin_m)
        thickness = np.maximum(self.scenario.thickness_cm + self.thick.at(local), THINNEST_CM)
        return np.maximum(self.base_cm(xy_m) - thickness, SHALLOWEST_TOP_CM)

    def pan(self, xy_m: Places) -> NDArray[np.bool_]:
        """Return whether there is a pan."""
        return absence(self, xy_m) <= self.threshold


def absence(truth: Truth, xy_m: Places) -> Numbers:
    """Return how far each place leans to having no pan; traffic holds it back."""
    hold = np.array([HOLD[p] for p in truth.part(xy_m)])
    return np.asarray(truth.absent.at(xy_m - np.array(truth.origin_m)) - hold)


def grid_m(shapes: Shapes, step_m: float) -> Places:
    """Return the places of a square grid inside the field, row by row from the north-west."""
    west, south, east, north = shapes.boundary.bounds
    x = np.arange(np.ceil(west / step_m), east / step_m) * step_m
    y = np.arange(np.ceil(south / step_m), north / step_m)[::-1] * step_m
    xy = np.column_stack([np.tile(x, y.size), np.repeat(y, x.size)])
    shapely.prepare(shapes.boundary)
    inside: Places = xy[shapely.contains_xy(shapes.boundary, xy[:, 0], xy[:, 1])]
    return inside


def draw_truth(scenario: Scenario, shapes: Shapes, rng: np.random.Generator) -> Truth:
    """Draw the random fields and set the threshold that leaves the wanted share without a pan."""
    s = scenario
    middle = shapes.boundary.centroid
    truth = Truth(
        scenario=s,
        shapes=shapes,
        origin_m=(middle.x, middle.y),
        drift=SmoothField.draw(rng, s.range_m, s.smoothness, s.sd_cm),
        small=SmoothField.draw(rng, s.small_range_m, 0.5, s.small_sd_cm),
        thick=SmoothField.draw(rng, 100.0, 1.5, s.thickness_sd_cm),
        absent=SmoothField.draw(rng, s.no_pan_range_m, 2.5, 1.0),
        threshold=np.inf,
    )
    lean = absence(truth, grid_m(shapes, 5.0))
    threshold = float(np.quantile(lean, 1 - s.no_pan_share))
    return Truth(
        scenario,
        shapes,
        truth.origin_m,
        truth.drift,
        truth.small,
        truth.thick,
        truth.absent,
        threshold,
    )
