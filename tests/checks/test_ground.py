"""What the pits of a piece of ground say of speed, and advice that agrees with itself."""

from __future__ import annotations

import numpy as np
import pandas as pd
from checks.conftest import advised, field_parts, pit_rows, planned_ground, station_rows, trial_rows
from hypothesis import given, settings
from hypothesis import strategies as st

from zoning.checks.ground import Ground
from zoning.checks.groups import FIELD, judge_groups
from zoning.checks.pits import judge_pits
from zoning.checks.trials import ridge_curve
from zoning.model.settings import MachineSection


def pit(leg: float, ridge: float, speed: float, zone: int = 1) -> dict[str, object]:
    return {
        "loosened_at_leg_cm": leg, "loosened_between_cm": leg - ridge, "speed_km_h": speed,
        "x_m": 50.0 if zone == 1 else 150.0,
    }  # fmt: skip


def told(*pits: dict[str, object]) -> pd.DataFrame:
    return advised(*pits)[0]


def ground(*pits: dict[str, object]) -> Ground:
    planned = planned_ground()
    judged = judge_pits(pit_rows(*pits), planned, read_on="")
    facts = judge_groups(planned, judged, station_rows(), field_parts()).iloc[0]
    curve = ridge_curve(trial_rows())
    return Ground(FIELD, facts, judged, curve, MachineSection(), planned.zones)


def test_a_fast_run_that_is_no_more_even_is_not_a_matter_of_speed() -> None:
    worse = ground(pit(40, 13, 4), pit(40, 22, 9))
    assert worse.fast_ridge_words == "13 cm at 4 km/h, 22 cm at 9 km/h"
    assert ground(pit(40, 13, 4), pit(40, 4, 9)).fast_ridge_words == ""
    assert ground(pit(40, 4, 4), pit(40, 6, 9)).fast_ridge_words == ""
    assert ground(pit(40, 13, 4)).fast_ridge_words == ""
    assert worse.speed_words == "4 to 9 km/h"


def test_ground_half_passed_with_ridges_at_both_speeds_is_told_to_look_at_the_points() -> None:
    # Two of four pass between the legs: no verdict, but the ridges ask for more than digging.
    rows = [pit(42, 13, 4), pit(42, 22, 9), pit(42, 5, 4), pit(42, 5, 9)]
    own = told(*rows).set_index("step")
    assert "13 cm" not in own.loc["dig", "text"]
    assert "9 cm at 4 km/h, 13.5 cm at 9 km/h" in own.loc["points", "text"]
    assert {"dig", "points", "spacing", "soil"} <= set(own.index)
    assert "keep" not in own.index


def test_the_field_does_not_keep_what_one_depth_is_to_change() -> None:
    even = [pit(38, 4, speed, zone=2) for speed in (4, 4, 4, 7)]
    slow = [pit(42.5, 12, 4), pit(36, 3, 7)]  # both pass the base of 30 cm
    table = told(*even, *slow)
    whole = table[(table["where"] == FIELD) & (table["step"] == "keep")]
    assert table.loc[table["where"] == "35 cm", "step"].eq("speed").any()
    assert whole["text"].tolist() == ["Change 35 cm, as below; see to pits named above."]


def test_the_rest_is_called_too_little_known_only_where_it_asks_for_pits() -> None:
    table = told(pit(38, 4, 7, zone=2), pit(38, 4, 7, zone=2), pit(36, 12, 7))
    told_of_all = table.loc[table["where"] == FIELD, "text"].str.cat(sep=" ")
    assert "they are too few to say so of the rest" in told_of_all
    assert "Change only" not in told_of_all
    # Six pits give 40 cm the verdict that it is reached; four show a pan below 35 cm.
    even = [pit(38, 4, 7, zone=2)] * 6
    deep = [pit(35, 3, 7) | {"pan": "yes", "pan_base_cm": 37.0}] * 4
    for bad in (deep, deep[:3]):  # settled, or one pit more is asked for at that depth alone
        settled = told(*even, *bad)
        whole = settled[settled["where"] == FIELD]
        assert whole["text"].iloc[-1] == "Change only 35 cm, as below."
        assert not settled["text"].str.contains("of the rest").any()


def test_the_field_is_not_set_shallower_where_a_depth_is_to_go_deeper() -> None:
    even = [pit(40, 3, 7, zone=2)] * 6  # 7 cm below the base of 30 cm
    deep = [pit(35, 3, 7) | {"pan": "yes", "pan_base_cm": 37.0}] * 4
    table = told(*even, *deep)
    shallower = table.loc[table["text"].str.contains("it is set shallower add readings"), "where"]
    assert shallower.tolist() == ["40 cm"]
    assert table.loc[table["where"] == "35 cm", "text"].str.contains("Set 40 cm here").any()
    assert told(*even)["text"].str.contains("it is set shallower add readings").any()


