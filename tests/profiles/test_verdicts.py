"""Which hard layer is the pan: profiles drawn by hand, one or more for each verdict.

The crossing of the limit as top and base follows NRCCA/Cornell PO35; the rules about stones,
crusts, gaps and refusals are this project's own choices, stated in
``shared/tables/profile_rules.csv``.
"""

from __future__ import annotations

import numpy as np
import pytest

from zoning.profiles import interpret
from zoning.profiles.rules import rule

STEP = 2.5
NAN = float("nan")


def shown(insertion, index, *, step=STEP, **given):
    depth = step * np.arange(1, len(index) + 1)
    return interpret(insertion("A/1", depth, index, **given), limit_mpa=2.0).iloc[0]


def soft(n: int) -> list[float]:
    return [1.0] * n


def test_pan_between_its_crossings(insertion) -> None:
    row = shown(insertion, [*soft(8), 3.0, 3.0, 3.0, 3.0, *soft(8)])
    assert row["verdict"] == "pan"
    assert row["pan_top_cm"] == pytest.approx(21.25)
    assert row["pan_base_cm"] == pytest.approx(31.25)
    assert not row["censored"]
    assert row["over_limit_38"]


def test_no_pan_in_soft_soil_deep_enough(insertion) -> None:
    row = shown(insertion, soft(18))
    assert row["verdict"] == "no_pan"
    assert np.isnan(row["pan_base_cm"])
    assert not row["over_limit_38"]


def test_a_shallow_clean_push_says_nothing(insertion) -> None:
    n = int(rule("clear_depth_cm") / STEP) - 1
    row = shown(insertion, soft(n))
    assert row["verdict"] == "unusable"
    assert "deeper" in row["reason"]
    assert shown(insertion, soft(n + 1))["verdict"] == "no_pan"


@pytest.mark.parametrize("end_cm", [30.0, 32.5, 37.5])
@pytest.mark.parametrize("refused", ["", "yes"])
def test_a_push_that_stops_where_a_pan_may_yet_begin_says_nothing(
    insertion, end_cm, refused
) -> None:
    row = shown(insertion, soft(int(end_cm / STEP)), refused=refused)
    assert row["verdict"] == "unusable"


def test_hard_soil_too_deep_for_a_pan_is_told_as_subsoil(insertion) -> None:
    row = shown(insertion, [*soft(17), *[3.0] * 7])
    assert row["verdict"] == "no_pan"
    assert "begins at 43.8 cm: taken as subsoil" in row["reason"]
    assert "Another" not in row["reason"]


def test_still_hard_at_the_end_of_a_full_push(insertion) -> None:
    row = shown(insertion, [*soft(12), *[3.0] * 6])
    assert row["verdict"] == "base_not_reached"
    assert row["censored"]
    assert row["pan_top_cm"] == pytest.approx(31.25)
    assert row["pan_base_cm"] == 45.0


def test_no_more_than_a_pan_is_thick_is_claimed_below_its_top(insertion) -> None:
    row = shown(insertion, [*soft(8), *[3.0] * 11])
    assert row["verdict"] == "base_not_reached"
    assert row["pan_base_cm"] == pytest.approx(row["pan_top_cm"] + rule("pan_thickness_max_cm"))
    assert "47.5" in row["reason"]


@pytest.mark.parametrize(
    ("index", "given"),
    [
        ([*soft(8), 2.5, 3.0, 3.4, 0, 0, 0, 0, 0, 0], {}),
        ([*soft(8), 2.5, 3.0, 3.4, NAN, NAN, NAN, NAN, NAN], {}),
        ([*soft(8), 2.5, 3.0, 3.4], {"refused": "yes"}),
        ([*soft(8), 2.5, 3.0, 3.4], {}),
    ],
    ids=["zeros", "blanks", "noted", "short"],
)
def test_a_stop_in_hard_soil_is_a_refusal(insertion, index, given) -> None:
    row = shown(insertion, index, **given)
    assert row["verdict"] == "refused"
    assert row["censored"]
    assert row["pan_top_cm"] == pytest.approx(20 + STEP / 1.5)
    assert row["pan_base_cm"] == 27.5


def test_zero_after_a_hard_layer_is_never_taken_as_its_base(insertion) -> None:
    row = shown(insertion, [*soft(8), 2.5, 3.0, 3.4, 1.2, 0, 0, 0, 0, 0])
    assert row["verdict"] == "refused"
    assert row["pan_base_cm"] == 27.5


def test_a_stop_out_of_soft_soil_met_a_stone(insertion) -> None:
    for index, given in [
        ([*soft(8), 7.0, 0, 0, 0, 0, 0, 0, 0], {}),
        ([*soft(8), 7.0], {"refused": "yes"}),
        (soft(8), {"refused": "yes"}),
    ]:
        row = shown(insertion, index, **given)
        assert row["verdict"] == "unusable"
        assert "stone" in row["reason"]
        assert row["deepest_cm"] == 20.0
        assert not row["over_limit_38"]


