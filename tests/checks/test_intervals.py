"""Clopper-Pearson against scipy's own interval and against the beta distribution by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom, binomtest

from zoning.checks.intervals import Share, clopper_pearson


@settings(max_examples=200, deadline=None)
@given(data=st.data(), of=st.integers(1, 200), level=st.sampled_from([0.8, 0.9, 0.95]))
def test_it_is_scipys_exact_interval(data: st.DataObject, of: int, level: float) -> None:
    count = data.draw(st.integers(0, of))
    wanted = binomtest(count, of).proportion_ci(confidence_level=level, method="exact")
    assert clopper_pearson(count, of, level) == pytest.approx((wanted.low, wanted.high), abs=1e-9)


def test_all_of_n_ends_at_the_root_of_the_tail() -> None:
    # With every pit reached the lower limit solves p^n = tail.
    for of in (1, 3, 4, 10):
        low, high = clopper_pearson(of, of, 0.8)
        assert low == pytest.approx(0.1 ** (1 / of))
        assert high == 1.0


def test_it_holds_the_share_as_often_as_it_promises() -> None:
    # Exact coverage by summing the binomial over every count, at many shares.
    of = 7
    for share in np.linspace(0.02, 0.98, 25):
        held = sum(
            float(binom.pmf(k, of, share))
            for k in range(of + 1)
            if clopper_pearson(k, of, 0.8)[0] <= share <= clopper_pearson(k, of, 0.8)[1]
        )
        assert held >= 0.8


@pytest.mark.parametrize(("count", "of"), [(-1, 3), (4, 3)])
def test_a_count_outside_its_number_is_refused(count: int, of: int) -> None:
    with pytest.raises(ValueError, match="no share"):
        clopper_pearson(count, of, 0.8)


@pytest.mark.parametrize(
    ("count", "of", "side"),
    [
        (0, 0, "open"),
        (3, 3, "open"),
        (4, 4, "most"),
        (0, 4, "least"),
        (2, 4, "open"),
        (6, 8, "open"),
    ],
)
def test_four_that_agree_tell_and_three_do_not(count: int, of: int, side: str) -> None:
    # 0.1^(1/3) = 0.464 and 0.1^(1/4) = 0.562 stand on either side of one half.
    assert Share(count, of).side == side


@settings(max_examples=100, deadline=None)
@given(data=st.data(), of=st.integers(1, 40))
def test_torn_places_are_all_failed_at_the_low_end_and_all_passed_at_the_high(
    data: st.DataObject, of: int
) -> None:
    torn = data.draw(st.integers(0, of))
    count = data.draw(st.integers(0, of - torn))
    ends = [binomtest(n, of).proportion_ci(0.8, method="exact") for n in (count, count + torn)]
    found = Share(count, of, torn)
    assert found.interval == pytest.approx((ends[0].low, ends[1].high), abs=1e-9)
    # It is sure only where both ways lie on the same side.
    both = {Share(count, of).side, Share(count + torn, of).side}
    assert found.side == (both.pop() if len(both) == 1 else "open")
    assert found.plus(1, 1).torn == torn


def test_shares_add_up() -> None:
    more = Share(2, 3).plus(1, 2)
    assert (more.count, more.of, more.share) == (3, 5, 0.6)
    assert np.isnan(Share(0, 0).share)
