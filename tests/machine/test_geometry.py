"""Leg geometry against common practice, named sources and geometry by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from zoning.machine import (
    critical_depth_cm,
    legs,
    legs_behind_wheels,
    ridge_cm,
    spacing_findings,
    wheel_findings,
    widest_spacing_cm,
)
from zoning.model.settings import MachineSection


def codes(machine: MachineSection, depth_cm: float, ridge: float | None = None) -> set[str]:
    return {each.code for each in spacing_findings(machine, depth_cm, ridge)}


@pytest.mark.parametrize(
    ("points", "spacing_cm"),
    # Common practice at 30 cm deep; the same factors are Spoor and Godwin 1978, from memory
    [("plain", 45.0), ("winged", 60.0), ("winged_after_leading_tines", 75.0)],
)
def test_spacing_at_thirty_centimetres(points: str, spacing_cm: float) -> None:
    assert widest_spacing_cm(points, 30) == spacing_cm


def test_wider_than_the_rule_is_found_with_what_to_change() -> None:
    machine = MachineSection(leg_spacing_cm=55, point="plain", foot_width_cm=8)
    assert "legs-too-wide" in codes(machine, 30)
    (found,) = [f for f in spacing_findings(machine, 30) if f.code == "legs-too-wide"]
    assert found.level == "change"
    assert "45 cm" in found.remedy
    assert "wings" in found.remedy
    assert "two passes" in found.remedy


def test_wings_and_leading_tines_allow_more() -> None:
    assert "legs-too-wide" not in codes(MachineSection(leg_spacing_cm=60, point="winged"), 30)
    assert "legs-too-wide" in codes(MachineSection(leg_spacing_cm=61, point="winged"), 30)
    tined = MachineSection(leg_spacing_cm=75, point="winged", leading_tines=True)
    assert "legs-too-wide" not in codes(tined, 30)


def test_leading_tines_before_plain_points_have_no_rule_of_their_own() -> None:
    assert "legs-too-wide" in codes(MachineSection(leg_spacing_cm=55, leading_tines=True), 30)


def test_wings_are_not_offered_where_they_would_not_do() -> None:
    machine = MachineSection(leg_spacing_cm=90)
    (found,) = [f for f in spacing_findings(machine, 30) if f.code == "legs-too-wide"]
    assert "wings" not in found.remedy
    assert "two passes" in found.remedy  # half of 90 is 45 cm


def test_ripping_thirty_deep_with_tines_thirty_apart_is_within_the_rule() -> None:
    # Hamza, GRDC final report: full result with tines no wider than 30 cm at 30 cm deep
    assert not {"legs-too-wide", "legs-closer-than-needed"} & codes(
        MachineSection(leg_spacing_cm=30), 30
    )


def test_closer_than_needed_is_a_note() -> None:
    (found,) = [
        f
        for f in spacing_findings(MachineSection(leg_spacing_cm=40), 45)
        if f.code == "legs-closer-than-needed"
    ]
    assert found.level == "note"


def test_critical_depth_counts_the_foot() -> None:
    # Spoor and Godwin 1978 (from memory): 5 to 7 times the foot; Godwin lecture: 6
    assert critical_depth_cm(6) == pytest.approx((30, 36, 42))


@pytest.mark.parametrize(
    ("depth_cm", "code"),
    [
        (30, None),
        (33, "near-critical-depth"),
        (36, "near-critical-depth"),
        (37, "below-critical-depth"),
    ],
)
def test_critical_depth_of_a_plain_foot(depth_cm: float, code: str | None) -> None:
    found = codes(MachineSection(foot_width_cm=6), depth_cm) & {
        "near-critical-depth",
        "below-critical-depth",
    }
    assert found == ({code} if code else set())


def test_the_foot_is_told_as_it_was_given() -> None:
    # 2.5 in; to one decimal it was 6.3 cm, beside six widths of 38.1 cm
    found = spacing_findings(MachineSection(foot_width_cm=6.35), 40.0)
    assert any("a plain foot 6.35 cm wide" in each.text for each in found)


def test_wings_turn_critical_depth_into_something_to_look_at() -> None:
    machine = MachineSection(foot_width_cm=6, point="winged", wing_width_cm=30)
    assert "near-critical-depth" in codes(machine, 45)
    assert "below-critical-depth" not in codes(machine, 45)


def test_no_depth_orders_wider_legs_that_a_shallower_one_wants_closer() -> None:
    machine = MachineSection(leg_spacing_cm=55, point="winged", wing_width_cm=30)
    shallow = {each.code: each.remedy for each in spacing_findings(machine, 25)}
    deep = {each.code: each.remedy for each in spacing_findings(machine, 40)}
    assert "50 cm apart or closer" in shallow["legs-too-wide"]
    remedy = deep["legs-closer-than-needed"]
    assert remedy.startswith("Leave them where shallower work")


@pytest.mark.parametrize(
    ("spacing_cm", "foot_cm", "ridge"),
    [(43, 6, 18.5), (50, 10, 20.0), (20, 20, 0.0), (15, 20, 0.0)],  # (spacing - foot) / 2 x tan 45
)
def test_ridge_by_geometry(spacing_cm: float, foot_cm: float, ridge: float) -> None:
    machine = MachineSection(leg_spacing_cm=spacing_cm, foot_width_cm=foot_cm)
    assert ridge_cm(machine, 40) == pytest.approx(ridge)


def test_ridge_starts_at_the_wing_and_ends_at_the_surface() -> None:
    winged = MachineSection(leg_spacing_cm=60, foot_width_cm=6, point="winged", wing_width_cm=30)
    assert ridge_cm(winged, 40) == pytest.approx(15.0)
    assert ridge_cm(MachineSection(leg_spacing_cm=100), 20) == 20.0


@pytest.mark.parametrize("point", ["plain", "winged"])
@pytest.mark.parametrize("spacing_cm", [43, 50, 60, 80])
def test_no_plan_asks_for_wider_and_for_closer_legs_at_once(point: str, spacing_cm: float) -> None:
    machine = MachineSection(leg_spacing_cm=spacing_cm, point=point, wing_width_cm=20)
    told = {f.code: f.remedy for f in spacing_findings(machine, 44)}
    assert "ridge-between-legs" in told
    close = "legs-closer-than-needed" in told
    assert ("Closer legs" in told["ridge-between-legs"]) == (not close)


def test_a_measured_ridge_outranks_geometry() -> None:
    machine = MachineSection(leg_spacing_cm=43, foot_width_cm=6)
    assert "ridge-between-legs" in codes(machine, 40)
    assert "ridge-between-legs" not in codes(
        machine, 40, 3.0
    )  # as often at 10 km/h: common practice
    (found,) = [f for f in spacing_findings(machine, 40, 12.0) if f.code == "ridge-between-legs"]
    assert "28 cm" in found.text
    assert "measured" in found.text


def test_depth_range() -> None:
    machine = MachineSection(depth_min_cm=15, depth_max_cm=45)
    assert "depth-range" in codes(machine, 12.5)
    assert "depth-range" in codes(machine, 47.5)
    assert "depth-range" not in codes(machine, 45)


def test_lifted_out_has_nothing_to_find() -> None:
    assert spacing_findings(MachineSection(leg_spacing_cm=200), 0) == ()


def test_two_row_frame_alternates() -> None:
    layout = legs(MachineSection(legs=5, leg_spacing_cm=40, frame="two_row", row_gap_cm=90))
    assert [leg.across_cm for leg in layout] == [-80, -40, 0, 40, 80]
    assert [leg.behind_cm for leg in layout] == [0, 90, 0, 90, 0]


def test_v_frame_falls_back_to_both_sides() -> None:
    odd = legs(MachineSection(legs=5, frame="v", row_gap_cm=90))
    assert [leg.behind_cm for leg in odd] == [90, 45, 0, 45, 90]
    even = legs(MachineSection(legs=6, frame="v", row_gap_cm=90))
    assert [leg.behind_cm for leg in even] == [90, 45, 0, 0, 45, 90]


def test_straight_frame_has_one_row() -> None:
    assert {leg.behind_cm for leg in legs(MachineSection(frame="straight", row_gap_cm=90))} == {0}


@pytest.mark.parametrize("count", [1, 2])
def test_too_few_legs_for_a_v(count: int) -> None:
    assert {leg.behind_cm for leg in legs(MachineSection(legs=count, frame="v"))} == {0}


def test_legs_behind_wheels_by_hand() -> None:
    machine = MachineSection(
        legs=7, leg_spacing_cm=43
    )  # legs at 0, 43, 86 and 129 cm from the middle
    assert legs_behind_wheels(machine, 180, 50) == (2, 6)  # wheel marks 65 to 115 cm
    assert legs_behind_wheels(machine, 130, 20) == ()  # wheel marks 55 to 75 cm


def test_wheel_findings_say_that_the_track_is_assumed() -> None:
    (behind,) = wheel_findings(MachineSection(legs=7, leg_spacing_cm=43))
    assert behind.code == "legs-behind-wheels"
    assert "2, 6" in behind.text
    (between,) = wheel_findings(MachineSection(legs=1))
    assert between.code == "wheels-between-legs"
    assert "assumed" in behind.text
    assert "assumed" in between.text


@given(st.floats(15, 60), st.floats(15, 60), st.floats(10, 120))
def test_what_fits_at_a_depth_fits_deeper(one: float, other: float, spacing_cm: float) -> None:
    shallow, deep = sorted([one, other])
    machine = MachineSection(leg_spacing_cm=spacing_cm, depth_max_cm=60)
    if "legs-too-wide" in codes(machine, deep):
        assert "legs-too-wide" in codes(machine, shallow)


@given(st.floats(15, 60), st.floats(10, 120), st.floats(10, 120))
def test_wider_legs_never_lower_the_ridge(depth_cm: float, one: float, other: float) -> None:
    close, wide = sorted([one, other])
    ridges = [ridge_cm(MachineSection(leg_spacing_cm=s), depth_cm) for s in (close, wide)]
    assert 0 <= ridges[0] <= ridges[1] <= depth_cm
