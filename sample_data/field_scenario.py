"""What a simulated field may look like: every quantity with the range it is drawn from.

The ranges are this generator's own choice, set once from what advisers commonly meet on arable land
and from published spreads of cone index, and not tuned to any method of planning:

- practical range and spread of the pan base: cone index is spatially dependent in most surveys,
  with ranges from tens of metres to beyond 107 m and a nugget anywhere from 0 to 90 % of the sill
  (Bragantia, scielo.br/j/brag/a/x9zB3r4DTGsqqxVmmD6rj9R; a Turkish survey of 1.5 ha fields);
- depth of the pan 25-40 cm and thickness 5-20 cm (Open Journal of Soil Science 8, 2018, 147-161);
- everything else is common practice or a plain guess, marked ``guess`` beside it.

`draw` takes all of that; `draw_marked` narrows it to ground whose parts differ clearly.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

BOOM_WIDTHS_M = (24.0, 27.0, 28.0, 30.0, 32.0, 36.0)
HEADLAND_WIDTHS_M = (12.0, 15.0, 18.0, 24.0, 28.0, 30.0, 36.0)


@dataclass(frozen=True, slots=True)
class Scenario:
    """Parameters of one field; each comment gives the range `draw` takes it from."""

    area_ha: float  # 4 .. 20
    aspect: float  # length over width, 1 .. 2.2
    corners: int  # 5 .. 9
    notch: bool  # a corner bitten out, one field in three
    pond: bool  # a hole, one field in five
    heading_deg: float  # of the longer axis, 0 .. 180
    headland_width_m: float  # HEADLAND_WIDTHS_M
    wheeling_spacing_m: float  # BOOM_WIDTHS_M
    wheeling_width_m: float  # 2 .. 3
    wheeling_map_error_m: float  # map against ground, sd 0.3 (guess)
    gateways: int  # 1 or 2
    gateway_radius_m: float  # 12 .. 25
    body_base_cm: float  # 28 .. 36
    headland_cm: float  # deeper than the body by 4 .. 9
    wheeling_cm: float  # deeper than the body by 3 .. 7
    gateway_cm: float  # deeper than the body by 6 .. 12
    named_cm: float  # deeper than the body by 3 .. 8 (guess)
    range_m: float  # distance at which correlation falls to 5 %, 60 .. 180
    sd_cm: float  # of the spatial part, 2 .. 5
    smoothness: float  # Matern, 0.5 (exponential), 1.5 or 2.5
    small_range_m: float  # of the small-scale part, 2 .. 6 (guess)
    small_sd_cm: float  # 0.5 .. 1.5
    no_pan_share: float  # of the area, 0.05 .. 0.30
    no_pan_range_m: float  # range of the field whose highest ground has none, 80 .. 250 (guess)
    thickness_cm: float  # mean of the field, 8 .. 14
    thickness_sd_cm: float  # 1 .. 2.5
    stations: int  # 3 .. 6 a hectare, between 30 and 80
    pits: int  # 4 .. 10
    insertions: int  # usual count at a station, 1 .. 4
    step_cm: float  # between readings: 2.5 mostly, 1 or 5
    cone_depth_cm: float  # longest push: 45, 50, 60 or 80
    noise_cv: float  # of a reading, 0.04 .. 0.10 (guess)
    within_sd_cm: float  # between insertions beyond what distance explains, 0.6 .. 1.6 (guess)
    position_sd_m: float  # of a recorded place, each axis, 0.5 .. 1.5
    part_recorded: float  # share of stations with their part noted, 0.6 .. 1
    stone_share: float  # insertions that hit a stone, 0.03 .. 0.15 (guess)
    refusal_share: float  # insertions that stop, 0.01 .. 0.06 (guess)
    stiff_share: float  # stations with a second hard layer well below the pan, 0.02 .. 0.10 (guess)
    hard_share: float  # stations hard to the end of the push, 0 .. 0.03 (guess)
    day_cv: float  # cone index between two days of readings; 0 in three fields of four, else 0.06
    limit_mpa: float = 2.0


def draw(rng: np.random.Generator) -> Scenario:
    """Return one scenario with every parameter drawn from its range."""
    area_ha = rng.uniform(4, 20)
    return Scenario(
        **_draw_shape(rng, area_ha),
        **_draw_pan(rng),
        **_draw_readings(rng, area_ha),
    )


def draw_marked(rng: np.random.Generator) -> Scenario:
    """Return a scenario of marked ground: parts differ, patches without a pan are wide.

    Everything is drawn as `draw` does, except what a plan by parts lives from. The headland is
    about 8 cm deeper and the wheelings about 5 cm, the middle of the ranges of `draw` moved up to
    the figures that the project's own trials of prediction use; patches without a pan are wide
    enough for a survey at 40 m spacing to find; 30 to 80 stations whatever the area. Plans gain
    more here than on the fields of `draw`: say which of the two a figure is for.
    """
    return override(
        draw(rng),
        headland_cm=rng.uniform(6, 10),
        wheeling_cm=rng.uniform(4, 6),
        gateway_cm=rng.uniform(8, 12),
        no_pan_share=rng.uniform(0.10, 0.30),
        no_pan_range_m=rng.uniform(120, 300),
        stations=int(rng.integers(30, 81)),
    )


def override(scenario: Scenario, **given: float | None) -> Scenario:
    """Return `scenario` with parameters replaced; ``None`` leaves one as it is."""
    whole = {f.name for f in fields(Scenario) if f.type == "int"}
    chosen: dict[str, Any] = {
        k: int(v) if k in whole else v for k, v in given.items() if v is not None
    }
    return replace(scenario, **chosen)


def _draw_shape(rng: np.random.Generator, area_ha: float) -> dict[str, Any]:
    return {
        "area_ha": area_ha,
        "aspect": rng.uniform(1, 2.2),
        "corners": int(rng.integers(5, 10)),
        "notch": bool(rng.random() < 1 / 3),
        "pond": bool(rng.random() < 1 / 5),
        "heading_deg": rng.uniform(0, 180),
        "headland_width_m": float(rng.choice(HEADLAND_WIDTHS_M)),
        "wheeling_spacing_m": float(rng.choice(BOOM_WIDTHS_M)),
        "wheeling_width_m": rng.uniform(2, 3),
        "wheeling_map_error_m": rng.normal(0, 0.3),
        "gateways": int(rng.integers(1, 3)),
        "gateway_radius_m": rng.uniform(12, 25),
    }


def _draw_pan(rng: np.random.Generator) -> dict[str, Any]:
    return {
        "body_base_cm": rng.uniform(28, 36),
        "headland_cm": rng.uniform(4, 9),
        "wheeling_cm": rng.uniform(3, 7),
        "gateway_cm": rng.uniform(6, 12),
        "named_cm": rng.uniform(3, 8),
        "range_m": rng.uniform(60, 180),
        "sd_cm": rng.uniform(2, 5),
        "smoothness": float(rng.choice([0.5, 1.5, 2.5])),
        "small_range_m": rng.uniform(2, 6),
        "small_sd_cm": rng.uniform(0.5, 1.5),
        "no_pan_share": rng.uniform(0.05, 0.30),
        "no_pan_range_m": rng.uniform(80, 250),
        "thickness_cm": rng.uniform(8, 14),
        "thickness_sd_cm": rng.uniform(1, 2.5),
    }


def _draw_readings(rng: np.random.Generator, area_ha: float) -> dict[str, Any]:
    return {
        "stations": int(np.clip(round(area_ha * rng.uniform(3, 6)), 30, 80)),
        "pits": int(rng.integers(4, 11)),
        "insertions": int(rng.choice([1, 2, 3, 4], p=[0.15, 0.25, 0.3, 0.3])),
        "step_cm": float(rng.choice([1.0, 2.5, 5.0], p=[0.2, 0.65, 0.15])),
        "cone_depth_cm": float(rng.choice([45.0, 50.0, 60.0, 80.0], p=[0.15, 0.25, 0.4, 0.2])),
        "noise_cv": rng.uniform(0.04, 0.10),
        "within_sd_cm": rng.uniform(0.6, 1.6),
        "position_sd_m": rng.uniform(0.5, 1.5),
        "part_recorded": rng.uniform(0.6, 1.0),
        "stone_share": rng.uniform(0.03, 0.15),
        "refusal_share": rng.uniform(0.01, 0.06),
        "stiff_share": rng.uniform(0.02, 0.10),
        "hard_share": rng.uniform(0, 0.03),
        "day_cv": 0.06 * (rng.random() < 1 / 4),
    }
