"""Small hand-made passes, surfaces and settings for the tests of the depth choice."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely import LineString, box

from zoning.depths.lay import Laid
from zoning.depths.places import Places
from zoning.model import PanSurface, Settings
from zoning.model.settings import DepthSection, FieldSection, MachineSection

WIDTH_M, STEP_M = 3.0, 5.0


def straight(passes: int, steps: int, *, gap_after: int | None = None) -> Laid:
    """Return passes side by side that run north from the origin, each of `steps` boxes of 3 by 5 m.

    After step `gap_after` every pass is broken for 20 m.
    """
    rows, shapes, lines = [], [], []
    for number in range(passes):
        west = number * WIDTH_M
        for step in range(steps):
            jump = 20.0 if gap_after is not None and step > gap_after else 0.0
            south = step * STEP_M + jump
            rows.append((len(rows), number + 1, "body", step, south, south + STEP_M))
            shapes.append(box(west, south, west + WIDTH_M, south + STEP_M))
        middle = west + WIDTH_M / 2
        lines.append(LineString([(middle, 0.0), (middle, rows[-1][5])]))
    return framed(rows, shapes, lines)


def loop(side_m: float = 60.0) -> Laid:
    """Return one round about a square whose middle line has sides of `side_m`, in steps of 5 m."""
    ring = LineString([(0, 0), (side_m, 0), (side_m, side_m), (0, side_m), (0, 0)])
    steps = int(4 * side_m / STEP_M)
    places = [ring.interpolate((step + 0.5) * STEP_M) for step in range(steps)]
    shapes = [box(p.x - 1.5, p.y - 1.5, p.x + 1.5, p.y + 1.5) for p in places]
    rows = [(i, 1, "headland", i, i * STEP_M, (i + 1) * STEP_M) for i in range(steps)]
    return framed(rows, shapes, [ring])


def framed(rows: list[tuple[object, ...]], shapes: list[object], lines: list[LineString]) -> Laid:
    names = ["piece", "pass_id", "kind", "step", "from_m", "to_m"]
    columns = {name: [row[i] for row in rows] for i, name in enumerate(names)}
    pieces = gpd.GeoDataFrame(columns, geometry=shapes)
    kinds = [rows[0][2]] * len(lines)
    numbers = list(range(1, len(lines) + 1))
    return Laid(gpd.GeoDataFrame({"pass_id": numbers, "kind": kinds}, geometry=lines), pieces, ())


def placed(piece: NDArray[np.int64], area_m2: NDArray[np.float64] | float) -> Places:
    """Return places of one part, whose coordinates do not matter."""
    area = np.broadcast_to(np.asarray(area_m2, dtype=np.float64), piece.shape)
    return Places(piece, np.full(len(piece), "body"), np.zeros((len(piece), 2)), area)


def surface(
    mean_cm: NDArray[np.float64] | list[float],
    sd_cm: NDArray[np.float64] | float = 2.0,
    probability: NDArray[np.float64] | float = 1.0,
) -> PanSurface:
    mean = np.asarray(mean_cm, dtype=np.float64)
    spread = np.broadcast_to(np.asarray(sd_cm, dtype=np.float64), mean.shape)
    pan = np.broadcast_to(np.asarray(probability, dtype=np.float64), mean.shape)
    return PanSurface(mean, spread, pan, np.zeros(len(mean), dtype=np.int64), {})


def rules(machine: dict[str, object] | None = None, **depth: object) -> Settings:
    """Return settings of a machine of 3.01 m with a shortest run of 25 m unless said otherwise."""
    return Settings(
        field=FieldSection(name="made by hand", boundary="none"),
        machine=MachineSection(**(machine or {})),
        depth=DepthSection(**depth),
    )


def pinball(depth_cm: ArrayLike, need_cm: ArrayLike, *, assurance: float) -> NDArray[np.float64]:
    """Return the pinball loss of `depth_cm` where the need is known to be `need_cm` [cm]."""
    short = np.asarray(need_cm, dtype=np.float64) - np.asarray(depth_cm, dtype=np.float64)
    return np.where(short > 0, assurance * short, (assurance - 1.0) * short)
