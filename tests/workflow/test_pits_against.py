"""Pits that found otherwise than the probe beside them: what is told, and what it would change."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest
from scipy.stats import binomtest
from workflow.paired import NAN, pairs, place

import zoning
from zoning.model import FieldInputs
from zoning.model.days import day_effect_cm
from zoning.workflow.pits_against import more_pits, pit_notices


def test_pits_that_find_no_pan_where_the_probe_does_are_a_caution() -> None:
    (told,) = pit_notices(pairs((30.0, NAN), (31.0, NAN), (32.0, 33.0)))
    assert (told.level, told.code) == ("caution", "pits-against-probe")
    assert told.text == (
        "Pit and probe at the same place: 3 places. A pan by the probe, none in the pit: 2 (P1 at "
        "S1, P2 at S2). What the probe felt may be no pan: dig more before loosening."
    )


def alone(count: int, base_cm: float = 30.0) -> pd.DataFrame:
    """Return stations that no pit stands at."""
    return pd.DataFrame([place("cone", f"A{i}", 2000.0 + 50.0 * i, base_cm) for i in range(count)])


def test_what_pits_would_change_elsewhere_is_told_and_that_the_plan_keeps_the_probe() -> None:
    rows = pd.concat([pairs(*[(30.0, NAN)] * 4), alone(22)], ignore_index=True)
    (told,) = pit_notices(rows)
    assert told.text.endswith(
        "What the probe felt may be no pan. If the pits are right there too: no pan at the 22 "
        "other stations with a pan by the probe; the plan keeps the probe there. Dig beside 1 "
        "more of them before loosening: all against the probe, they would outweigh it "
        "(sign test, 95 %)."
    )
    (more,) = pit_notices(pd.concat([pairs(*[(30.0, NAN)] * 5), alone(1)], ignore_index=True))
    assert "no pan at the other station with a pan by the probe" in more.text
    assert "Dig beside more of them before loosening: 5 of 5 pits outweigh the probe" in more.text


def test_missed_pans_and_bases_elsewhere_are_told_likewise() -> None:
    (told,) = pit_notices(pd.concat([pairs((NAN, 33.0)), alone(3, NAN)], ignore_index=True))
    assert "a pan at the 3 other stations without one by the probe" in told.text
    deeper = pd.concat([pairs((30.0, 37.0), (30.0, 39.0)), alone(9)], ignore_index=True)
    (told,) = pit_notices(deeper)
    assert "the base about 8 cm deeper at the 9 other stations that read one; the plan" in told.text
    assert "Dig beside 3 more of them before a depth is set" in told.text
    both_ways = pd.concat([pairs((30.0, 38.0), (38.0, 30.0)), alone(9)], ignore_index=True)
    (told,) = pit_notices(both_ways)
    assert "If the pits are right" not in told.text


def test_one_pit_against_more_that_agree_is_an_odd_place_and_no_doubt_of_the_field() -> None:
    for agree in (2, 10):
        rows = pairs((29.0, NAN), *[(31.0, 32.0)] * agree)
        (told,) = pit_notices(pd.concat([rows, alone(10)], ignore_index=True))
        assert (told.level, told.code) == ("note", "pit-against-probe")
        assert told.text == (
            "At P1 the spade found no pan where the probe felt one at S1 (29 cm); at "
            f"{agree} other places both agree. Dig two more pits within 30 m of S1."
        )
    (told,) = pit_notices(pairs((30.0, 38.0), *[(31.0, 32.0)] * 3))
    assert told.level == "note"
    assert told.text.startswith("Base in the pit deeper by 8 cm at 1 (P1 at S1); at 3 other places")


def test_pits_that_agree_where_the_probe_felt_none_do_not_vouch_for_the_pans_it_felt() -> None:
    (told,) = pit_notices(pairs((29.0, NAN), *[(NAN, NAN)] * 4))
    assert told.level == "caution"


def test_a_place_where_the_probe_was_repeated_counts_once() -> None:
    again = place("cone", "S2b", 200.5, 31.0)
    rows = pd.concat([pairs((29.0, NAN), (31.0, NAN)), pd.DataFrame([again])], ignore_index=True)
    (told,) = pit_notices(rows)
    assert "same place: 2 places. A pan by the probe, none in the pit: 2" in told.text
    assert "(P1 at S1, P2 at S2 and S2b)" in told.text


@pytest.mark.parametrize("left", [1, 2, 3])
def test_no_more_pits_are_asked_for_than_there_are_stations_left(left: int) -> None:
    assert more_pits(1, 2) > left
    rows = pd.concat([pairs((30.0, NAN), (30.0, 31.0)), alone(left)], ignore_index=True)
    (told,) = pit_notices(rows)
    dig = "beside it" if left == 1 else f"beside all {left} of them"
    assert told.text.endswith(f"Dig {dig} before loosening.")


@pytest.mark.parametrize(("against", "dug"), [(0, 0), (1, 1), (4, 4), (5, 5), (2, 3), (5, 9)])
def test_so_many_more_pits_pass_the_sign_test_of_scipy_and_one_fewer_do_not(
    against: int, dug: int
) -> None:
    more = more_pits(against, dug)

    def chance(extra: int) -> float:
        test = binomtest(against + extra, max(dug + extra, 1), 0.5, alternative="greater")
        return float(test.pvalue)

    assert chance(more) <= 0.05
    assert more == 0 or chance(more - 1) > 0.05


def test_a_pan_that_the_probe_missed_is_told_too() -> None:
    (told,) = pit_notices(pairs((NAN, 33.0)))
    assert "1 place. A pan in the pit, none by the probe: 1 (P1 at S1)." in told.text


@pytest.mark.parametrize(
    ("probe", "pit", "words"),
    [
        (30.0, 38.0, "deeper by 8 cm at 1 (P1 at S1)"),
        (38.0, 30.0, "shallower by 8 cm at 1 (P1 at S1)"),
        (30.0, 34.0, ""),  # within the error of both
    ],
)
def test_bases_that_differ_by_more_than_their_error_are_told(
    probe: float, pit: float, words: str
) -> None:
    told = pit_notices(pairs((probe, pit)))
    assert bool(told) == bool(words)
    assert all(words in each.text for each in told)


def test_pit_and_probe_are_compared_with_the_day_of_the_probe_allowed_for() -> None:
    """By hand: 47.1 cm on a day that adds 4 cm is 43.1 cm, 2.1 cm off the 41 cm of the pit."""
    dry = pairs((47.1, 41.0), (37.1, 32.0))
    assert "shallower by 5 to 6 cm at 2" in pit_notices(dry)[0].text
    day_cm = day_effect_cm(dry.assign(date="2026-09-25"), {"day_effect_2026-09-25_cm": 4.0})
    assert day_cm.notna().tolist() == (dry["kind"] == "cone").tolist()
    assert pit_notices(dry, day_cm) == ()
    (told,) = pit_notices(dry, -day_cm)
    assert "2 places, the day of the probe allowed for. Base in the pit shallower by 9" in told.text


def test_a_pit_below_a_bound_of_the_probe_contradicts_nothing_one_above_does() -> None:
    assert pit_notices(pairs((30.0, 38.0), censored=True)) == ()
    assert pit_notices(pairs((38.0, 30.0), censored=True))


def test_pits_far_from_the_probe_are_compared_with_nothing() -> None:
    rows = pd.DataFrame([place("cone", "S1", 0.0, 30.0), place("pit", "P1", 50.0, NAN)])
    assert pit_notices(rows) == ()


def test_pits_without_a_pan_at_the_stations_of_the_sample_reach_the_rating(
    sample_inputs: FieldInputs,
) -> None:
    pits = sample_inputs.pits.assign(pan="no", pan_top_cm=NAN, pan_base_cm=NAN)
    plan = zoning.make_plan(replace(sample_inputs, pits=pits))
    caution = [n.text for n in plan.notices if n.code == "pits-against-probe"]
    assert len(caution) == 1
    assert "P1 at S02" in caution[0]
    left_alone = plan.zones[plan.zones["depth_cm"] == 0].geometry.union_all()
    dug = plan.stations[plan.stations["kind"] == "pit"]
    on = int((~dug.intersects(left_alone)).sum())
    assert 0 < on < len(dug)
    told = f"yes by the probe; pits on worked ground say no ({on} of {on})"
    assert plan.rating["answer"].iloc[0] == told
    left = plan.stations.set_index("station").loc["S02", "reason"]
    assert "show a pan" in left
    assert "no pan" in left
