"""A part that its own pits show not passed is told what to change, not only to be looked at."""

from __future__ import annotations

import pytest
from checks.conftest import advised
from hypothesis import given, settings
from hypothesis import strategies as st

from zoning.checks.groups import FIELD
from zoning.checks.steps import AT_DEPTH, CHANGES

THERE = "35 cm in the headland"


def pit(leg: float, ridge: float, at: int, **facts: object) -> dict[str, object]:
    """Return a pit in zone 1 (35 cm), each at a place of its own, or with ``x_m`` elsewhere."""
    place = {"x_m": 12.0 + 19.0 * (at % 5), "y_m": 15.0 + 20.0 * (at // 5)}
    measured = {"loosened_at_leg_cm": leg, "loosened_between_cm": leg - ridge, "speed_km_h": 8.0}
    return measured | {"part": "body"} | place | facts


BODY = [pit(36.0, 3.0, at) for at in range(9)]
DEEP = [pit(41.0, 3.0, at, x_m=112.0 + 19.0 * (at % 5)) for at in range(5)]
FAR_BASE = {"part": "headland", "pan": "yes", "pan_base_cm": 36.5}
RIDGED = {"part": "headland", "pan": "yes", "pan_base_cm": 33.0}


def test_legs_above_the_base_of_a_part_are_told_the_depth_to_set_there() -> None:
    left = [pit(35.0, 3.0, 9 + at, **FAR_BASE) for at in range(5)]
    advice, _, groups = advised(*BODY, *left, *DEEP)
    part = groups.query("group == 'part' and name == 'headland'")["verdict"].item()
    assert (groups["verdict"].iloc[0], part) == ("reached", "not_reached")
    (text,) = advice.loc[(advice["where"] == THERE) & (advice["step"] == "depth"), "text"]
    assert text.startswith("The legs ran as planned and the pan goes deeper. Set ")
    whole = advice.loc[advice["where"] == FIELD, "text"]
    assert whole.tolist() == [f"Change only {THERE}, as below."]
    assert not advice["text"].str.contains("look there again|Keep", regex=True).any()


def test_a_ridge_in_a_part_asks_for_less_of_it_there() -> None:
    left = [pit(35.0, 8.0, 9 + at, **RIDGED) for at in range(5)]
    advice, _, groups = advised(*BODY, *left, *DEEP)
    part = groups.query("group == 'part' and name == 'headland'")["verdict"].item()
    assert (groups["verdict"].iloc[0], part) == ("reached", "leg_only")
    own = advice[advice["where"] == THERE]
    assert {"speed", "points"} <= set(own["step"])
    assert set(own["zones"]) == {(1,)}


@pytest.mark.parametrize("pits", [1, 2, 3])
def test_a_few_pits_of_a_part_are_looked_at_again(pits: int) -> None:
    few = [pit(35.0, 8.0, 9 + at, **RIDGED) for at in range(pits)]
    advice, *_ = advised(*BODY, *few, *DEEP)
    assert THERE not in set(advice["where"])
    assert advice["text"].str.contains("look there again").any()


def test_a_part_of_ground_that_most_pits_show_missed_is_told_with_it() -> None:
    advice, *_ = advised(*[pit(35.0, 8.0, at, **RIDGED) for at in range(8)], *BODY[8:], *DEEP)
    assert THERE not in set(advice["where"])


def test_no_pit_is_both_looked_at_and_told_apart() -> None:
    apart = []

    @settings(max_examples=40, deadline=None, derandomize=True)
    @given(
        st.lists(
            st.tuples(
                st.sampled_from([True, True, True, True, False]), st.sampled_from([2.0, 5.0, 8.0])
            ),
            min_size=3,
            max_size=8,
        )
    )
    def each(dug: list[tuple[bool, float]]) -> None:
        rows = [
            pit(35.0, ridge, 9 + at, **(RIDGED if missed else {"part": "headland"}))
            for at, (missed, ridge) in enumerate(dug)
        ]
        advice, pits, _ = advised(*BODY, *rows, *DEEP)
        own = advice[advice["where"] == THERE]
        apart.append(len(own) > 0)
        assert set(own["step"]) <= set(CHANGES) - {"stop"}
        if len(own):
            left = " ".join(advice.loc[advice["step"] == "left", "text"])
            names = pits.loc[pits["part"] == "headland", "pit"]
            assert not any(f"{name} " in left or f"{name}," in left for name in names)

    each()
    assert True in apart
    assert False in apart


def test_what_one_depth_alone_missed_is_told_of_it_and_not_of_the_whole_field() -> None:
    left = [pit(36.0, 9.0, at, pan="yes", pan_base_cm=33.0) for at in range(5)]
    good = [one | {"y_m": 40.0} for one in DEEP]
    for others, place in ((good[:2], "35 cm"), (good[:1], FIELD)):
        advice, *_ = advised(*left, *others)
        assert set(advice.loc[advice["step"].isin(("points", "spacing")), "where"]) == {place}
        assert set(advice.loc[advice["step"] == "speed", "where"]) == {place}
    also = [pit(41.0, 9.0, at, x_m=112.0, y_m=9.0 * at, pan="yes", pan_base_cm=36) for at in (4, 9)]
    advice, *_ = advised(*left, *good[:2], *also)
    assert FIELD in set(advice.loc[advice["step"].isin(AT_DEPTH), "where"])
