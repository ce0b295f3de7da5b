"""Exact tests for pairs, against scipy, enumeration and Fisher's own worked example."""

from __future__ import annotations

from itertools import product

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binomtest

from zoning.checks.change import changed, day_notices, reversal_test, sign_test

# Darwin's maize, crossed less self-fertilised [eighths of an inch], as Fisher used it in The Design
# of Experiments, 1935, sections 17 and 21: 1726 of 32768 reversals go as far, 5.267 % (memory).
DARWIN = [49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48]


def test_fishers_worked_example() -> None:
    assert reversal_test(DARWIN) == pytest.approx(1726 / 32768, abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(-30, 30), min_size=2, max_size=7))
def test_every_reversal_is_gone_through(change: list[int]) -> None:
    sums = [
        abs(sum(s * c for s, c in zip(signs, change, strict=True)))
        for signs in product((1, -1), repeat=len(change))
    ]
    wanted = np.mean([total >= abs(sum(change)) for total in sums])
    assert reversal_test(change) == pytest.approx(wanted, abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(-5, 5), max_size=30))
def test_the_sign_test_is_scipys_binomial_test(change: list[int]) -> None:
    fell, rose = sum(c < 0 for c in change), sum(c > 0 for c in change)
    if fell + rose == 0:
        assert np.isnan(sign_test(change))
    else:
        assert sign_test(change) == pytest.approx(binomtest(rose, fell + rose, 0.5).pvalue)


def test_few_pairs_by_hand() -> None:
    # Six of six one way: 2 / 2^6; five cannot pass 5 %.
    assert sign_test([-1] * 6) == pytest.approx(0.03125)
    assert sign_test([-1] * 5) == pytest.approx(0.0625)
    assert reversal_test([-1.0, -2.0, -4.0]) == pytest.approx(0.25)
    assert reversal_test([3.0]) == 1.0
    assert np.isnan(reversal_test([]))


def test_no_thickness_is_told_from_pits_that_found_no_pan() -> None:
    gone = pairs_of("pan_thickness_cm", [-9.0]).assign(before=9.0, after=0.0)
    never = pairs_of("pan_thickness_cm", [0.0]).assign(before=0.0, after=0.0)
    left = pairs_of("pan_thickness_cm", [-2.0]).assign(before=9.0, after=7.0)
    assert changed(pd.concat([gone, never])).empty
    (row,) = changed(pd.concat([gone, never, left])).to_dict("records")
    assert (row["pairs"], row["before"], row["after"]) == (1, 9.0, 7.0)
    assert row["words"].startswith(
        "Thickness of the pan where one is left, 1 pair at one place: 9.0 cm before, 7.0 cm after"
    )


def test_pairs_are_each_at_a_place_of_their_own() -> None:
    told = changed(pairs_of("pan", [-1.0, -1.0, -1.0]))["words"].iloc[0]
    assert told.startswith("Share of pits with a pan, 3 pairs, each at one place:")


def test_a_mean_over_zones_says_so() -> None:
    # Two zones whose means fell: the figures are of zones, not of pits.
    told = changed(pairs_of("pan", [-1.0, -0.5], by="zone"))["words"].iloc[0]
    assert told.startswith(
        "Share of pits with a pan, mean of 2 zones with both, each counted once:"
    )
    alone = changed(pairs_of("pan", [-1.0], by="zone"))["words"].iloc[0]
    assert "1 zone with both:" in alone


def pairs_of(what: str, change: list[float], depth_cm: float = 35.0, **words: str) -> pd.DataFrame:
    usual = {"by": "place", "date_before": "2026-08-01", "date_after": "2026-09-01",
             "moisture_before": "friable", "moisture_after": "friable"}  # fmt: skip
    means = {"before": 5.0, "after": np.add(5.0, change), "change": change}
    return pd.DataFrame({"what": what, "depth_cm": depth_cm, **means, **(usual | words)})