def test_a_stone_below_the_pan_leaves_the_pan_known(insertion) -> None:
    row = shown(insertion, [*soft(6), 3.0, 3.0, 3.0, *soft(4), 7.0], refused="yes")
    assert row["verdict"] == "pan"
    assert row["pan_base_cm"] == pytest.approx(23.75)
    assert "on a stone" in row["reason"]


def test_a_leap_out_of_hard_soil_does_not_move_the_bound(insertion) -> None:
    row = shown(insertion, [*soft(8), 2.6, 3.0, 7.5], refused="yes")
    assert row["verdict"] == "refused"
    assert row["pan_base_cm"] == 25.0


def test_hard_from_the_top_with_no_base_is_no_pan(insertion) -> None:
    row = shown(insertion, [2.4, *[3.0] * 17])
    assert row["verdict"] == "hard_throughout"
    assert not row["censored"]
    assert np.isnan(row["pan_base_cm"])
    assert "pit" in row["reason"]


def test_hard_ground_much_thicker_than_a_pan_is_no_pan(insertion) -> None:
    row = shown(insertion, [*soft(6), *[3.0] * 18])
    assert row["verdict"] == "hard_throughout"


def test_a_base_met_at_the_end_of_such_ground_makes_it_no_pan(insertion) -> None:
    row = shown(insertion, [*soft(6), *[3.0] * 15, *soft(3)])
    assert row["verdict"] == "hard_throughout"
    assert "37.5 cm thick" in row["reason"]
    assert "Dig a pit here." in row["reason"]
    assert shown(insertion, [*soft(6), *[3.0] * 11, *soft(7)])["verdict"] == "pan"


def test_two_pans_that_are_thick_only_together_are_no_such_ground(insertion) -> None:
    row = shown(insertion, [*soft(4), *[3.0] * 5, *soft(4), *[3.0] * 4, *soft(7)])
    assert row["verdict"] == "pan"
    assert row["pan_base_cm"] - row["pan_top_cm"] > rule("hard_ground_cm")


def test_a_pan_may_begin_at_the_surface(insertion) -> None:
    row = shown(insertion, [*[2.8] * 7, *soft(12)])
    assert row["verdict"] == "pan"
    assert row["pan_top_cm"] == 0.0


def test_a_surface_crust_is_set_aside_and_the_pan_below_it_found(insertion) -> None:
    row = shown(insertion, [2.8, 2.6, *soft(7), 3.0, 3.0, 3.0, *soft(7)])
    assert row["verdict"] == "pan"
    assert row["pan_top_cm"] == pytest.approx(23.75)
    assert "crust" in row["reason"]
    assert shown(insertion, [2.8, 2.6, *soft(16)])["verdict"] == "no_pan"


def test_layers_with_a_thin_gap_are_one_pan(insertion) -> None:
    row = shown(insertion, [*soft(7), 3.0, 3.0, 3.0, 1.5, 3.0, 3.0, 3.0, *soft(6)])
    assert row["pan_top_cm"] == pytest.approx(18.75)
    assert row["pan_base_cm"] == pytest.approx(36.25)


def layers(*hard: tuple[float, float], to_cm: float = 60.0) -> tuple[np.ndarray, np.ndarray]:
    """Return depths each centimetre and a profile hard between each pair of depths [cm]."""
    depth = np.arange(1.0, to_cm + 0.5)
    index = np.full(len(depth), 1.6)  # too little below the hard soil for a stone
    for top, base in hard:
        index[(depth > top) & (depth < base)] = 2.6
    return depth, index


def read(insertion, *hard, to_cm=60.0, **given):
    return interpret(insertion("A/1", *layers(*hard, to_cm=to_cm), **given), limit_mpa=2.0).iloc[0]


@pytest.mark.parametrize("shallow", [(15, 20), (20, 25)])
def test_a_plough_pan_and_a_traffic_pan_below_it_are_both_the_pan(insertion, shallow) -> None:
    # Pans lie at 25 to 40 cm and are 5 to 20 cm thick: Fox and others 2018 (sources.csv, fox_2018)
    row = read(insertion, shallow, (32, 40))
    assert row["verdict"] == "pan"
    assert row["pan_top_cm"] == pytest.approx(shallow[0] + 0.5, abs=0.6)
    assert row["pan_base_cm"] == pytest.approx(39.5, abs=0.6)
    assert np.isnan(row["deeper_cm"])
    assert "again from 32.4 to 39.6 cm" in row["reason"]


