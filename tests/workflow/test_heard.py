"""Pit and probe at one place: what both say of the pan counts for both."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from zoning.profiles import heard
from zoning.surface import PanModel
from zoning.surface.priors import reporting
from zoning.surface.stations import read_stations

COUNTS = st.lists(
    st.integers(1, 12).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))),
    min_size=1,
    max_size=4,
)


def table(counts: list[tuple[int, int]], pit_pan: bool | None, beside_m: float) -> pd.DataFrame:
    """Return cone stations within a metre, a pit `beside_m` from them that outranks them if near.

    Some ground with and without a pan lies further off.
    """
    rows = [("cone", f"S{k}", 0.2 * k, n_pan, n, pit_pan is None or beside_m > 5.0)
            for k, (n_pan, n) in enumerate(counts)]  # fmt: skip
    if pit_pan is not None:
        rows += [("pit", "P1", -beside_m, int(pit_pan), 1, True)]
    rows += [("cone", f"T{k}", 60.0 + 40.0 * k, 3 * (k % 2), 3, True) for k in range(6)]
    found = pd.DataFrame(rows, columns=["kind", "station", "x_m", "n_pan", "n_known", "used"])
    base = np.where(found["n_pan"] > 0, 34.0, np.nan)
    return found.assign(
        y_m=0.0, part="", part_used="body", pan_base_cm=base, error_sd_cm=1.5, censored=False,
        date="",
    )  # fmt: skip


def weight_of_pan(stations: pd.DataFrame) -> float:
    """Return how much the used stations of the place speak for a pan, as a log likelihood ratio."""
    read = read_stations(heard(stations))
    here = [k for k, name in enumerate(read.names) if not name.startswith("T")]
    there, absent = reporting().likelihoods(read.with_pan[here], read.known[here])
    return float(np.log(there / absent).sum())


@given(COUNTS, st.booleans())
def test_a_pit_never_takes_from_what_the_probe_says_with_it(
    counts: list[tuple[int, int]], pit_pan: bool
) -> None:
    toward = 1.0 if pit_pan else -1.0
    both = toward * weight_of_pan(table(counts, pit_pan, 1.0))
    assert both >= toward * weight_of_pan(table(counts, None, 1.0)) - 1e-9
    assert both >= toward * weight_of_pan(table([(0, 0)], pit_pan, 1.0)) - 1e-9


@given(st.lists(st.integers(1, 12), min_size=1, max_size=4), st.booleans())
def test_where_both_say_the_same_near_weighs_as_apart(counts: list[int], pit_pan: bool) -> None:
    said = [(n if pit_pan else 0, n) for n in counts]
    near, apart = (weight_of_pan(table(said, pit_pan, m)) for m in (1.0, 6.0))
    assert near == pytest.approx(apart)


def test_the_order_of_names_changes_nothing() -> None:
    stations = table([(3, 3), (0, 3)], True, 1.0)
    renamed = stations.assign(station=stations["station"].replace({"P1": "Z1"}))
    assert weight_of_pan(stations) == pytest.approx(weight_of_pan(renamed))
    for one in (stations, renamed):
        used = heard(one)
        rows = PanModel.fit(used).stations.rows
        assert sorted(rows) == sorted(used.index)
        assert used.loc[rows, "station"].tolist() == sorted(used["station"])


@pytest.mark.parametrize("pit_pan", [True, False])
def test_a_pit_that_agrees_makes_the_map_no_less_sure(*, pit_pan: bool) -> None:
    said = [(3 if pit_pan else 0, 3)]
    place, part = np.zeros((1, 2)), ["body"]
    alone, both = (
        PanModel.fit(heard(table(said, pit, 1.0))).predict(place, part).pan_probability[0]
        for pit in (None, pit_pan)
    )
    assert both > alone if pit_pan else both < alone
