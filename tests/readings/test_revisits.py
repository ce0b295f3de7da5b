"""A station probed on several days."""

from __future__ import annotations

import pandas as pd

from zoning.readings.revisits import station_a_day


def pushes(*rows: tuple[str, int, str]) -> pd.DataFrame:
    """Return two readings a push: station, number, date of the first of them."""
    frame = pd.DataFrame(rows, columns=["station", "insertion", "date"])
    frame["insertion_id"] = frame["station"] + "/" + frame["insertion"].astype(str)
    return pd.concat([frame, frame.assign(date="")], ignore_index=True)


def test_a_later_day_is_a_station_of_its_own_and_no_push_changes_its_date() -> None:
    given = pushes(("A", 1, "2026-09-01"), ("A", 2, ""), ("A", 3, "2026-09-09"), ("B", 1, "x"))
    for frame in (given, given[::-1]):
        parted, (told,) = station_a_day(frame)
        dated = parted[parted["date"] == "2026-09-09"]
        assert set(dated["insertion_id"]) == {"A (2026-09-09)/3"}
        rest = parted[parted["station"] != "A (2026-09-09)"]
        assert set(rest["insertion_id"]) == {"A/1", "A/2", "B/1"}
        assert (parted.index == frame.index).all()
        assert (
            parted["insertion_id"] == parted["station"] + "/" + parted["insertion"].map(str)
        ).all()
        assert parted.groupby("station")["date"].max().to_dict() == {
            "A": "2026-09-01", "A (2026-09-09)": "2026-09-09", "B": "x",
        }  # fmt: skip
        assert "A (2026-09-09)" in told.text


def test_stations_of_one_day_are_left_as_they_are() -> None:
    given = pushes(("A", 1, "2026-09-01"), ("A", 2, "2026-09-01"), ("B", 1, "2026-09-09"))
    parted, told = station_a_day(given)
    assert told == []
    pd.testing.assert_frame_equal(parted, given)
