from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from zoning.survey import half_width, stations_for

# n = (t s / e)^2 with t on n - 1 degrees of freedom, worked out beforehand with a spreadsheet's t
# (Cochran 1977, section 4.4). Coefficients of variation of cone index of 16.5 and 45.8 %: Bragantia
# (scielo.br/j/brag/a/x9zB3r4DTGsqqxVmmD6rj9R).
ROWS = [(30.0, 10.0, 38), (30.0, 20.0, 12), (16.5, 10.0, 13), (45.8, 10.0, 84), (45.8, 20.0, 23)]


@pytest.mark.parametrize(("cv", "error", "n"), ROWS)
def test_worked_rows(cv: float, error: float, n: int) -> None:
    assert stations_for(cv, error, 0.95) == n


def test_the_normal_quantile_alone_gives_fewer() -> None:
    assert math.ceil((norm.ppf(0.975) * 30 / 10) ** 2) == 35 < stations_for(30, 10, 0.95)


def test_twenty_stations_know_a_mean_to_fourteen_percent() -> None:
    assert half_width(20, 30, 0.95) == pytest.approx(14.0, abs=0.05)


@given(st.floats(0.5, 20), st.floats(0.5, 10), st.floats(0.5, 0.99))
def test_the_number_is_the_least_that_is_enough(spread: float, error: float, level: float) -> None:
    n = stations_for(spread, error, level)
    assert half_width(n, spread, level) <= error
    assert n == 2 or half_width(n - 1, spread, level) > error


def test_the_interval_holds_the_mean_as_often_as_it_says() -> None:
    n = stations_for(5.3, 2.5, 0.9)
    rng = np.random.default_rng(0)
    sample = rng.normal(32, 5.3, (4000, n))
    half = np.array([half_width(n, s, 0.9) for s in sample.std(axis=1, ddof=1)])
    assert np.mean(np.abs(sample.mean(axis=1) - 32) <= half) == pytest.approx(0.9, abs=0.015)


@pytest.mark.parametrize(("spread", "error", "level"), [(-1, 1, 0.9), (1, 0, 0.9), (1, 1, 1.0)])
def test_numbers_out_of_range_are_refused(spread: float, error: float, level: float) -> None:
    with pytest.raises(ValueError, match="confidence between"):
        stations_for(spread, error, level)
