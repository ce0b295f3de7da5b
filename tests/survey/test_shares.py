from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from zoning.survey.shares import shares

AREAS = st.lists(st.floats(0.01, 50), min_size=1, max_size=7)


@given(AREAS, st.integers(0, 200), st.integers(0, 6))
def test_they_sum_to_the_total_and_keep_the_floor(
    areas: list[float], total: int, floor: int
) -> None:
    count = shares(np.array(areas), total, floor)
    assert count.sum() == total
    assert (count >= 0).all()
    if total >= floor * len(areas):
        assert (count >= floor).all()


@given(AREAS, st.integers(0, 200), st.integers(0, 6))
def test_a_larger_part_never_gets_fewer(areas: list[float], total: int, floor: int) -> None:
    area = np.array(areas)
    count = shares(area, total, floor)
    order = np.argsort(area, kind="stable")
    sizes, numbers = area[order], count[order]
    grows = np.diff(sizes) > 0
    assert (np.diff(numbers)[grows] >= 0).all()


def test_area_decides_above_the_floor() -> None:
    assert shares(np.array([6.0, 3.0, 1.0]), 40, 3).tolist() == [24, 12, 4]


def test_the_small_part_gets_its_floor_and_the_others_share_the_rest() -> None:
    assert shares(np.array([6.0, 3.0, 0.01]), 30, 3).tolist() == [18, 9, 3]


def test_with_fewer_stations_than_parts_the_largest_get_one() -> None:
    assert shares(np.array([1.0, 5.0, 3.0]), 2, 3).tolist() == [0, 1, 1]
