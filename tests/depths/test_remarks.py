from __future__ import annotations

from dataclasses import replace

import numpy as np

from zoning.depths.remarks import Facts, remarks

PLAIN = Facts(
    area_m2=np.array([5000.0, 5000.0]),
    needed_cm=np.array([30.0, 35.0]),
    cap_cm=np.array([45.0, 45.0]),
    depth_cm=np.array([30.0, 35.0]),
    deepest_cm=45.0,
    lift_out=True,
    min_run_m=25.0,
    short_worked_m=(),
    slivers_m2=0.0,
    proven=True,
    left_out_m2={},
    pan_met=True,
    patches_m2=(),
)


def told(**changes: object) -> dict[str, str]:
    return {notice.code: notice.text for notice in remarks(replace(PLAIN, **changes))}


def test_nothing_is_said_where_nothing_is_amiss() -> None:
    assert told() == {}


def test_ground_held_back_by_hazards_is_told() -> None:
    assert "0.50 ha" in told(cap_cm=np.array([45.0, 20.0]))["hazards-limit-depth"]
    assert told(cap_cm=np.array([45.0, 40.0])) == {}
    sliver = {"area_m2": np.array([5000.0, 20.0]), "cap_cm": np.array([45.0, 20.0])}
    assert told(**sliver)["hazards-limit-depth"].startswith("On less than 0.01 ha hazards keep")


def test_lifting_that_was_switched_off_but_must_be_is_a_caution() -> None:
    found = remarks(replace(PLAIN, cap_cm=np.array([45.0, 0.0]), lift_out=False))
    assert [n.level for n in found if n.code == "lifted-at-hazards"] == ["caution"]
    assert "lifted-at-hazards" not in told(cap_cm=np.array([45.0, 0.0]))


def test_worked_runs_that_hazards_make_short_are_counted_and_driven() -> None:
    one = told(short_worked_m=(10.0,))["short-runs-at-hazards"]
    assert one.startswith(
        "1 worked run is shorter than 25 m (min_run_m) near hazards, down to 10 m"
    )
    text = told(short_worked_m=(10.0, 5.2))["short-runs-at-hazards"]
    assert text.startswith("2 worked runs are shorter")
    assert text.endswith("down to 5 m: drive them as they stand.")


def test_work_too_short_to_sink_on_is_told_and_never_to_be_driven() -> None:
    left_out = told(slivers_m2=100.0)["short-runs-at-hazards"]
    assert left_out.startswith("Work under 5 m beside a lift is left out (0.01 ha)")
    kept = told(short_worked_m=(10.0, 2.0), slivers_m2=100.0)["short-runs-at-hazards"]
    assert "down to 2 m: stay lifted on those under 5 m. Work under 5 m" in kept
    assert "drive them" not in kept


def test_a_set_of_depths_that_may_not_be_the_best_says_so() -> None:
    assert "another of as many depths may lose" in told(proven=False)["depths-not-proven"]


def test_a_depth_left_out_is_told_with_its_ground() -> None:
    text = told(left_out_m2={32.5: 200.0})["depth-not-worth-setting"]
    assert text.startswith("32.5 cm would suit 0.02 ha best, but moving the pins for that costs")
    text = told(left_out_m2={32.5: 15.0})["depth-not-worth-setting"]
    assert text.startswith("32.5 cm would suit less than 0.01 ha best")


def test_a_field_that_needs_no_work_is_told() -> None:
    assert set(told(depth_cm=np.zeros(2))) == {"nothing-to-loosen"}


def test_work_left_out_since_it_lies_alone_is_told() -> None:
    text = told(patches_m2=(100.0, 200.0))["patch-not-worth-going"]
    assert text.startswith("2 patches of 0.03 ha in all would just pay for work, but lie alone")
