"""Repeated insertions to one base.

Outside references: `scipy.stats.CensoredData` with `scipy.stats.norm.fit` for the mean of a normal
sample with some values known only from below; `scipy.stats.ttest_ind` for the pooled spread.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from zoning.profiles.combine import (
    Bases,
    censored_mean_cm,
    combine,
    set_aside,
    shrunk_sd_cm,
    tolerance_cm,
)
from zoning.profiles.rules import rule

bases = st.lists(st.floats(10, 60), min_size=1, max_size=6)


def of(known, bounds=(), tolerance=6.0) -> Bases:
    values = np.array([*known, *bounds], dtype=float)
    bound = np.arange(len(values)) >= len(known)
    return Bases(values, bound, set_aside(values, bound, tolerance))


@given(known=st.lists(st.floats(25, 35), min_size=2, max_size=6), above=st.floats(0, 4))
def test_the_censored_mean_is_the_one_scipy_fits(known, above) -> None:
    bound = np.mean(known) + above
    data = stats.CensoredData(uncensored=known, right=[bound])
    want, _ = stats.norm.fit(data, fscale=2.0)
    got = censored_mean_cm(np.array(known), np.array([bound]), 2.0)
    assert got == pytest.approx(want, abs=2e-3)


def test_a_lone_insertion_among_four_is_set_aside() -> None:
    lone = of([31.0, 32.0, 30.5, 45.0])
    assert lone.aside.tolist() == [False, False, False, True]
    assert combine(lone, 2.0).base_cm == pytest.approx((31.0 + 32.0 + 30.5) / 3)
    assert combine(lone, 2.0).n == 3


def test_two_insertions_cannot_tell_which_is_alone() -> None:
    assert not of([20.0, 40.0]).aside.any()


def test_three_that_all_differ_lose_only_the_farthest() -> None:
    assert of([12.0, 34.0, 41.0]).aside.tolist() == [True, False, False]


def test_shallow_bounds_neither_count_nor_are_alone() -> None:
    refused = of([33.0], [18.0, 19.0, 20.0])
    assert not refused.aside.any()
    base = combine(refused, 2.0)
    assert base.base_cm == 33.0
    assert not base.censored
    assert base.n == 1


def test_a_lone_base_among_deep_bounds_is_set_aside() -> None:
    base = combine(of([30.0], [45.0, 45.0, 44.0]), 2.0)
    assert base.censored
    assert base.base_cm == 45.0


def test_mostly_bounds_make_the_station_censored_at_what_all_of_them_say() -> None:
    base = combine(of([33.0], [35.0, 36.0]), 2.0)
    assert base.censored
    assert base.base_cm == pytest.approx((33 + 35 + 36) / 3)


def test_mostly_bases_make_it_known_and_deeper_than_their_mean() -> None:
    base = combine(of([33.0, 34.0, 32.0], [36.0]), 2.0)
    assert not base.censored
    assert 33.0 < base.base_cm < 36.0
    assert base.n == 4


def test_only_bounds_are_censored_at_the_deepest() -> None:
    base = combine(of([], [24.0, 31.0]), 2.0)
    assert base.censored
    assert base.base_cm == 31.0
    assert np.isnan(base.spread_cm)


@given(bases, st.lists(st.floats(10, 60), max_size=4))
def test_the_base_lies_among_the_insertions_and_only_a_minority_is_set_aside(known, bounds) -> None:
    station = of(known, bounds)
    assert station.aside.sum() * 2 < len(station.base_cm)
    base = combine(station, 2.0)
    values = station.base_cm[~station.aside]
    assert base.n >= 1
    assert base.base_cm >= values.min() - 1e-9
    if base.censored or not len(bounds):
        assert base.base_cm <= values.max() + 1e-9


def test_spread_of_many_repeats_is_the_pooled_spread_of_the_data() -> None:
    rng = np.random.default_rng(2)
    a, b = rng.normal(30, 3.5, 900), rng.normal(40, 3.5, 900)
    # The two-sample t statistic holds the pooled standard deviation.
    pooled = (a.mean() - b.mean()) / stats.ttest_ind(a, b).statistic / np.sqrt(2 / 900)
    assert shrunk_sd_cm([a, b], rule("within_station_sd_cm")) == pytest.approx(pooled, rel=5e-3)


def test_spread_without_repeats_is_the_stated_one() -> None:
    assert shrunk_sd_cm([], 2.0) == 2.0
    assert shrunk_sd_cm([np.array([30.0]), np.array([40.0])], 2.0) == 2.0


def test_spread_lies_between_the_stated_one_and_that_of_the_data() -> None:
    few = [np.array([28.0, 36.0])]
    assert 2.0 < shrunk_sd_cm(few, 2.0) < few[0].std(ddof=1)


def test_tolerance_grows_with_the_spread_of_the_field_and_never_falls_below_the_rule() -> None:
    rng = np.random.default_rng(5)
    calm = [rng.normal(30, 0.5, 4) for _ in range(50)]
    wild = [rng.normal(30, 5, 4) for _ in range(50)]
    assert tolerance_cm(calm) == rule("outlier_cm")
    assert tolerance_cm(wild) > 1.5 * rule("outlier_cm")
    assert tolerance_cm([]) == rule("outlier_cm")
