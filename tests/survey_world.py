"""A drawn field of four parts, and a small Gaussian world for the value of stations."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from scipy.special import ndtr
from shapely import LineString, Point, box

from zoning.survey import Candidates, Link, Outlook, Quadrature

CRS = "EPSG:32631"
FINE = Quadrature(shares=9, share_most=0.98, chances=33, points=15, scenarios=16)
DEPTHS_CM = np.array([0.0, 25.0, 30.0, 35.0, 40.0])
CLEARANCE_CM, ASSURANCE = 3.0, 0.8


def drawn_parts() -> gpd.GeoDataFrame:
    """Return the parts of a field of 300 m by 200 m: gateway, two wheelings, headland, body."""
    field = box(0, 0, 300, 200)
    gateway = shapely.intersection(field, Point(0, 100).buffer(18))
    lines = [LineString([(30, y), (270, y)]).buffer(1.3, cap_style="flat") for y in (60, 120)]
    wheeling = shapely.difference(shapely.union_all(lines), gateway)
    headland = field - box(24, 24, 276, 176) - gateway
    body = field - headland - gateway - wheeling
    rows = {"body": body, "headland": headland, "wheeling": wheeling, "gateway": gateway}
    return gpd.GeoDataFrame(
        {
            "part": list(rows),
            "kind": list(rows),
            "area_ha": [shape.area / 1e4 for shape in rows.values()],
        },
        geometry=list(rows.values()),
        crs=CRS,
    )


def pinball_loss(mean: np.ndarray, sd: np.ndarray, p: np.ndarray) -> np.ndarray:
    """Return the expected pinball loss of each depth, base normal: any textbook of inventory."""
    sd = np.maximum(sd, 1e-9)[:, None]
    z = (DEPTHS_CM[None] - CLEARANCE_CM - mean[:, None]) / sd
    density = np.exp(-0.5 * z * z) / np.sqrt(2 * np.pi)
    over = sd * (z * ndtr(z) + density)
    under = over - sd * z
    there = ASSURANCE * under + (1 - ASSURANCE) * over
    without = (1 - ASSURANCE) * DEPTHS_CM[None]
    return p[:, None] * there + (1 - p[:, None]) * without


@dataclass(frozen=True)
class World:
    """A field known by two Gaussian quantities at places and candidates, nothing read yet."""

    outlook: Outlook
    candidates: Candidates
    base_cov: np.ndarray  # places first, then candidates
    presence_cov: np.ndarray
    probit: np.ndarray
    mean_cm: np.ndarray
    error_sd_cm: float


def make_world(seed: int, places: int = 60, candidates: int = 20) -> World:
    rng = np.random.default_rng(seed)
    xy = rng.uniform((0, 0), (200, 150), (places + candidates, 2))
    gap = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1))
    spread_cm = rng.uniform(2, 4) * (0.4 + 1.2 * xy[:, 0] / 200)
    base_cov = np.outer(spread_cm, spread_cm) * np.exp(-3 * gap / 100)
    knowable = 0.95
    presence_cov = knowable * np.exp(-3 * gap / 120)
    presence_cov[np.diag_indices_from(presence_cov)] = 1.0
    mean = 28 + 6 * np.sin(xy[:, 0] / 40) + xy[:, 1] / 30
    probit = 1.0 + 0.9 * np.cos(xy[:, 1] / 35)
    n = np.arange(places)
    c = places + np.arange(candidates)
    pan = ndtr(probit)
    outlook = Outlook(
        mean[n],
        np.sqrt(np.diag(base_cov)[n]),
        pan[n],
        np.full(places, 0.05),
        DEPTHS_CM,
        np.ones((places, len(DEPTHS_CM)), dtype=bool),
        pinball_loss,
    )
    error = 1.0
    base = Link(
        base_cov[np.ix_(c, n)],
        np.diag(base_cov)[c],
        np.diag(base_cov)[n],
        lambda row: base_cov[np.ix_(c, [c[row]])][:, 0],
    )
    presence = Link(
        presence_cov[np.ix_(c, n)],
        np.ones(candidates),
        np.full(places, knowable),
        lambda row: presence_cov[np.ix_(c, [c[row]])][:, 0],
    )
    stations = Candidates(xy[places:], pan[c], base, presence, error**2)
    return World(outlook, stations, base_cov, presence_cov, probit, mean, error)
