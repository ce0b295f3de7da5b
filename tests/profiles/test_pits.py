"""Pits as stations, and which cone stations they outrank."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from zoning.profiles import join_stations
from zoning.profiles.pits import pit_stations
from zoning.profiles.rules import rule

NAN = float("nan")
OTHER = {"pan_base_cm": 44.0}  # the probe of these tests reads 30 cm


def test_a_pit_with_a_base_is_a_precise_station(pit) -> None:
    row = pit_stations(pit()).iloc[0]
    assert (row["kind"], row["verdict"], row["n_pan"], row["n_known"]) == ("pit", "pan", 1, 1)
    assert row["pan_base_cm"] == 31.0
    assert row["error_sd_cm"] == rule("pit_error_sd_cm")
    assert row["used"]


def test_a_pit_dug_after_the_work_is_left_out(pit) -> None:
    assert pit_stations(pit(phase="after")).empty


def test_a_pan_without_a_base_counts_for_presence_only(pit) -> None:
    row = pit_stations(pit(pan_base_cm=NAN)).iloc[0]
    assert (row["verdict"], row["n_pan"], row["n_known"]) == ("pan", 1, 1)
    assert np.isnan(row["pan_base_cm"])
    assert np.isnan(row["error_sd_cm"])
    assert row["used"]


@pytest.mark.parametrize(
    ("pan", "base", "verdict", "used"),
    [("no", NAN, "no_pan", True), ("", NAN, "unusable", False), ("", 30.0, "pan", True)],
)
def test_what_a_pit_says_about_a_pan(pit, pan, base, verdict, used) -> None:
    row = pit_stations(pit(pan=pan, pan_base_cm=base, pan_top_cm=NAN)).iloc[0]
    assert row["verdict"] == verdict
    assert row["used"] == used


def test_depths_beside_no_pan_are_not_used_and_that_is_said(pit) -> None:
    row = pit_stations(pit(pan="no")).iloc[0]
    assert np.isnan(row["pan_base_cm"])
    assert "not used" in row["reason"]


@pytest.mark.parametrize(("distance", "used"), [(0.0, False), (4.9, False), (5.1, True)])
def test_a_pit_outranks_the_probe_at_the_same_place(pit, insertions_of, distance, used) -> None:
    cone = insertions_of([{"x_m": 1000.0 + distance, "y_m": 2000.0}])
    out = join_stations(cone, pit(**OTHER)).set_index("kind")
    assert out.loc["cone", "used"] == used
    assert out.loc["cone", "pan_base_cm"] == 30.0
    assert out.loc["pit", "used"]
    assert ("pit P1" in out.loc["cone", "reason"]) != used


def test_a_station_left_out_for_a_pit_tells_what_both_found(pit, insertions_of) -> None:
    cone = insertions_of([{"x_m": 1000.0, "y_m": 2000.0}])
    dug = pit(pan="no", pan_base_cm=NAN, pan_top_cm=NAN, structure_score=2.0)
    reason = join_stations(cone, dug).set_index("kind").loc["cone", "reason"]
    assert reason.startswith("1 insertion shows a pan. Base read: 30 cm.")
    assert reason.endswith("outranks it: no pan, structure score 2.")
    reason = join_stations(cone, pit(**OTHER)).set_index("kind").loc["cone", "reason"]
    assert reason.endswith(
        "Base read: 30 cm. Its base is not used: pit P1 stands at the same place and outranks it: "
        "pan, base 44 cm. That both show a pan counts."
    )
    agree = join_stations(cone, pit()).set_index("kind").loc["cone"]
    assert agree["used"]
    assert "pit" not in agree["reason"]


def test_where_days_differ_a_base_is_not_dropped_for_what_the_day_may_add(pit, insertions_of):
    near = {"x_m": 1000.0, "y_m": 2000.0, "date": "2026-09-28"}
    far = {"x_m": 1300.0, "y_m": 2000.0, "station": "B", "insertion_id": "B/1"}
    dug = pit(pan_base_cm=35.5)  # 5.5 cm off; errors of 2 and 1 cm, a day of 2 cm: 6 cm differ
    for date, used in (("2026-09-28", False), ("2026-09-14", True)):
        out = join_stations(insertions_of([near, far | {"date": date}]), dug)
        assert out.set_index("station").loc["A", "used"] == used


def test_a_pit_on_another_part_outranks_nothing(pit, insertions_of) -> None:
    cone = insertions_of([{"x_m": 1001.0, "y_m": 2000.0, "part": "wheeling"}])
    assert join_stations(cone, pit(part="body", **OTHER))["used"].all()
    assert not join_stations(cone, pit(part="wheeling", **OTHER))["used"].all()


def test_a_pit_without_a_base_leaves_a_probe_that_found_one(pit, insertions_of) -> None:
    cone = insertions_of([{"x_m": 1000.0, "y_m": 2000.0}])
    assert join_stations(cone, pit(pan_base_cm=NAN))["used"].all()
    assert not join_stations(cone, pit(pan="no", pan_base_cm=NAN, pan_top_cm=NAN))["used"].all()


def test_a_pit_that_is_outvoted_outranks_nothing(pit, insertions_of) -> None:
    cone = insertions_of([{"x_m": 1000.0, "y_m": 2000.0}])
    assert join_stations(cone, pit(**OTHER), outvoted=["P1"])["used"].all()
    two = pd.concat([pit(**OTHER), pit(pit="P2", **OTHER)])
    assert not join_stations(cone, two, outvoted=["P1"])["used"].all()


def test_a_pit_that_does_not_say_outranks_nothing(pit, insertions_of) -> None:
    cone = insertions_of([{"x_m": 1000.0, "y_m": 2000.0}])
    out = join_stations(cone, pit(pan="", pan_base_cm=NAN)).set_index("kind")
    assert out["used"].to_dict() == {"cone": True, "pit": False}


def test_the_nearest_of_two_pits_is_named(pit, insertions_of) -> None:
    cone = insertions_of([{"x_m": 1001.0, "y_m": 2000.0}])
    pits = pd.concat([pit(pit="far", x_m=1004.0, **OTHER), pit(pit="near", x_m=1001.5, **OTHER)])
    reason = join_stations(cone, pits).set_index("kind").loc["cone", "reason"]
    assert "pit near" in reason
