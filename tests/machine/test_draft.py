"""Draft equation against the grid of ASAE D497 and a printed worked example."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from zoning.machine import draft_n, draft_row, machine_draft
from zoning.machine.draft import draft_findings, row_of
from zoning.model.settings import MachineSection

SPEED = st.floats(0, 20)
DEPTH = st.floats(0, 60)


@pytest.mark.parametrize(
    ("implement", "texture", "newtons"),
    [
        # ASAE D497.4-.7 Table 1 (coefficients from memory, high confidence), one leg, 6 km/h, 40 cm
        ("subsoiler_narrow", "fine", 11_632.0),
        ("subsoiler_narrow", "medium", 8_142.4),
        ("subsoiler_narrow", "coarse", 5_234.4),
        ("subsoiler_winged", "fine", 15_216.0),
        ("subsoiler_winged", "medium", 10_651.2),
    ],
)
def test_grid_of_the_standard(implement: str, texture: str, newtons: float) -> None:
    assert draft_n(draft_row(implement), texture, 6, 40, 1) == pytest.approx(newtons, rel=1e-12)


def test_si_and_us_coefficients_agree() -> None:
    # ASAE D497 Table 1 gives both (from memory): lbf = F (A + C mph^2) tools in.
    for implement, a_us, c_us in (("subsoiler_narrow", 129, 2.7), ("subsoiler_winged", 167, 3.5)):
        mph, inch = 4.0, 14.0
        us_n = (a_us + c_us * mph**2) * inch * 4.4482216152605
        assert draft_n(
            draft_row(implement), "fine", mph * 1.609344, inch * 2.54, 1
        ) == pytest.approx(us_n, rel=0.01)


def test_worked_example_b_chisel() -> None:
    """Field and Solie, Metric Problems: 45 tines, 15 cm, 10 km/h, factor 0.7: 68 512.5 N."""
    row = draft_row("chisel_5cm")
    assert 0.7 * draft_n(row, "fine", 10, 15, 45) == pytest.approx(68_512.5)
    # With the standard's own medium factor of 0.85 (from memory).
    assert draft_n(row, "medium", 10, 15, 45) == pytest.approx(83_193.75)


def test_mouldboard_counts_metres() -> None:
    # ASAE D497: 652 + 5.1 S^2 N per m and cm, fine soil; by hand at 8 km/h, 2 m, 20 cm.
    assert draft_n(draft_row("mouldboard"), "fine", 8, 20, 2) == pytest.approx(
        (652 + 5.1 * 64) * 2 * 20
    )


@given(SPEED, SPEED, DEPTH)
def test_faster_is_never_less_draft(one: float, other: float, depth_cm: float) -> None:
    row = draft_row("subsoiler_winged")
    slow, fast = sorted([one, other])
    assert draft_n(row, "fine", slow, depth_cm, 7) <= draft_n(row, "fine", fast, depth_cm, 7)


@given(SPEED, DEPTH, DEPTH)
def test_deeper_is_never_less_draft(speed_km_h: float, one: float, other: float) -> None:
    row = draft_row("subsoiler_narrow")
    shallow, deep = sorted([one, other])
    assert draft_n(row, "coarse", speed_km_h, shallow, 7) <= draft_n(
        row, "coarse", speed_km_h, deep, 7
    )


@pytest.mark.parametrize(("speed", "depth", "tools"), [(-1, 30, 1), (6, -1, 1), (6, 30, -1)])
def test_negative_values_are_refused(speed: float, depth: float, tools: float) -> None:
    with pytest.raises(ValueError, match="negative"):
        draft_n(draft_row("subsoiler_narrow"), "fine", speed, depth, tools)


def test_unknown_implement_is_named() -> None:
    with pytest.raises(KeyError, match="roller"):
        draft_row("roller")


def test_points_choose_the_row() -> None:
    assert row_of(MachineSection(point="plain")).implement == "subsoiler_narrow"
    assert row_of(MachineSection(point="winged")).implement == "subsoiler_winged"


def test_machine_draft_counts_every_leg_and_shows_the_range() -> None:
    machine = MachineSection(legs=7)
    draft = machine_draft(machine, "fine", 6, 40)
    assert draft.value_kn == pytest.approx(7 * 11.632)
    # +-50 %: ASAE D497 Table 1, from memory.
    assert (draft.low_kn, draft.high_kn) == pytest.approx(
        (0.5 * draft.value_kn, 1.5 * draft.value_kn)
    )


def test_what_the_equation_leaves_out_is_told() -> None:
    assert draft_findings(MachineSection(point="plain")) == ()
    assert draft_findings(MachineSection(point="winged", wing_width_cm=30)) == ()
    told = draft_findings(MachineSection(point="winged", wing_width_cm=20, leading_tines=True))
    assert {each.code for each in told} == {"leading-tines-not-in-draft", "other-wing-width"}
