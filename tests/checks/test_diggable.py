"""Where one could dig: well inside the ground, with the ridge that is known there."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import shapely
from checks.conftest import field_parts
from scipy.stats import norm

from zoning.checks.diggable import Places, part_due, places_to_dig, roomy
from zoning.model.check import PlannedGround

NOWHERE = shapely.Polygon()
BOTH = (35.0, 40.0)


def places(planned: PlannedGround, ridge_cm: float = np.nan, **zones: object) -> Places:
    told = dataclasses.replace(planned, zones=planned.zones.assign(**zones))
    return places_to_dig(told, field_parts(), ridge_cm, NOWHERE)


def expected(*ridges_cm: float, by: str = "leg_spacing") -> dict[str, object]:
    return {"expected_ridge_cm": [*ridges_cm, np.nan], "expected_ridge_from": by}


@pytest.mark.parametrize(
    ("seen", "plan", "taken"),
    [
        (11.0, expected(18.5, 18.5), {35.0: (11.0, "pits"), 40.0: (11.0, "pits")}),
        (np.nan, expected(18.5, 20.0), {35.0: (18.5, "leg_spacing"), 40.0: (20.0, "leg_spacing")}),
        # Geometry knows but the spacing: less than even work leaves is not believed of it.
        (np.nan, expected(1.0, 8.0), {35.0: (3.0, "assumed"), 40.0: (8.0, "leg_spacing")}),
        (np.nan, expected(1.0, 1.0, by="trial_runs"), dict.fromkeys(BOTH, (1.0, "trial_runs"))),
        (np.nan, {}, dict.fromkeys(BOTH, (3.0, "assumed"))),
    ],
)  # fmt: skip
def test_the_ridge_is_that_of_the_pits_else_of_the_plan_else_assumed(
    planned: PlannedGround,
    seen: float,
    plan: dict[str, object],
    taken: dict[float, tuple[float, str]],
) -> None:
    found = places(planned, seen, **plan)
    assert set(np.unique(found.depth_cm)) == set(taken)
    for depth, (ridge, rests) in taken.items():
        own = found.depth_cm == depth
        assert set(found.ridge_cm[own]) == {ridge}
        assert set(found.ridge_from[own]) == {rests}
        # Base at 30 cm, give or take 2 cm and 1 cm of reading.
        likely = norm.cdf((depth - ridge - 30.0) / np.hypot(2.0, 1.0))
        np.testing.assert_allclose(found.chance[own], likely, atol=1e-9)


def test_every_place_lies_in_worked_ground_off_its_edge(planned: PlannedGround) -> None:
    found = places(planned)
    shapes = planned.zones.set_index("zone").geometry
    inside = [
        shapes[zone].buffer(-10.0).covers(shapely.Point(xy))
        for zone, xy in zip(found.zone, found.xy_m, strict=True)
    ]
    assert inside
    assert all(inside)
    assert set(found.zone) == {1, 2}  # zone 3 is lifted out
    assert not found.narrow.any()


def strip_beside_a_headland(wheelings: int) -> Places:
    """Ten places in a row at one depth, the last `wheelings` of them in ground too narrow."""
    names = ["headland"] * (10 - wheelings) + ["wheeling"] * wheelings
    blank, part = np.zeros(10), np.array(names, dtype=object)
    xy = np.column_stack([np.arange(10.0), blank])
    ones = np.ones(10, dtype=np.int64)
    return Places(
        xy, ones, blank + 42.0, part, blank, blank, blank, part.copy(), part == "wheeling"
    )


@pytest.mark.parametrize(
    ("wheelings", "had", "waiting", "part", "left"),
    [
        (3, {"headland": 4}, {"wheeling"}, "wheeling", 10),
        (1, {"headland": 4}, {"wheeling"}, "wheeling", 10),  # however little of the ground
        (3, {"headland": 4, "wheeling": 1}, set(), "headland", 7),
        (3, {}, {"headland", "wheeling"}, "headland", 10),  # both wait: the larger first
        (10, {}, set(), "wheeling", 10),  # no other will do
    ],
)
def test_a_narrow_part_has_its_place_where_the_verdict_waits_for_it(
    wheelings: int, had: dict[str, int], waiting: set[str], part: str, left: int
) -> None:
    places, rows = strip_beside_a_headland(wheelings), np.arange(10)
    free = roomy(places, rows, waiting)
    assert len(free) == left
    assert part_due(places, rows, free, had, waiting) == part
