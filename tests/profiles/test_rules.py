"""The stated rules hang together."""

from __future__ import annotations

import pytest

from zoning.contracts import rows
from zoning.profiles.rules import rule


@pytest.mark.parametrize(
    "names",
    [
        ("spike_thin_cm", "spike_thick_cm"),
        ("spike_thin_excess", "spike_thick_excess"),
        ("hard_from_top_cm", "surface_hard_cm", "clear_depth_cm"),
        ("open_top_max_cm", "pan_top_max_cm"),
        ("pan_thickness_min_cm", "pan_thickness_max_cm", "hard_ground_cm"),
        ("pit_error_sd_cm", "within_station_sd_cm", "outlier_cm"),
    ],
)
def test_limits_stand_in_order(names) -> None:
    values = [rule(name) for name in names]
    assert values == sorted(values)
    assert len(set(values)) == len(values)


def test_the_classes_of_the_rating_join_without_a_gap() -> None:
    table = rows("survey_rating")
    ends = [(float(row["share_from_pct"]), float(row["share_to_pct"])) for row in table]
    assert ends[0][0] == 0
    assert ends[-1][1] == 100
    assert [a[1] for a in ends[:-1]] == [b[0] for b in ends[1:]]


def test_fifteen_inches() -> None:
    assert rule("survey_depth_cm") == pytest.approx(15 * 2.54)


def test_a_push_that_says_no_pan_reached_every_depth_at_which_an_open_pan_may_begin() -> None:
    assert rule("clear_depth_cm") >= rule("open_top_max_cm")
    assert rule("clear_depth_cm") >= rule("survey_depth_cm")
