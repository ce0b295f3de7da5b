from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from zoning.survey import pits_among

PART = np.repeat(["body", "headland", "wheeling", "gateway"], [20, 8, 4, 3])
XY = np.random.default_rng(0).uniform(0, 300, (35, 2))


def test_each_part_has_a_pit_before_any_has_two() -> None:
    assert Counter(PART[pits_among(XY, PART, 4)]) == {
        "body": 1, "headland": 1, "wheeling": 1, "gateway": 1,
    }  # fmt: skip
    assert Counter(PART[pits_among(XY, PART, 2)]) == {"body": 1, "headland": 1}


def test_further_pits_go_where_there_are_most_stations_for_each() -> None:
    assert Counter(PART[pits_among(XY, PART, 6)])["body"] == 3


@pytest.mark.parametrize("count", [0, 1, 35, 60])
def test_no_more_pits_than_stations(count: int) -> None:
    assert pits_among(XY, PART, count).sum() == min(count, 35)


def test_pits_of_one_part_keep_apart() -> None:
    line = np.column_stack([np.arange(11.0), np.zeros(11)])
    dug = np.flatnonzero(pits_among(line, np.repeat("body", 11), 3))
    assert dug.tolist() == [0, 5, 10]