@pytest.mark.parametrize(
    ("further", "why"),
    [
        ((42, 49), "begins deeper than published pans"),
        ((46, 61), "stiff subsoil with no base"),
        ((35, 61), "no base"),
        ((32, 36), "thinner than published pans"),
        ((30, 56), "thicker than published pans"),
        ((38, 54), "its base is out of reach"),
    ],
)
def test_what_is_no_second_pan_is_told_and_not_chased(insertion, further, why) -> None:
    row = read(insertion, (15, 21), further)
    assert (row["verdict"], row["censored"]) == ("pan", False), why
    assert row["pan_base_cm"] == pytest.approx(20.5, abs=0.6)
    assert row["deeper_cm"] == pytest.approx(further[0] + 0.5, abs=0.6)
    assert "is no part of the pan" in row["reason"]


def test_subsoil_below_two_pans_is_not_chased(insertion) -> None:
    row = read(insertion, (15, 21), (30, 38), (47, 61))
    assert row["pan_base_cm"] == pytest.approx(37.5, abs=0.6)
    assert row["deeper_cm"] == pytest.approx(47.5, abs=0.6)


def test_a_second_layer_that_the_push_was_stopped_in_has_no_base(insertion) -> None:
    for base_cm in (41, 40):  # hard to the last reading; eased off in the last reading
        row = read(insertion, (15, 21), (32, base_cm), to_cm=40.0, refused="yes")
        assert row["verdict"] == "pan"
        assert row["pan_base_cm"] == pytest.approx(20.5, abs=0.6)
        assert row["deeper_cm"] == pytest.approx(32.5, abs=0.6)


def test_one_pan_has_nothing_below_it(insertion) -> None:
    assert np.isnan(read(insertion, (25, 35))["deeper_cm"])


@pytest.mark.parametrize("part", ["body", "gateway", ""])
@pytest.mark.parametrize("base_cm", [51, 50])
def test_a_deep_refusal_is_no_answer(insertion, part, base_cm) -> None:
    row = read(insertion, (42, base_cm), to_cm=50.0, refused="yes", part=part)
    assert row["verdict"] == "unusable"
    assert row["deeper_cm"] == pytest.approx(42.5, abs=0.6)
    assert "stopped at 50 cm (noted as refused): a deep pan or firm subsoil" in row["reason"]
    assert "stone" not in row["reason"]


@pytest.mark.parametrize("part", ["gateway", "headland", "wheeling"])
def test_deep_hard_soil_on_trafficked_ground_is_no_answer(insertion, part) -> None:
    row = read(insertion, (40, 61), part=part)
    assert row["verdict"] == "unusable"
    assert f"to the end of the push at 60 cm: on a {part}" in row["reason"]
    assert "Dig a pit here" in row["reason"]
    assert read(insertion, (51, 61), part=part)["verdict"] == "no_pan"
    assert read(insertion, (41, 49), part=part)["verdict"] == "pan"


@pytest.mark.parametrize("part", ["body", ""])
def test_in_the_body_of_the_field_it_is_subsoil(insertion, part) -> None:
    row = read(insertion, (40, 61), part=part)
    assert row["verdict"] == "no_pan"
    assert "taken as subsoil" in row["reason"]


def test_a_refusal_out_of_reach_of_loosening_leaves_the_soil_above_without_a_pan(insertion) -> None:
    row = read(insertion, (52, 61), refused="yes")
    assert row["verdict"] == "no_pan"
    assert "ended at 60 cm in hard soil" in row["reason"]
    assert "stone" not in row["reason"]


def test_a_layer_too_thin_is_no_pan(insertion) -> None:
    row = shown(insertion, [*soft(8), 2.1, *soft(9)])
    assert row["verdict"] == "no_pan"
    assert "too thin" in row["reason"]
    assert row["over_limit_38"]


def test_firm_subsoil_is_no_pan(insertion) -> None:
    row = shown(insertion, [*soft(17), *[2.6] * 7])
    assert row["verdict"] == "no_pan"
    assert "begins at 44.1" in row["reason"]
    assert not row["over_limit_38"]


def test_a_deep_layer_with_a_base_is_a_pan(insertion) -> None:
    row = shown(insertion, [*soft(17), *[2.6] * 4, *soft(5)])
    assert row["verdict"] == "pan"
    assert row["pan_top_cm"] > rule("open_top_max_cm")


def test_too_few_readings_are_unusable(insertion) -> None:
    row = shown(insertion, [1.0, 3.0, 3.0])
    assert row["verdict"] == "unusable"
    assert "3 usable readings" in row["reason"]
    assert shown(insertion, [0, 0, NAN, 0])["reason"].startswith("No reading above zero")


def test_blanks_within_a_pan_are_bridged_or_end_the_profile(insertion) -> None:
    few = shown(insertion, [*soft(8), 3.0, 3.0, NAN, NAN, 3.0, *soft(8)])
    assert few["verdict"] == "pan"
    assert few["pan_base_cm"] == pytest.approx(33.75)
    many = shown(insertion, [*soft(8), 3.0, 3.0, *[NAN] * 6, *soft(6)])
    assert many["verdict"] == "base_not_reached"
    assert many["pan_base_cm"] == 25.0
    assert "without readings" in many["reason"]
