"""Invented fields with a known pan: truth at every cell, readings at stations."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import ndtr, ndtri

Array = np.ndarray


@dataclass(frozen=True)
class Field:
    """One invented field: `xy_m` of its cells, their part, true pan and true base [cm]."""

    xy_m: Array
    part: Array
    pan: Array
    base_cm: Array
    stations: pd.DataFrame


def gaussian_field(rng, shape, cell_m, practical_m, kind="exponential"):
    """Return a stationary unit-variance Gaussian field on a grid by circulant embedding."""
    rows, cols = (int(2 * n + 6 * practical_m / cell_m) for n in shape)
    y = np.minimum(np.arange(rows), rows - np.arange(rows)) * cell_m
    x = np.minimum(np.arange(cols), cols - np.arange(cols)) * cell_m
    h = np.hypot(y[:, None], x[None, :])
    if kind == "exponential":
        rho = np.exp(-3 * h / practical_m)
    else:
        u = h * 4.74 / practical_m
        rho = (1 + u) * np.exp(-u)
    spectrum = np.maximum(np.fft.fft2(rho).real, 0)
    noise = rng.standard_normal((rows, cols)) + 1j * rng.standard_normal((rows, cols))
    field = np.fft.fft2(np.sqrt(spectrum / (rows * cols)) * noise).real
    return field[: shape[0], : shape[1]]


def parts_of(xy, side_x, side_y, headland_m=20.0, spacing_m=24.0, width_m=3.0):
    """Return the part of each place of a rectangular field."""
    edge = np.minimum(
        np.minimum(xy[:, 0], side_x - xy[:, 0]), np.minimum(xy[:, 1], side_y - xy[:, 1])
    )
    part = np.full(len(xy), "body", dtype=object)
    off = np.abs((xy[:, 0] + spacing_m / 2) % spacing_m - spacing_m / 2)
    part[off < width_m / 2] = "wheeling"
    part[edge < headland_m] = "headland"
    part[np.hypot(xy[:, 0] - side_x * 0.3, xy[:, 1]) < 25] = "gateway"
    return part


def make_field(seed: int, cell_m: float = 3.0, none_share: float | None = None) -> Field:
    """Return one field of 4-20 ha with 30-80 stations."""
    rng = np.random.default_rng(seed)
    area = rng.uniform(4, 20) * 1e4
    aspect = rng.uniform(1, 2)
    side_x, side_y = np.sqrt(area * aspect), np.sqrt(area / aspect)
    shape = (int(side_y / cell_m), int(side_x / cell_m))
    gx, gy = np.meshgrid((np.arange(shape[1]) + 0.5) * cell_m, (np.arange(shape[0]) + 0.5) * cell_m)
    xy = np.column_stack([gx.ravel(), gy.ravel()])
    part = parts_of(xy, side_x, side_y)
    shift = {
        "body": 0,
        "headland": rng.uniform(3, 10),
        "wheeling": rng.uniform(2, 7),
        "gateway": rng.uniform(4, 12),
    }
    sill = rng.uniform(8, 25)
    nugget = rng.uniform(0.05, 0.35)
    smooth = gaussian_field(rng, shape, cell_m, rng.uniform(60, 180)).ravel()
    small = rng.standard_normal(len(xy))
    base = rng.uniform(26, 36) + np.array([shift[p] for p in part])
    base = base + np.sqrt(sill) * (np.sqrt(1 - nugget) * smooth + np.sqrt(nugget) * small)
    share = rng.uniform(0.05, 0.3) if none_share is None else none_share
    latent = gaussian_field(rng, shape, cell_m, rng.uniform(80, 200), "matern").ravel()
    latent = latent + 0.5 * np.array([p != "body" for p in part])
    pan = latent > np.quantile(latent, share)
    stations = read_stations(rng, xy, part, pan, base, int(rng.integers(30, 81)))
    return Field(xy, part, pan, base, stations)


def read_stations(rng, xy, part, pan, base, count) -> pd.DataFrame:
    """Return a station table as an adviser would bring it home: nearly even, parts told apart."""
    chosen = spread_out(rng, xy, count)
    for name in ("wheeling", "headland", "gateway"):
        where = np.flatnonzero(part == name)
        have = int((part[chosen] == name).sum())
        want = min(len(where), max(0, max(2, int(0.15 * count)) - have))
        chosen = np.concatenate([chosen, rng.choice(where, want, replace=False)])
    rows = []
    for k, i in enumerate(chosen):
        n = int(rng.integers(1, 5))
        seen = rng.random(n) < (0.95 if pan[i] else 0.05)
        error = 2.0 / np.sqrt(max(1, seen.sum()))
        value = base[i] + error * rng.standard_normal()
        if rng.random() < 0.03:
            value -= rng.uniform(6, 12)
        censored = bool(seen.any() and value > 42 and rng.random() < 0.7)
        rows.append(
            {
                "station": f"S{k:03d}",
                "kind": "cone",
                "x_m": xy[i, 0],
                "y_m": xy[i, 1],
                "n_pan": int(seen.sum()),
                "n_known": n,
                "pan_base_cm": min(value, 42.0) if censored else value if seen.any() else np.nan,
                "error_sd_cm": error if seen.any() else np.nan,
                "censored": censored,
                "date": "",
                "part_used": part[i],
                "used": True,
            }
        )
    return pd.DataFrame(rows)


def spread_out(rng, xy, count):
    """Return rows of `xy` that are fairly evenly spread: the best of a few random ones."""
    chosen = [int(rng.integers(len(xy)))]
    while len(chosen) < count:
        tries = rng.integers(len(xy), size=6)
        gap = np.min(np.linalg.norm(xy[tries][:, None] - xy[chosen][None], axis=2), axis=1)
        chosen.append(int(tries[np.argmax(gap)]))
    return np.array(chosen)


STEPS_CM = np.concatenate([[0.0], np.arange(15, 45.1, 2.5)])


def pinball(depth, need, assurance=0.8):
    """Return the pinball loss of `depth` against `need`."""
    return np.where(need > depth, assurance * (need - depth), (1 - assurance) * (depth - need))


def expected_loss(depth, mean, sd, probability, assurance=0.8, clearance=3.0):
    """Return the expected pinball loss of `depth` where a pan of normal base may lie."""
    z = (depth - mean - clearance) / sd
    short = sd * (np.exp(-0.5 * z * z) / np.sqrt(2 * np.pi) - z * (1 - ndtr(z)))
    deep = short + sd * z
    with_pan = assurance * short + (1 - assurance) * deep
    return probability * with_pan + (1 - probability) * (1 - assurance) * depth


def decided(mean, sd, probability):
    """Return the best depth of the machine's steps at each place."""
    losses = np.stack([expected_loss(d, mean, sd, probability) for d in STEPS_CM])
    return STEPS_CM[np.argmin(losses, axis=0)]


def best_constant(need):
    """Return the loss of the single depth that is best for the truth."""
    return min(pinball(d, need).mean() for d in STEPS_CM)


COVER_Z = float(ndtri(0.95))
