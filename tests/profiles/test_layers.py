"""Where the cone index crosses the limit.

Outside references: `numpy.interp` and `scipy.optimize.brentq` for a crossing on straight lines, and
the open Marsden profiles (81 profiles of 2019 in kPa, vanichols/maRsden, MIT licence), whose facts
were computed by others: depth of the first crossing of 1000 kPa.
"""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from zoning.profiles.clean import Readings
from zoning.profiles.layers import bridge, crossing_cm, hard_layers
from zoning.profiles.rules import rule


def readings(depth, index):
    depth = np.asarray(depth, dtype=float)
    return Readings(np.zeros(len(depth), np.int64), depth, np.asarray(index, dtype=float))


@given(
    z=st.tuples(st.floats(0, 50), st.floats(0.5, 10)),
    q=st.tuples(st.floats(0, 1.9), st.floats(2.0, 9)),
    rising=st.booleans(),
)
def test_a_crossing_is_where_numpy_interpolates_it(z, q, rising) -> None:
    depth = np.array([z[0], z[0] + z[1]])
    index = np.array(q if rising else q[::-1])
    got = crossing_cm(readings(depth, index), np.array([0]), 2.0)[0]
    order = np.argsort(index)
    assert got == pytest.approx(np.interp(2.0, index[order], depth[order]), abs=1e-9)


@settings(deadline=None)
@given(st.lists(st.floats(0.1, 6), min_size=4, max_size=30))
def test_layers_are_where_the_straight_lines_lie_above_the_limit(index) -> None:
    depth = 2.5 * np.arange(len(index))
    layers = hard_layers(readings(depth, index), 2.0)
    fine = np.linspace(0, depth[-1], 977)
    above = np.interp(fine, depth, index) > 2.0 + 1e-9
    inside = np.zeros(len(fine), dtype=bool)
    for layer in layers.itertuples():
        inside |= (fine >= layer.top_cm - 1e-9) & (fine <= layer.base_cm + 1e-9)
    assert inside[above].all()
    strictly_below = np.interp(fine, depth, index) < 2.0 - 1e-6
    assert not (inside & strictly_below).any()


def test_top_and_base_agree_with_a_root_finder() -> None:
    depth = np.array([0, 7, 14, 21, 28, 35.0])
    index = np.array([0.4, 1.3, 2.9, 3.1, 1.7, 0.9])

    def over(z: float) -> float:
        return float(np.interp(z, depth, index) - 2.0)

    layer = hard_layers(readings(depth, index), 2.0).iloc[0]
    assert layer["top_cm"] == pytest.approx(brentq(over, 7, 14), abs=1e-9)
    assert layer["base_cm"] == pytest.approx(brentq(over, 21, 28), abs=1e-9)


def test_first_crossings_of_the_open_profiles_match_their_published_facts(marsden) -> None:
    table = pd.read_csv(marsden / "readings.csv").sort_values(["id", "depth_cm"])
    facts = json.loads((marsden / "expected.json").read_text())["variables"]["cross1000"]
    of = table["id"].factorize()[0].astype(np.int64)
    profiles = Readings(of, table["depth_cm"].to_numpy(), table["cone_index"].to_numpy(float))
    tops = hard_layers(profiles, 1000.0).groupby("of")["top_cm"].first()
    assert len(tops) == facts["n"]
    assert of.max() + 1 - len(tops) == facts["missing_profiles"]
    for name in ("min", "median", "max", "mean"):
        assert getattr(tops, name)() == pytest.approx(facts[name], rel=1e-12)
    assert tops.std(ddof=1) == pytest.approx(facts["sd"], rel=1e-12)
    for name, share in (("q25", 0.25), ("q75", 0.75)):
        assert tops.quantile(share) == pytest.approx(facts[name], rel=1e-12)


def test_hard_at_either_end_is_marked() -> None:
    layers = hard_layers(readings([0, 5, 10, 15, 20], [3, 1, 1, 1, 3]), 2.0)
    assert layers["from_first"].tolist() == [True, False]
    assert layers["open"].tolist() == [False, True]
    assert layers["top_cm"].iloc[0] == 0
    assert layers["base_cm"].iloc[1] == 20


def test_a_thin_soft_gap_is_bridged_and_a_thick_one_is_not() -> None:
    for gap in (rule("gap_bridge_cm") - 0.5, rule("gap_bridge_cm") + 0.5):
        layers = pd.DataFrame(
            {
                "of": 0, "top_cm": [20.0, 28.0 + gap], "base_cm": [28.0, 36.0],
                "from_first": False, "open": False, "last_hard_cm": [27.0, 35.0], "bridged": 0,
            }
        )  # fmt: skip
        joined = bridge(layers)
        assert len(joined) == (1 if gap < rule("gap_bridge_cm") else 2)
        assert joined["base_cm"].iloc[-1] == pytest.approx(36.0)


def test_a_sliver_beyond_the_base_counts_by_its_own_thickness() -> None:
    layers = pd.DataFrame(
        {
            "of": 0, "top_cm": [18.0, 20.0, 31.5], "base_cm": [18.5, 30.0, 32.5],
            "from_first": False, "open": False, "last_hard_cm": [18.0, 29.0, 32.0], "bridged": 0,
        }
    )  # fmt: skip
    joined = bridge(layers).iloc[0]
    assert joined["base_cm"] == pytest.approx(31.0)
    assert joined["top_cm"] == pytest.approx(19.5)
    assert joined["bridged"] == 2


def test_noise_on_a_slow_decline_does_not_push_the_base_down() -> None:
    rng = np.random.default_rng(20260901)
    depth = np.arange(0, 61, 1.0)
    truth = np.clip(np.minimum(2 + 0.3 * (depth - 20), 2 + 0.12 * (36 - depth)), 1.0, 3.0)
    noisy = truth + rng.normal(0, 0.25, (400, len(depth)))
    of = np.repeat(np.arange(400), len(depth))
    pans = bridge(hard_layers(Readings(of, np.tile(depth, 400), noisy.ravel()), 2.0))
    thickest = pans.assign(thickness=pans["base_cm"] - pans["top_cm"]).sort_values("thickness")
    bases = thickest.groupby("of")["base_cm"].last()
    assert len(bases) == 400
    assert bases.mean() == pytest.approx(36.0, abs=0.3)


def test_layers_of_two_insertions_are_not_joined() -> None:
    two = Readings(np.array([0, 0, 1, 1]), np.array([5.0, 10, 11, 15]), np.array([3.0, 3, 3, 3]))
    assert bridge(hard_layers(two, 2.0))["of"].tolist() == [0, 1]


def test_soft_soil_has_no_layer() -> None:
    assert bridge(hard_layers(readings([0, 5, 10], [1, 1, 1]), 2.0)).empty
