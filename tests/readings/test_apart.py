"""One name at two places."""

from __future__ import annotations

import pandas as pd
from hypothesis import given
from hypothesis import strategies as st

from zoning.readings.apart import Apart, stations_apart
from zoning.readings.rules import rule
from zoning.readings.text_table import limited


def at(*places: tuple[str, float], file: str = "a.csv", first: int = 2) -> pd.DataFrame:
    frame = pd.DataFrame(list(places), columns=["station", "x_m"])
    rows = range(first, first + len(frame))
    return frame.assign(y_m=0.0, file=file, row=rows, given_x=frame["x_m"], given_y=0.0)


def words(found: Apart) -> list[str]:
    return [str(fault) for fault in found.faults]


def test_rows_about_each_of_the_two_places_are_named() -> None:
    found = stations_apart(at(("A", 0), ("A", 1), ("A", 35), ("A", 34), ("B", 0)))
    (said,) = words(found)
    assert said.startswith("a.csv:2: station: Rows 2-3 and rows 4-5 are both A, 35 m apart.")
    assert found.stations == {"A"}
    assert found.notices == ()


def test_a_row_of_another_file_is_named_with_it() -> None:
    both = pd.concat([at(("A", 0)), at(("A", 40), file="b.csv", first=9)])
    (said,) = words(stations_apart(both))
    assert "Row 2 and row 9 of b.csv are both A, 40 m apart." in said


def test_within_the_limit_a_station_is_told_and_near_ones_are_not() -> None:
    found = stations_apart(at(("A", 0), ("A", 12), ("B", 0), ("B", 4)))
    (told,) = found.notices
    assert (found.faults, found.stations) == ((), frozenset())
    assert (told.code, "A (12 m)" in told.text, "B" in told.text) == ("station-apart", True, False)


def test_many_stations_apart_are_one_message() -> None:
    rows = [(f"S{i:02}", x) for i in range(30) for x in (0.0, 300.0)]
    (told,) = limited(stations_apart(at(*rows)).faults)
    assert "and 20 more lie up to 300 m apart" in told.what


def test_a_place_that_is_not_known_counts_for_nothing() -> None:
    assert stations_apart(at(("A", 0), ("A", float("nan")))).faults == ()


@given(st.lists(st.floats(0, 400), min_size=1, max_size=12))
def test_every_row_of_a_refused_station_is_named_once(places: list[float]) -> None:
    found = stations_apart(at(*[("A", x) for x in places]))
    assert bool(found.faults) == (max(places) - min(places) > rule("station_spread_m"))
    for fault in found.faults:
        named = fault.what.partition(" are both")[0].lower().replace("rows", "").replace("row", "")
        rows = []
        for run in named.replace(" and ", ",").split(","):
            low, _, high = run.partition("-")
            rows += range(int(low), int(high or low) + 1)
        assert sorted(rows) == list(range(2, 2 + len(places)))
