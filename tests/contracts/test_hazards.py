"""Keep-off and depth bound of hazards, by the values of ``shared/tables/part_rules.csv``."""

from __future__ import annotations

import numpy as np
import pytest

from zoning.contracts import constant, deepest_cm, keep_off_m
from zoning.contracts.hazards import KINDS


@pytest.mark.parametrize("kind", KINDS)
def test_a_given_keep_off_stands_unless_it_is_too_small(kind: str) -> None:
    least = constant("part_rules", "least_clear_m")
    assert keep_off_m(kind, 2.5, 12.0) == 2.5
    assert keep_off_m(kind, least / 2, 12.0) == least


@pytest.mark.parametrize("kind", KINDS)
def test_a_stand_in_is_that_of_its_kind_or_half_the_machine(kind: str) -> None:
    usual = constant("part_rules", f"{kind}_clear_m")
    assert keep_off_m(kind, np.nan, 0.1) == usual
    assert keep_off_m(kind, np.nan, 10 * usual) == 5 * usual


def test_the_cover_of_a_drain_bounds_the_depth_and_a_service_lifts_the_legs() -> None:
    margin = constant("part_rules", "drain_margin_cm")
    unknown = constant("part_rules", "drain_cover_unknown_cm")
    found = deepest_cm(["drain", "drain", "drain", "service", "obstacle"], [60, 1, np.nan, 90, 90])
    assert found == pytest.approx([60 - margin, 0, max(0, unknown - margin), 0, 0])
