"""From logged rows to clean profiles."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from zoning.profiles.clean import good_readings, heads, in_order

NAN = float("nan")


def cleaned(insertion, depth, index, **given):
    ordered = in_order(insertion("A/1", depth, index, **given))
    readings, ends = good_readings(ordered, 2.0)
    return readings, ends.iloc[0]


def test_zeros_after_the_last_true_reading_are_the_end_of_the_push(insertion) -> None:
    readings, end = cleaned(insertion, [5, 10, 15, 20, 25], [1, 2, 3, 0, 0])
    assert readings.depth_cm.tolist() == [5, 10, 15]
    assert end["trailing"]
    assert end["deepest_cm"] == 15


def test_blanks_after_the_last_true_reading_are_the_end_of_the_push(insertion) -> None:
    readings, end = cleaned(insertion, [5, 10, 15, 20], [1, 2, 3, NAN])
    assert readings.depth_cm.tolist() == [5, 10, 15]
    assert end["trailing"]


def test_zeros_at_the_surface_are_loose_soil(insertion) -> None:
    readings, end = cleaned(insertion, [0, 2.5, 5, 7.5, 10], [0, 0, 0.4, 0.8, 1])
    assert readings.cone_index_mpa.tolist() == [0, 0, 0.4, 0.8, 1]
    assert not end["trailing"]


def test_a_zero_between_true_readings_is_a_fault_and_counts_as_blank(insertion) -> None:
    readings, _ = cleaned(insertion, [5, 10, 15, 20], [1, 0, 3, 2])
    assert readings.depth_cm.tolist() == [5, 15, 20]


def test_a_stretch_too_long_to_bridge_ends_the_profile(insertion) -> None:
    depth = np.arange(2.5, 41, 2.5)
    index = np.where((depth > 15) & (depth < 30), NAN, 1.5)
    readings, end = cleaned(insertion, depth, index)
    assert readings.depth_cm.max() == 15
    assert end["hole"]
    assert not end["trailing"]


def test_a_short_blank_is_bridged(insertion) -> None:
    depth = np.arange(2.5, 41, 2.5)
    index = np.where((depth > 15) & (depth < 25), NAN, 1.5)
    readings, end = cleaned(insertion, depth, index)
    assert readings.depth_cm.max() == 40
    assert not end["hole"]


def test_the_gap_of_one_insertion_does_not_reach_into_the_next(insertion) -> None:
    cone = pd.concat(
        [insertion("A/1", [5, 10, 40, 45], [1, 1, 1, 1]), insertion("B/1", [5, 10, 15], [1, 1, 1])]
    )
    readings, ends = good_readings(in_order(cone), 2.0)
    assert readings.depth_cm[readings.of == 1].tolist() == [5, 10, 15]
    assert ends["hole"].tolist() == [True, False]


def test_readings_at_one_depth_are_averaged_and_counted(insertion) -> None:
    readings, end = cleaned(insertion, [5, 10, 10, 15], [1, 2, 3, 1])
    assert readings.cone_index_mpa.tolist() == [1, 2.5, 1]
    assert end["repeats"] == 1


def test_an_insertion_without_a_true_reading_keeps_its_row(insertion) -> None:
    readings, end = cleaned(insertion, [5, 10, 15], [0, NAN, 0])
    assert len(readings.of) == 0
    assert end["n_readings"] == 0
    assert np.isnan(end["deepest_cm"])


def test_one_yes_among_its_rows_makes_an_insertion_refused(insertion) -> None:
    cone = insertion("A/1", [5, 10, 15], [1, 1, 1])
    cone["refused"] = ["", "yes", ""]
    head = heads(in_order(cone)).iloc[0]
    assert head["refused"]
    assert head["row"] == 2


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_order_of_the_rows_does_not_matter(insertion, seed) -> None:
    cone = pd.concat([insertion("A/1", [5, 10, 15, 15], [1, 2, 3, 2]), insertion("A/2", [5], [1])])
    shuffled = cone.sample(frac=1, random_state=seed)
    pd.testing.assert_frame_equal(in_order(cone), in_order(shuffled))
