"""An adviser's day in a simulated field: where cone and spade go, and what is noted."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import shapely
from field_profiles import Ground, draw_ground, draw_log
from field_scenario import Scenario
from field_truth import NAMED, Places, Truth
from numpy.typing import NDArray

TRIES = 12
POOL = 6000
DATES = ("2026-08-19", "2026-08-26")
PIT_SD_CM = 1.0
APART_M = 0.6


def choose_places(truth: Truth, rng: np.random.Generator, counts: dict[str, int]) -> Places:
    """Return true places, `counts` in each part, spread out, in the order of a walk.

    Each place is the one of a dozen random places of its part that lies farthest from those chosen
    already (Mitchell's best candidate). What a part has no ground for goes anywhere in the field.
    """
    chosen: list[NDArray[np.float64]] = []
    for part, count in [*counts.items(), ("", sum(counts.values()))]:
        wanted = count if part else count - len(chosen)
        pool = _pool(truth, rng, part) if wanted else np.empty((0, 2))
        for _ in range(min(wanted, len(pool))):
            tries = pool[rng.choice(len(pool), min(TRIES, len(pool)), replace=False)]
            gaps = [min((np.hypot(*(t - c)) for c in chosen), default=0.0) for t in tries]
            chosen.append(tries[int(np.argmax(gaps))])
    return _walk(np.array(chosen), truth)


def _pool(truth: Truth, rng: np.random.Generator, part: str) -> Places:
    """Return random places of a part (of any, if ``""``), 1.5 m inside the field if it is wide.

    None if the part is empty.
    """
    field = truth.shapes.boundary
    narrower = field.buffer(-1.5)
    inner = narrower if narrower.area > field.area / 3 else field
    area = {
        "wheeling": truth.shapes.wheelings,
        "gateway": truth.shapes.gateway_area,
        NAMED: truth.shapes.named,
    }.get(part, inner)
    if area.is_empty:
        return np.empty((0, 2))
    west, south, east, north = area.bounds
    xy = rng.uniform((west, south), (east, north), (POOL, 2))
    inside = shapely.contains_xy(inner, xy[:, 0], xy[:, 1])
    pool: Places = xy[inside & ((part == "") | (truth.part(xy) == part))]
    return pool


def _walk(places: Places, truth: Truth) -> Places:
    """Order places by always going to the nearest one left, from the first gateway."""
    here = np.array(truth.shapes.gateways[0].coords[0])
    left, path = list(range(len(places))), []
    while left:
        nearest = min(left, key=lambda i: float(np.hypot(*(places[i] - here))))
        left.remove(nearest)
        path.append(nearest)
        here = places[nearest]
    return places[path]


def station_counts(scenario: Scenario, *, named: bool) -> dict[str, int]:
    """Return stations by part: a fifth on headland, an eighth on wheelings, some in gateways."""
    n = scenario.stations
    counts = {
        "gateway": 2 * scenario.gateways,
        NAMED: 3 if named else 0,
        "headland": max(4, round(0.2 * n)),
        "wheeling": max(3, round(0.125 * n)),
    }
    return counts | {"body": n - sum(counts.values())}


def pit_counts(scenario: Scenario) -> dict[str, int]:
    """Return pits by part: mostly body."""
    n = scenario.pits
    counts = {"gateway": int(n >= 6), "headland": 1 + n // 7, "wheeling": 1}
    return counts | {"body": n - sum(counts.values())}


def probe(
    truth: Truth, places: Places, rng: np.random.Generator
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Push the cone in at each place; return the log and what was truly there.

    Returns
    -------
    cone
        One row a reading: the columns of the contract's long cone log, places as recorded.
    insertions
        One row an insertion: its true place, part, pan, top and base, and the accidents.
    """
    s = truth.scenario
    parts = truth.part(places)
    recorded = places + rng.normal(0, s.position_sd_m, places.shape)
    day = np.sort(rng.integers(0, 2, len(places))) if s.day_cv > 0 else np.zeros(len(places), int)
    factors = np.exp(s.day_cv * np.array([0.0, rng.standard_normal()]))
    logs, truths = [], []
    for i, place in enumerate(places):
        head: dict[str, str | float] = {
            "station": f"S{i + 1:02d}",
            "x_m": recorded[i, 0],
            "y_m": recorded[i, 1],
            "date": DATES[day[i]],
            "moisture": "friable",
            "part": str(parts[i]) if rng.random() < s.part_recorded else "",
        }
        log, was = _station(truth, rng, place, head, float(factors[day[i]]))
        logs.extend(log)
        truths.extend(was)
    return pd.concat(logs, ignore_index=True), pd.DataFrame(truths)


def _station(
    truth: Truth,
    rng: np.random.Generator,
    place: NDArray[np.float64],
    head: dict[str, str | float],
    factor: float,
) -> tuple[list[pd.DataFrame], list[dict[str, object]]]:
    s = truth.scenario
    usual = rng.random() < 0.8
    count = s.insertions if usual else int(rng.integers(1, 5))
    soil = draw_ground(s, rng, stiff=rng.random() < s.stiff_share, hard=rng.random() < s.hard_share)
    spots = place + rng.uniform(-APART_M, APART_M, (count, 2))
    logs, truths = [], []
    for k, ground in enumerate(_grounds(truth, rng, spots, soil)):
        log = draw_log(s, rng, ground, factor)
        refused = "yes" if log.refused_at_cm > 0 and rng.random() < 0.5 else ""
        rows = pd.DataFrame({"depth_cm": log.depth_cm, "cone_index_mpa": log.cone_index_mpa})
        same = {
            **head,
            "insertion": k + 1,
            "refused": refused,
            "note": "stopped" if refused else "",
        }
        for column, value in same.items():
            rows[column] = value
        logs.append(rows)
        truths.append(
            {
                "station": head["station"],
                "insertion": k + 1,
                "x_m": spots[k, 0],
                "y_m": spots[k, 1],
                "pan": not np.isnan(ground.base_cm),
                "ground": ground,
                "stone_at_cm": log.stone_at_cm,
                "refused_at_cm": log.refused_at_cm,
            }
        )
    return logs, truths


def _grounds(truth: Truth, rng: np.random.Generator, spots: Places, soil: Ground) -> list[Ground]:
    """Return the ground at each spot: the true pan, moved by what distance does not explain."""
    s = truth.scenario
    pan = truth.pan(spots)
    base = truth.base_cm(spots) + rng.normal(0, s.within_sd_cm, len(spots))
    top = np.minimum(truth.top_cm(spots) + rng.normal(0, s.within_sd_cm, len(spots)), base - 3.0)
    jitter = np.exp(rng.normal(0, 0.08, (len(spots), 2)))
    return [
        replace(
            soil,
            top_cm=float(max(top[k], 8.0)) if pan[k] else np.nan,
            base_cm=float(base[k]) if pan[k] else np.nan,
            topsoil_mpa=min(soil.topsoil_mpa * jitter[k, 0], 1.6),
            peak_mpa=max(soil.peak_mpa * jitter[k, 1], soil.limit_mpa + 0.4),
        )
        for k in range(len(spots))
    ]


def dig(truth: Truth, places: Places, rng: np.random.Generator) -> pd.DataFrame:
    """Dig a pit at each place and write down what is seen, to the whole centimetre.

    Top and base are read with a standard deviation of 1 cm; the part is always known.
    """
    recorded = places + rng.normal(0, truth.scenario.position_sd_m, places.shape)
    pan = truth.pan(places)
    base = np.round(truth.base_cm(places) + rng.normal(0, PIT_SD_CM, len(places)))
    top = np.round(truth.top_cm(places) + rng.normal(0, PIT_SD_CM, len(places)))
    score = np.where(pan, rng.integers(6, 11, len(places)) / 2, rng.integers(3, 6, len(places)) / 2)
    return pd.DataFrame(
        {
            "pit": [f"P{i + 1}" for i in range(len(places))],
            "date": DATES[0],
            "phase": "before",
            "x_m": recorded[:, 0],
            "y_m": recorded[:, 1],
            "part": truth.part(places),
            "pan": np.where(pan, "yes", "no"),
            "pan_top_cm": np.where(pan, np.minimum(top, base - 2), np.nan),
            "pan_base_cm": np.where(pan, base, np.nan),
            "structure_score": score,
            "moisture": "friable",
            "note": "",
        }
    )