def test_a_depth_does_not_keep_a_speed_that_the_field_is_to_change() -> None:
    slow = [*[pit(36, 13, 4)] * 5, *[pit(36, 4, 8)] * 3]
    table = told(*slow, *[pit(41, 7, 4, zone=2)] * 3, *[pit(41, 3, 8, zone=2)] * 2)
    assert table.loc[table["where"] == FIELD, "step"].eq("speed").any()
    kept = table[(table["where"] == "40 cm") & (table["step"] == "keep")]
    assert kept["text"].tolist() == [
        "Keep the depth here; the speed is a matter of the whole field."
    ]


def test_a_faster_run_that_one_depth_alone_asks_is_told_there_and_the_other_keeps_its_own() -> None:
    table = told(*[pit(36, 13, 4)] * 8, *[pit(41, 7, 4, zone=2)] * 4)
    assert table.loc[table["step"] == "speed", "where"].tolist() == ["35 cm"]
    kept = table[(table["where"] == "40 cm") & (table["step"] == "keep")]
    assert kept["text"].str.startswith("Keep speed and setting (4 km/h").tolist() == [True]


def test_plastic_soil_stops_the_work_before_all_else_even_where_the_pan_was_passed() -> None:
    first = told(*[pit(36, 3, 8) | {"moisture": "plastic"} for _ in range(4)]).iloc[0]
    assert (first["where"], first["step"]) == (FIELD, "stop")
    assert "plastic" in first["text"]


def test_one_plastic_pit_asks_to_stop_and_changes_no_other_advice() -> None:
    rows = [*[pit(36, 3, 8)] * 4, *[pit(36, 4, 6)] * 4]
    wet = pit(36, 14, 6) | {"moisture": "plastic", "pan": "yes", "pan_base_cm": 31.0}
    table = told(*rows, wet)
    assert set(table["step"]) - {"dig", "so_far"} == {"stop"}


IMPOSSIBLE = {"loosened_at_leg_cm": 53.0, "loosened_between_cm": 27.0}
PLASTIC = {"loosened_at_leg_cm": 36.0, "loosened_between_cm": 26.0, "moisture": "plastic"}
DOUBTED = {"loosened_at_leg_cm": 36.0, "loosened_between_cm": 5.0, "pan": "no"}


@settings(max_examples=25, deadline=None)
@given(
    dug=st.lists(st.tuples(st.integers(0, 14), st.sampled_from([4, 6, 8])), min_size=1, max_size=6),
    odd=st.lists(
        st.tuples(
            st.sampled_from([IMPOSSIBLE, IMPOSSIBLE | {"pan": "no"}, DOUBTED, PLASTIC]),
            st.sampled_from([2, 6, 12]),
        ),
        min_size=1,
        max_size=3,
    ),
)
def test_a_pit_in_doubt_or_of_plastic_soil_changes_no_ridge_and_no_speed(
    dug: list[tuple[int, int]], odd: list[tuple[dict[str, object], int]]
) -> None:
    rows = [pit(36, ridge, speed) for ridge, speed in dug]
    own = ground(*rows)
    more = ground(*rows, *[facts | {"speed_km_h": speed} for facts, speed in odd])
    assert more.ridge_cm == own.ridge_cm == more.facts["ridge_cm"]
    pd.testing.assert_frame_equal(more.of_pits.speeds, own.of_pits.speeds)
    for what in ("speed_words", "fast_ridge_words", "fastest_km_h"):
        assert getattr(more, what) == getattr(own, what)
    np.testing.assert_equal(more.slower_km_h, own.slower_km_h)  # NaN where none is named
    for what in ("loosened_at_leg_cm", "loosened_between_cm", "speed_km_h"):
        assert more.facts[what] == own.facts[what]


def test_a_pit_that_counts_for_no_verdict_asks_for_nothing_but_to_look_again() -> None:
    rows = [pit(36, 9, 6), pit(36, 9, 6), pit(36, 8, 6), pit(36, 3, 8), pit(36, 3, 8)]
    odd = IMPOSSIBLE | {"pan": "no", "speed_km_h": 6.0}
    own, more = (table[table["step"] != "dig"] for table in (told(*rows), told(*rows, odd)))
    (text,) = more.loc[more["text"].str.contains("Deeper than this machine goes"), "text"]
    assert more.loc[more["text"] != text, "text"].tolist() == own["text"].tolist()
