"""The assurance that is missed is told with its cause."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from zoning.depths import expected_loss, needed_depth
from zoning.model import FieldInputs, Plan
from zoning.model.settings import DepthSection, FieldSection, MachineSection, Settings
from zoning.workflow.decide import decide, lay_ground
from zoning.workflow.reached import (
    above_pan_notices,
    assurance_notices,
    depths_enough,
    fewer_notices,
    short_part_notices,
)
from zoning.workflow.ridge import working_settings
from zoning.workflow.too_shallow import too_shallow_notices
from zoning.workflow.worked import Worked, parts_by_hand, worked_ground

ASKED = Settings(
    field=FieldSection(name="made by hand", boundary="none"),
    machine=MachineSection(depth_step_cm=5, depth_max_cm=45),
    depth=DepthSection(assurance=0.8, max_depths=4, min_run_m=25),
)


def zones(*told: tuple[float, float, float]) -> pd.DataFrame:
    table = pd.DataFrame(list(told), columns=["depth_cm", "area_ha", "assurance"])
    return table.assign(zone=range(1, len(told) + 1))


def ground(
    *told: tuple[float, float, float, float], part: str = "body", reached: float = 0.5
) -> Worked:
    """Return a place a zone: area [ha], needed, worked and allowed depth [cm], all of it short."""
    area, needed, depth, cap = np.array(told, dtype=np.float64).T
    zone, name = np.arange(1, len(told) + 1), np.full(len(told), part)
    half = np.full(len(told), 0.5)
    passed = np.full(len(told), reached)
    # The next setting is better where the need is nearer to it.
    gain = np.where(depth < cap, needed - depth - ASKED.machine.depth_step_cm / 2.0, 0.0)
    area_m2 = area * 1e4
    return Worked(zone, name, area_m2, needed, depth, cap, passed, needed - 3, half, zone, gain)


def all_of(*grounds: Worked) -> Worked:
    return Worked(*(np.concatenate([getattr(g, f.name) for g in grounds]) for f in fields(Worked)))


def test_ground_of_less_assurance_than_asked_is_told_zone_by_zone() -> None:
    table = zones((40, 1, 0.85), (25, 0.25, 0.51), (35, 0.5, 0.7), (0, 3, 0.1))
    places = ground((1, 42, 40, 45), (0.25, 26, 25, 45), (0.5, 43, 35, 45))
    (note,) = assurance_notices(table, ASKED, places)
    assert note.text.startswith(
        "On 1.75 ha the work passes the pan less surely than 0.8: 1.25 ha because the pins are 5 "
        "cm apart; 0.50 ha because each depth holds for 25 m or more and at most 4 are"
    )
    assert note.text.endswith(
        " Least surely as a whole, largest first: zone 3 (0.70), zone 2 (0.51)."
    )
    assert "hazards" not in note.text
    (other,) = assurance_notices(table, replace(ASKED, depth=DepthSection(max_depths=1)), places)
    assert "at most 1 is allowed" in other.text


def test_only_ground_whose_cap_is_above_its_need_is_held_by_hazards() -> None:
    table = zones((40, 1, 0.5), (45, 2, 0.5), (30, 4, 0.5), (20, 8, 0.5))
    beside, deep, held = (2, 47, 45, 45), (4, 32, 30, 40), (8, 28, 20, 20)
    (note,) = assurance_notices(table, ASKED, ground((1, 35, 40, 45), beside, deep, held))
    assert note.text.endswith(
        "2.00 ha because it needs more than the deepest setting, 45 cm. Least surely as a whole, "
        "largest first: zone 4 (0.50), zone 3 (0.50), zone 2 (0.50), zone 1 (0.50)."
    )
    assert (
        ": 8.00 ha because hazards hold it shallower; 4.00 ha because the pins are 5 cm apart; "
    ) in note.text


def test_a_reason_for_nearly_all_of_it_is_told_alone() -> None:
    table = zones((40, 9.5, 0.5), (35, 0.5, 0.5))
    (note,) = assurance_notices(table, ASKED, ground((9.5, 42, 40, 45), (0.5, 43, 35, 45)))
    assert "than 0.8, nearly all because the pins are 5 cm apart. Least" in note.text
    seat = replace(ASKED, machine=replace(ASKED.machine, depth_control="hydraulic"))
    (note,) = assurance_notices(table[:1], seat, ground((9.5, 42, 40, 45)))
    assert "than 0.8, all because the settings are 5 cm apart. Least" in note.text


def test_zones_a_little_below_are_not_named() -> None:
    table = zones((40, 1, 0.78), (35, 2, 0.75), (30, 4, 0.76))
    places = ground((1, 44, 40, 45), (2, 44, 35, 45), (4, 44, 30, 45), reached=0.78)
    (note,) = assurance_notices(table, ASKED, places)
    assert note.text.startswith("On 7.00 ha the work passes the pan less surely than 0.8")
    assert note.text.endswith(" Least surely as a whole, largest first: zone 2 (0.75).")
    assert assurance_notices(table.drop(1), ASKED, places) == ()


@pytest.mark.parametrize(
    ("loss_cm", "words"),
    [
        ((4.43, 4.38, 4.37, 4.36), "max_depths = 1 would cost 0.07 cm of loss: 1 in place of 4"),
        ((4.26, 3.69, 3.64, 3.63), "max_depths = 2 would cost 0.06 cm of loss: 2 in place of 4"),
        ((4.0, 3.5, 3.0, 2.5), ""),
        ((2.5,), ""),
    ],
)
def test_depths_that_gain_next_to_nothing_are_told(loss_cm: tuple[float, ...], words: str) -> None:
    worked = zones(*[(30.0 + 5 * i, 1, 0.8) for i in range(len(loss_cm))], (0, 1, 0.1))
    told = fewer_notices(loss_cm, worked)
    assert [words in each.text for each in told] == ([True] if words else [])


def test_a_part_that_falls_short_is_named_however_small() -> None:
    gateway = ground((0.09, 43, 40, 45), part="gateway")
    (note,) = short_part_notices(gateway, ASKED, more_depths=False, by_hand=())
    words = "gateway (0.50; 0.09 of 0.09 ha worked 40 cm on average where 43 would do)"
    assert words in note.text
    assert note.parts == (), "most of the ground is no place to dig first"
    little = replace(ASKED, depth=DepthSection(assurance=0.54))
    (near,) = short_part_notices(gateway, little, more_depths=False, by_hand=())
    assert near.parts == (), "a little below is in the note alone"
    enough = replace(ASKED, depth=DepthSection(assurance=0.5))
    assert short_part_notices(gateway, enough, more_depths=False, by_hand=()) == ()


def test_a_part_is_set_deeper_by_hand_only_where_its_passes_gain_by_the_next_setting() -> None:
    step, well = ASKED.machine.depth_step_cm, replace(ASKED, depth=DepthSection(assurance=0.95))
    near, far = (
        ground((0.2, 40 + share * step, 40, 45), part=part)
        for part, share in (("headland", 0.4), ("wheeling", 0.6))
    )
    far = replace(far, pass_id=far.pass_id + 1)
    texts = [
        short_part_notices(each, well, more_depths=False, by_hand=parts_by_hand(each))[0].text
        for each in (near, far, all_of(near, far))
    ]
    by_hand = "set passes that lie mostly in the wheeling one setting deeper by hand."
    assert texts[0].endswith(" One setting deeper on all of it would be deeper than needed.")
    assert texts[1].endswith(by_hand)
    assert texts[2].endswith(
        f"{by_hand} One setting deeper on all of the headland would be deeper than needed."
    )


def test_no_hand_is_sent_deeper_over_ground_that_is_mostly_deep_enough() -> None:
    # A round of 1.4 ha at its depth, 0.2 ha of it held up: as a whole it loses.
    short, enough = ground((0.2, 39, 35, 45), part="headland"), ground((1.4, 40, 40, 45))
    of_one = replace(enough, part=short.part, pass_id=short.pass_id)
    assert parts_by_hand(all_of(short, of_one)) == frozenset()
    assert parts_by_hand(short) == {"headland"}
    (note,) = short_part_notices(all_of(short, of_one), ASKED, more_depths=False, by_hand=())
    assert note.text.endswith("One setting deeper on all of it would be deeper than needed.")


def test_no_pass_is_named_along_a_strip_that_passes_only_cross() -> None:
    strip, rest = ground((0.2, 44, 40, 45), part="wheeling"), ground((0.3, 36, 35, 45))
    crossed = all_of(strip, replace(rest, pass_id=strip.pass_id))
    assert parts_by_hand(crossed) == frozenset()
    (note,) = short_part_notices(strip, ASKED, more_depths=False, by_hand=())
    assert note.text.endswith("Dig there behind the machine.")


@given(
    st.lists(
        st.tuples(st.integers(0, 2), st.sampled_from("ab"), st.integers(1, 9), st.integers(-4, 4)),
        min_size=1,
    )
)
def test_passes_by_hand_are_those_mostly_in_a_part_and_gain_with_all_their_ground(
    told: list[tuple[int, str, int, int]],
) -> None:
    number, part, area, gain = (np.array(column) for column in zip(*told, strict=True))
    plain = ground(*[(1.0, 40.0, 35.0, 45.0)] * len(told))
    held = replace(plain, pass_id=number, part=part, area_m2=area * 1.0, deeper_gain_cm=gain * 1.0)
    worth = dict.fromkeys("ab", 0)
    for each in range(3):
        rows = [row for row in told if row[0] == each]
        for name in "ab":
            if 2 * sum(a for _, p, a, _ in rows if p == name) > sum(a for _, _, a, _ in rows):
                worth[name] += sum(a * g for _, _, a, g in rows)
    assert parts_by_hand(held) == {name for name, gained in worth.items() if gained > 0}


def test_few_depths_and_no_pins_are_the_cause_where_the_next_setting_would_be_better() -> None:
    table = zones((35, 2, 0.5))
    (near,) = assurance_notices(table, ASKED, ground((2, 37, 35, 45)))
    assert "all because the pins are 5 cm apart" in near.text
    (few,) = assurance_notices(table, ASKED, ground((2, 39, 35, 45)))
    assert "all because each depth holds for 25 m or more and at most 4 are allowed" in few.text


def test_what_the_next_setting_gains_is_the_difference_of_the_expected_loss(
    sample_inputs: FieldInputs,
) -> None:
    driven, deciding = (
        decide(sample_inputs, lay_ground(sample_inputs)),
        working_settings(sample_inputs),
    )
    worked = worked_ground(
        driven.places, driven.piece_zone, driven.laid.pieces["pass_id"].to_numpy(), driven.pan,
        driven.choice, deciding,
    )  # fmt: skip
    kept = driven.choice.depth_cm[driven.places.piece] > 0
    depth, step = worked.depth_cm, deciding.machine.depth_step_cm
    loss = {
        cm: expected_loss(driven.pan, cm, clearance_cm=deciding.depth.clearance_cm,
                          assurance=deciding.depth.assurance)[kept, 0]
        for cm in {*depth, *(depth + step)}
    }  # fmt: skip
    free = (depth + step <= worked.cap_cm) & (depth + step <= deciding.machine.depth_max_cm)
    for at in range(0, len(depth), 37):
        own = loss[depth[at]][at] - loss[depth[at] + step][at] if free[at] else 0.0
        assert worked.deeper_gain_cm[at] == pytest.approx(own, abs=1e-12)
    assert 0 < free.sum() < len(free)


def test_a_part_that_needs_more_than_the_deepest_setting_is_told_once() -> None:
    gateway = ground((0.09, 48, 40, 45), part="gateway")
    assert short_part_notices(gateway, ASKED, more_depths=False, by_hand=()) == ()
    assert len(too_shallow_notices(gateway, ASKED)) == 1


def test_more_depths_are_offered_only_where_none_of_those_allowed_is_spare(
    sample_plan: Plan,
) -> None:
    gateway = ground((0.09, 43, 40, 45), part="gateway")
    (note,) = short_part_notices(gateway, ASKED, more_depths=True, by_hand=())
    assert "Dig there behind the machine, or give more max_depths." in note.text
    assert depths_enough((4.43, 4.38, 4.37, 4.36)) == 1
    assert depths_enough((4.0, 3.5, 3.0, 2.5)) == 4
    assert depths_enough((2.5,)) == 1
    texts = {notice.code: notice.text for notice in sample_plan.notices}
    assert "fewer-depths" in texts
    assert "more max_depths" not in texts["part-short"]


def test_the_hectares_of_the_sample_that_hazards_hold_agree_with_the_note_on_hazards(
    sample_inputs: FieldInputs, sample_plan: Plan
) -> None:
    laid = lay_ground(sample_inputs)
    driven, deciding = decide(sample_inputs, laid), working_settings(sample_inputs)
    all_of_it = worked_ground(
        driven.places, driven.piece_zone, driven.laid.pieces["pass_id"].to_numpy(), driven.pan,
        driven.choice, deciding,
    )  # fmt: skip
    held = all_of_it.cap_cm < np.minimum(all_of_it.needed_cm, deciding.machine.depth_max_cm)
    told = next(n.text for n in sample_plan.notices if n.code == "hazards-limit-depth")
    lifted = driven.choice.depth_cm[driven.places.piece] == 0
    needs = needed_depth(driven.pan, clearance_cm=deciding.depth.clearance_cm, assurance=0.8)
    out = lifted & (driven.choice.cap_cm[driven.places.piece] < np.minimum(needs, 50))
    area_m2 = all_of_it.area_m2[held].sum() + driven.places.area_m2[out].sum()
    assert told.startswith(f"On {area_m2 / 1e4:.2f} ha hazards")


@pytest.mark.parametrize(
    "table",
    [
        zones((40, 1.0, 0.85)),
        zones((40, 1.0, 0.796)),  # prints as 0.80
        zones((40, 1.0, 0.85), (35, 0.04, 0.7)),  # a small zone
        zones((0, 1.0, 0.1)),  # not worked
    ],
)
def test_nothing_is_said_of_little_ground(table: pd.DataFrame) -> None:
    rows = [(area, 45, depth, 45) for depth, area, _ in table.to_numpy()[:, :3]]
    assert assurance_notices(table, ASKED, ground(*rows, reached=0.79)) == ()


def test_ground_well_short_within_zones_that_are_sure_as_a_whole_is_told() -> None:
    # Two depths alone: the wheelings lie in a zone of the body, which hides them.
    table = zones((37.5, 9.5, 0.85), (42.5, 0.5, 0.9))
    body = ground((8.9, 36, 37.5, 45), (0.5, 41, 42.5, 45), reached=0.9)
    tracks = ground((0.6, 39.5, 37.5, 45), (0.3, 39.5, 42.5, 45), part="wheeling", reached=0.2)
    both = all_of(body, tracks)
    (note,) = assurance_notices(table, ASKED, both)
    assert note.text.startswith("On 0.60 ha the work passes the pan less surely than 0.8, all")
    assert "Least" not in note.text
    (part,) = short_part_notices(both, ASKED, more_depths=False, by_hand=())
    assert (
        "wheeling (0.20; 0.60 of 0.90 ha worked 37.5 cm on average where 39.5 would do)"
        in part.text
    )
    assert part.parts == ("wheeling",)


def above(*told: tuple[float, float, float], cautions: str = "") -> list[str]:
    """Return the notes on zones of depth [cm], mean base of the pan [cm] and area [ha]."""
    table = pd.DataFrame(list(told), columns=["depth_cm", "pan_base_cm", "area_ha"])
    table = table.assign(zone=range(1, len(told) + 1), cautions=cautions)
    probability = pd.Series(np.linspace(0.21, 0.81, len(told)), index=table["zone"])
    return [note.text for note in above_pan_notices(table, probability)]


def test_a_zone_above_the_mean_base_says_by_how_much_and_how_likely_the_pan_is() -> None:
    (text,) = above((30, 31.2, 0.1), (40, 33, 5), (35, 38.4, 0.4))
    assert "zone 3 by 3 cm (a pan with probability 0.81), zone 1 by 1 cm" in text
    assert "zone 1 by 1 cm (a pan with probability 0.21)" in text
    assert "zone 2" not in text
    assert "dig there" in text


def test_zones_below_the_base_lifted_out_or_held_by_a_hazard_are_not_told_as_above_it() -> None:
    assert above((30, 30.4, 1), (40, 33, 5), (0, 31, 2)) == []
    assert above((30, 36, 1), cautions="drain: no deeper than 30 cm over it") == []
    assert len(above((30, 36, 1), cautions="NOT CLEARED: services not located")) == 1
