"""Pit and probe at one place: where both say the same, each is a witness."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from zoning.profiles import heard
from zoning.profiles.pits import outranked
from zoning.surface import PanModel
from zoning.surface.priors import reporting
from zoning.surface.stations import read_stations

COUNTS = st.lists(
    st.integers(1, 12).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))),
    min_size=1,
    max_size=4,
)
BASE_CM = 34.0
AWAY_M = np.linspace(80.0, 600.0, 14)


def table(
    counts: list[tuple[int, int]],
    pit_pan: bool | None,
    beside_m: float = 1.0,
    pit_cm: float = BASE_CM,
    pit: str = "P1",
) -> pd.DataFrame:
    """Return cone stations within a metre, a pit `beside_m` from them, and ground further off."""
    rows = [("cone", f"S{k}", 0.2 * k, n_pan, n, BASE_CM) for k, (n_pan, n) in enumerate(counts)]
    if pit_pan is not None:
        rows += [("pit", pit, -beside_m, int(pit_pan), 1, pit_cm)]
    far = zip(AWAY_M, BASE_CM + 3.0 * np.sin(AWAY_M), strict=True)
    rows += [("cone", f"T{k:02d}", x, 3 * (k % 3 > 0), 3, cm) for k, (x, cm) in enumerate(far)]
    found = pd.DataFrame(rows, columns=["kind", "station", "x_m", "n_pan", "n_known", "base"])
    shows = (found["n_pan"] > 0) & (2 * found["n_pan"] >= found["n_known"])
    found = found.assign(
        y_m=0.0, part="", part_used="body", pan_base_cm=found["base"].where(shows), used=True,
        error_sd_cm=np.where(found["kind"] == "pit", 1.0, 0.8), censored=False, date="",
    )  # fmt: skip
    cone = found[found["kind"] == "cone"]
    over = outranked(cone, found[found["kind"] == "pit"], days=False)["pit"] != ""
    return found.assign(used=~over.reindex(found.index, fill_value=False))


def weight_of_pan(stations: pd.DataFrame) -> float:
    """Return how much the place speaks for a pan, as a log likelihood ratio."""
    read = read_stations(heard(stations))
    here = [k for k, name in enumerate(read.names) if not name.startswith("T")]
    there, absent = reporting().likelihoods(read.with_pan[here], read.known[here])
    return float(np.log(there / absent).sum())


@given(COUNTS, st.booleans(), st.floats(20.0, 50.0))
def test_a_pit_adds_to_the_stations_that_say_the_same_and_silences_those_that_do_not(
    counts: list[tuple[int, int]], pit_pan: bool, pit_cm: float
) -> None:
    same = [one for one in counts if (one[0] > 0 and 2 * one[0] >= one[1]) == pit_pan]
    both = weight_of_pan(table(counts, pit_pan, pit_cm=pit_cm))
    alone = weight_of_pan(table(same, None)) if same else 0.0
    pit = weight_of_pan(table([(0, 0)], pit_pan))
    assert both == pytest.approx(alone + pit)
    assert pit > 0 if pit_pan else pit < 0


@pytest.mark.parametrize("pit_pan", [True, False])
def test_a_pit_that_agrees_makes_the_place_surer_as_one_further_off_does(*, pit_pan: bool) -> None:
    said = [(3 if pit_pan else 0, 3)]
    place, part = np.zeros((1, 2)), ["body"]
    alone, near, apart = (
        PanModel.fit(heard(one)).predict(place, part).pan_probability[0]
        for one in (table(said, None), table(said, pit_pan), table(said, pit_pan, 6.0))
    )
    assert near > alone if pit_pan else near < alone
    assert near == pytest.approx(apart, abs=0.02)


def test_a_base_that_both_read_is_surer_and_one_that_differs_is_the_pits() -> None:
    place, part, said = np.zeros((1, 2)), ["body"], [(3, 3)]

    def told(one: pd.DataFrame) -> tuple[float, float]:
        pan = PanModel.fit(heard(one)).predict(place, part)
        return float(pan.base_mean_cm[0]), float(pan.base_sd_cm[0])

    alone, both, other = told(table(said, None)), told(table(said, True)), told(
        table(said, True, pit_cm=BASE_CM + 4.0)
    )  # fmt: skip
    assert both[1] < alone[1]
    assert other[0] > both[0] + 1.0
    differ = table(said, True, pit_cm=BASE_CM + 4.0)
    assert not differ.set_index("station").loc["S0", "used"]
    assert np.isnan(heard(differ).set_index("station").loc["S0", "pan_base_cm"])


@given(COUNTS, st.booleans(), st.floats(20.0, 50.0), st.sampled_from(["A", "P1", "Z9"]))
def test_names_change_nothing_and_rows_are_found_by_their_label(
    counts: list[tuple[int, int]], pit_pan: bool, pit_cm: float, pit: str
) -> None:
    stations = table(counts, pit_pan, pit_cm=pit_cm)
    named = table(counts, pit_pan, pit_cm=pit_cm, pit=pit)
    assert weight_of_pan(named) == pytest.approx(weight_of_pan(stations))
    used = heard(named)
    assert used.loc[read_stations(used).rows, "station"].tolist() == sorted(used["station"])