def test_scores_take_the_sign_test_and_measurements_the_reversals() -> None:
    both = pd.concat(
        [
            pairs_of("structure_score", [-2, -2, -1, -1, -1, -2]),
            pairs_of("resistance_mpa", [-1.0] * 3),
        ]
    )
    found = changed(both).set_index("what")
    assert found.loc["structure_score", "test"] == "sign"
    assert found.loc["structure_score", "p_value"] == pytest.approx(0.03125)
    assert "more than chance" in found.loc["structure_score", "words"].lower()
    assert found.loc["resistance_mpa", "test"] == "reversal"
    assert found.loc["resistance_mpa", "p_least"] == pytest.approx(0.25)
    # What too few pairs leave open is said once of them all, where they are listed.
    assert found.loc["resistance_mpa", "words"].endswith("fell in 3, rose in 0.")


def test_many_pairs_fall_back_to_the_sign_test() -> None:
    found = changed(pairs_of("resistance_mpa", [-1.0] * 16)).iloc[0]
    assert (found["test"], found["fell"]) == ("sign", 16)
    assert found["p_value"] == pytest.approx(2 / 2**16)


def test_ground_where_the_legs_stay_lifted_is_in_no_average_and_is_told() -> None:
    worked, lifted = (
        pairs_of("structure_score", [-2.0, -1.0]),
        pairs_of("structure_score", [3.0], depth_cm=0.0),
    )
    found = changed(pd.concat([worked, lifted])).iloc[0]
    told, plain = " Without 1 pair where the legs stay lifted.", changed(worked).iloc[0]
    assert (found["lifted"], plain["lifted"]) == (1, 0)
    assert told in found["words"]
    assert found["words"].replace(told, "") == plain["words"]
    assert found.drop(["lifted", "words"]).equals(plain.drop(["lifted", "words"]))
    assert changed(lifted).empty


def test_no_change_says_nothing() -> None:
    found = changed(pairs_of("pan", [0.0, 0.0])).iloc[0]
    assert np.isnan(found["p_value"])
    assert (found["same"], found["p_least"]) == (2, 1.0)
    assert changed(pairs_of("pan", [])).empty


def test_a_dry_day_is_warned_of() -> None:
    differ = day_notices(pairs_of("resistance_mpa", [-1.0], moisture_after="dry"))
    assert [(n.level, n.code) for n in differ] == [("caution", "check-moisture-differs")]
    unknown = day_notices(pairs_of("resistance_mpa", [-1.0], moisture_after=""))
    assert [n.code for n in unknown] == ["check-moisture-unknown"]
    assert [n.code for n in day_notices(pairs_of("resistance_mpa", [-1.0]))] == [
        "check-days-differ"
    ]
    same = pairs_of("resistance_mpa", [-1.0], date_after="2026-08-01")
    assert day_notices(same) == ()
    assert day_notices(pairs_of("pan", [-1.0], moisture_after="dry")) == ()


def test_at_how_many_places_the_moisture_differs_is_said() -> None:
    same = pairs_of("resistance_mpa", [-1.0] * 7)
    dry = pairs_of("resistance_mpa", [-1.0] * 3, moisture_after="dry")
    zones = pairs_of("resistance_mpa", [-1.0], by="zone", moisture_after="dry; friable")
    (told,) = [n.text for n in day_notices(pd.concat([same, dry, zones]))]
    assert "(friable before and dry after at 3 of 10 places)" in told
    (told,) = [n.text for n in day_notices(zones)]
    assert "(friable before and dry or friable after at 1 of 1 zone)" in told


def test_the_moisture_stands_in_the_line_of_the_resistance_itself() -> None:
    drop = [-1.0, -1.2, -0.8, -1.1, -0.9, -1.3]
    wet = changed(pairs_of("resistance_mpa", drop, moisture_after="plastic"))["words"].iloc[0]
    assert wet.index("More than chance explains") < wet.index("But moisture differed (friable")
    same = changed(pairs_of("resistance_mpa", drop))["words"].iloc[0]
    assert "moisture" not in same
