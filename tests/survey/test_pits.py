from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from zoning.survey import pits_among

PART = np.repeat(["body", "headland", "wheeling", "gateway"], [20, 8, 4, 3])
FREE = np.zeros(35, dtype=bool)
XY = np.random.default_rng(0).uniform(0, 300, (35, 2))


def test_each_part_has_a_pit_before_any_has_two() -> None:
    assert Counter(PART[pits_among(XY, PART, 4, FREE)]) == {
        "body": 1, "headland": 1, "wheeling": 1, "gateway": 1,
    }  # fmt: skip
    assert Counter(PART[pits_among(XY, PART, 2, FREE)]) == {"body": 1, "headland": 1}


def test_further_pits_go_where_there_are_most_stations_for_each() -> None:
    assert Counter(PART[pits_among(XY, PART, 6, FREE)])["body"] == 3


@pytest.mark.parametrize("count", [0, 1, 35, 60])
def test_no_more_pits_than_stations(count: int) -> None:
    assert pits_among(XY, PART, count, FREE).sum() == min(count, 35)


def test_pits_of_one_part_keep_apart() -> None:
    line = np.column_stack([np.arange(11.0), np.zeros(11)])
    dug = np.flatnonzero(pits_among(line, np.repeat("body", 11), 3, FREE[:11]))
    assert dug.tolist() == [0, 5, 10]


def test_stations_near_a_hazard_are_dug_at_only_where_their_part_has_no_other() -> None:
    near = FREE.copy()
    near[PART == "gateway"] = True
    near[np.flatnonzero(PART == "body")[:17]] = True
    dug = pits_among(XY, PART, 6, near)
    assert Counter(PART[dug]) == {"body": 3, "headland": 1, "wheeling": 1, "gateway": 1}
    assert set(PART[dug & near]) == {"gateway"}
    assert set(PART[pits_among(XY, PART, 7, near) & near]) <= {"gateway", "body"}
