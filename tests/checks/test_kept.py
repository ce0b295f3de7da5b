"""To keep speed and setting is said only where no pit, stop or open verdict speaks against it."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from checks.conftest import advised
from hypothesis import given, settings
from hypothesis import strategies as st

from zoning.checks.groups import FIELD
from zoning.checks.rules import rule
from zoning.model.settings import MachineSection

LEG, BETWEEN = "loosened_at_leg_cm", "loosened_between_cm"
KEEP = "^Keep (?:the )?(?:speed|setting)"


def pit(leg: float, ridge: float, at: int, **facts: object) -> dict[str, object]:
    """Return a pit in zone 1 (35 cm) or, with ``zone=2``, in zone 2 (40 cm)."""
    x = (110.0 if facts.pop("zone", 1) == 2 else 10.0) + 20.0 * (at % 5)
    place = {"x_m": x, "y_m": 15.0 + 25.0 * (at // 5)}
    return {LEG: leg, BETWEEN: leg - ridge, "speed_km_h": 4.0} | place | facts


drawn = st.tuples(
    st.sampled_from([1, 1, 2]),
    st.sampled_from([0.0, 0.0, 0.0, 3.0, 7.0, 12.0]),  # how much shallower than planned
    st.sampled_from([2.0, 3.0, 5.0, 11.0]),
    st.sampled_from(["no", "no", "no", "", "yes"]),
    st.sampled_from(["friable"] * 9 + ["plastic"]),
)


GOOD = [pit(leg, 4.0, i, zone=zone) for zone, leg in ((1, 36.5), (2, 40.0)) for i in range(4)]
"""Pits that give each depth and the field the verdict that it is reached."""


def test_keep_never_stands_beside_what_speaks_against_it() -> None:
    kept: list[bool] = []

    @settings(max_examples=40, deadline=None, derandomize=True)
    @given(st.lists(drawn, max_size=3))
    def each(dug: list[tuple[int, float, float, str, str]]) -> None:
        rows = [
            pit((35.0 if zone == 1 else 40.0) - short, ridge, 5 + i, zone=zone, pan=pan, moisture=m)
            for i, (zone, short, ridge, pan, m) in enumerate(dug)
        ]
        kept.append(says_keep_rightly(*advised(*GOOD, *rows)))

    each()
    assert 5 <= sum(kept) < len(kept)  # both ways are met


def says_keep_rightly(advice: pd.DataFrame, pits: pd.DataFrame, groups: pd.DataFrame) -> bool:
    """Return whether the advice says to keep anywhere; nothing may speak against it there."""
    by_name = groups.set_index("name")
    places = advice.loc[advice["text"].str.contains(KEEP), "where"]
    for place in places:
        facts = by_name.loc[place]
        own = pits if place == FIELD else pits[pits["depth_cm"] == facts["depth_cm"]]
        counted = own[own["chance_between"].notna()]
        assert facts["verdict"] == "reached"
        assert (counted["chance_between"] < 0.5).mean() < 0.5
        short = own["set_cm"] - own[LEG]
        worked = own[own["verdict"] != "not_worked"]
        assert not (short[worked.index] >= rule("single_leg_shallow_cm")).any()
        assert not (worked["ridge_cm"] >= rule("ridge_uneven_cm")).any()
        assert "stop" not in set(advice["step"])
    return not places.empty


def test_pan_left_in_some_pits_is_said_in_place_of_keep() -> None:
    good = [pit(38.0, 4.0, i) for i in range(4)]
    left = [
        pit(35.0, 9.0, 5, pan="yes", pan_base_cm=33.0),
        pit(32.0, 9.0, 6, pan="yes", pan_base_cm=33.0),
    ]
    advice, _, _ = advised(*good, *left)
    (text,) = advice.loc[advice["step"] == "left", "text"]
    assert text.startswith(
        "Pan left between legs at pits A4 and A5, loosened 23 to 26 cm deep there with "
        "the base at 33 cm: most places of the field passed; look there again."
    )
    assert not advice["text"].str.contains(KEEP).any()
    assert not advice["text"].str.contains("do not keep|change only", regex=True).any()


def test_most_places_passed_is_said_only_where_most_did() -> None:
    """Legs that only floated stay out of what the setting is said to leave, but not out of this."""
    left = pit(35.0, 6.0, 4, pan="yes", pan_base_cm=33.0)
    good = [pit(36.5, 4.0, i) for i in range(4)]
    afloat = [pit(31.5, 3.0, i, pan="yes", pan_base_cm=31.0) for i in range(5, 9)]
    for short, said in ((afloat[:2], True), (afloat, False)):
        advice, _, _ = advised(*good, left, *short)
        assert advice["text"].str.contains("most places of the field passed").any() == said
        assert advice["text"].str.startswith("Pan left between legs at pit A4").any() == said
        assert "pins" in set(advice["step"])
    tie, _, _ = advised(good[0], left, *afloat[:2])
    assert not tie["text"].str.contains("Pan left|do not keep").any()
    assert tie["text"].str.contains("dig again before any other change").any()


def test_pits_of_a_depth_that_is_told_what_to_change_are_not_called_exceptions() -> None:
    good = [pit(36.5, 4.0, i) for i in range(8)]
    deep = [pit(40.0, 3.0, i, zone=2, pan="yes", pan_base_cm=42.0) for i in range(4)]
    advice, _, groups = advised(*good, *deep)
    verdicts = groups.set_index("name")["verdict"]
    assert verdicts[[FIELD, "40 cm"]].tolist() == ["cannot_tell", "not_reached"]
    assert advice.loc[advice["where"] == "40 cm", "text"].str.contains("the pan goes deeper").any()
    assert not advice["text"].str.contains("look there again").any()
    one = pit(35.0, 9.0, 9, pan="yes", pan_base_cm=33.0)
    (text,) = advised(*good, *deep, one)[0].query("step == 'left'")["text"]
    assert text.startswith("Pan left between legs at pit A12, loosened 26 cm")


def test_a_tie_names_the_pan_left_too() -> None:
    rows = [pit(38.0, 4.0, 0), pit(34.0, 9.0, 1, pan="yes", pan_base_cm=33.0)]
    advice, _, _ = advised(*rows)
    (text,) = advice.loc[advice["step"] == "left", "text"]
    assert text.startswith("Pan left between legs at pit A1, loosened 25 cm deep there")
    assert "do not keep the setting on this. Less of a ridge" in text
    assert text.endswith("passes the pan: dig beside these pits before either.")


def test_what_the_whole_field_says_of_single_pits_is_not_said_again_of_their_depth() -> None:
    missed = {"pan": "yes", "pan_base_cm": 33.0}
    low, other = pit(36.0, 8.0, 8, **missed), pit(40.0, 9.0, 8, zone=2, **missed)
    shallow = pit(32.0, 1.0, 9, zone=2, pan="no")
    advice, _, _ = advised(pit(36.5, 4.0, 0), pit(40.0, 4.0, 0, zone=2), low, other, shallow)
    for words in ("between legs at pits A2 and A3", "Pit A4 (8 cm): the leg ran shallower"):
        assert advice.loc[advice["text"].str.contains(words, regex=False), "where"].tolist() == [
            FIELD
        ]
    assert advice["text"].str.contains("between legs at").sum() == 1


def test_one_shallow_leg_or_one_uneven_ridge_is_named_and_nothing_kept() -> None:
    kept, _, groups = advised(*GOOD)
    assert groups["verdict"].iloc[0] == "reached"
    assert kept.loc[kept["where"] == FIELD, "text"].str.contains(KEEP).any()
    shallow, _, _ = advised(*GOOD, pit(30.0, 0.0, 6, pan="no"))
    assert not shallow.loc[shallow["where"] == FIELD, "text"].str.contains(KEEP).any()
    uneven, _, _ = advised(*GOOD, pit(44.0, 12.0, 6))
    whole = uneven.loc[uneven["where"] == FIELD, "text"]
    # Eight ridges of 4 cm and one of 12 cm.
    told_of = (
        "Pit A8 (12 cm at 4 km/h): an uneven ridge, though the mean of the field is 4.9 cm (fair)."
    )
    assert whole.str.startswith(told_of).any()
    assert not whole.str.contains(KEEP).any()


def test_one_pit_in_many_that_the_verdict_allows_for_is_looked_at_and_nothing_kept_there() -> None:
    good = [pit(36.5, 4.0, i) for i in range(9)] + [pit(40.0, 4.0, i, zone=2) for i in range(5)]
    advice, _, _ = advised(*good, pit(35.0, 9.0, 11, pan="yes", pan_base_cm=33.0))
    ((where, step, text),) = advice[advice["zones"] == (1,)][["where", "step", "text"]].to_numpy()
    assert (where, step) == (FIELD, "left")
    assert text == (
        "Pan left between legs at pit A14, loosened 26 cm deep there with the base at 33 cm: "
        "most places of the field passed; look there again."
    )
    kept = advice.loc[advice["text"].str.contains(KEEP), "where"]
    assert kept.tolist() == ["40 cm"]  # where no pit left the pan
    assert not advice["text"].str.contains("change only").any()


@pytest.mark.parametrize(
    ("speeds", "words"),
    [
        ((6.0, 8.0), "Keep the setting and the speed of the plan (pits at 6 to 8 km/h, ridge"),
        ((8.0, 9.0), "Keep the setting and the speed of the plan (pits at 8 to 9 km/h, ridge"),
        ((8.0, 8.0), "Keep speed and setting (8 km/h, ridge"),
        ((4.0, 5.0), "Keep speed and setting (4 to 5 km/h, ridge"),
    ],
)
def test_of_several_speeds_that_of_the_plan_is_kept(
    speeds: tuple[float, float], words: str
) -> None:
    """The plan's own is 8 km/h; a slower one leaves more of a ridge."""
    assert MachineSection().speed_km_h == 8.0
    rows = [good | {"speed_km_h": speeds[at % 2]} for at, good in enumerate(GOOD)]
    advice, *_ = advised(*rows)
    (text,) = advice.loc[advice["step"] == "keep", "text"]
    assert text.startswith(words)


@pytest.mark.parametrize(
    ("days", "kept"),
    [
        (
            ("12", "14"),
            "the setting and the speed of most of the last pits (10 km/h, of 8 to 10 km",
        ),
        (("14", "12"), "the setting and the speed of the plan (pits at 8 to 10 km/h"),
        (("12", "12"), "the setting and the speed of the plan (pits at 8 to 10 km/h"),
    ],
)
def test_ground_driven_again_faster_is_not_sent_back_to_the_planned_speed(
    days: tuple[str, str], kept: str
) -> None:
    """Pits of before the second run that stand are those that passed at the plan's 8 km/h."""
    rows = [
        good | {"speed_km_h": (8.0, 10.0)[at % 2], "date": f"2026-09-{days[at % 2]}"}
        for at, good in enumerate(GOOD)
    ]
    advice, *_ = advised(*rows)
    (text,) = advice.loc[advice["step"] == "keep", "text"]
    assert text.startswith(f"Keep {kept}")
    assert (NEXT.format(10) in set(advice["text"])) == ("last pits" in kept)


def test_a_part_that_ran_faster_only_is_not_sent_back_to_the_planned_speed() -> None:
    """The headland passed at 8 km/h; of the wheeling that is not known, its pits ran at 10."""
    apart = (
        "Keep the setting and the speed that each part was driven at (headland 8 to 9 km/h and "
        "wheeling 10 km/h, ridge 4 cm); dig again where the depth changes."
    )
    planned = "Keep the setting and the speed of the plan (pits at 7.5 to 9 km/h, ridge"
    for wheeling, words in (((10.0, 10.0), apart), ((7.5, 8.0), planned)):
        rows = [good | {"speed_km_h": (8.0, 9.0)[at % 2]} for at, good in enumerate(GOOD)]
        rows = [row | {"part": "headland"} for row in rows]
        for at, km_h in zip((0, 4), wheeling, strict=True):
            rows[at] |= {"part": "wheeling", "speed_km_h": km_h}
        rows[7] |= {"part": "gateway", "speed_km_h": np.nan}
        advice, *_ = advised(*rows)
        text = advice.loc[advice["step"] == "keep", "text"].iloc[0]
        assert text.startswith(words)


def test_a_pan_left_is_closed_by_a_pit_dug_beside_on_its_day_or_later() -> None:
    left = pit(36.0, 9.0, 6, pan="yes", pan_base_cm=33.0)
    place = {"x_m": float(left["x_m"]) + 4.0, "y_m": left["y_m"]}
    for day, ridge, named in (
        ("11", 3.0, True),
        ("10", 3.0, True),
        ("09", 3.0, False),
        ("11", 9.0, False),
    ):
        beside = pit(37.0, ridge, 6, date=f"2026-09-{day}", **place)
        advice, *_ = advised(*GOOD, left, beside)
        (text,) = advice.loc[advice["step"] == "left", "text"]
        closed = (
            "passed. If the ground there was driven again since, before pit A9 beside "
            "was dug, withdraw pit A8 now: it is done. If it was not, nothing more is "
            "asked at pit A8."
        )
        assert text.endswith(closed) == named
        assert ("withdraw" in text) == named


def test_a_look_that_found_the_same_is_not_asked_for_again() -> None:
    left = pit(36.0, 9.0, 6, pan="yes", pan_base_cm=33.0)
    again = left | {"x_m": float(str(left["x_m"])) + 4.0, "date": "2026-09-12"}
    words = (
        "{}. At pits A8 and A9 a second look found the same: look there no more, a second pass "
        "half a spacing aside loosens what is left."
    )
    elsewhere = pit(36.0, 9.0, 8, pan="yes", pan_base_cm=33.0)
    for rows, said in (
        ([left, again], words.format("most places of the field passed")),
        ([left, again, elsewhere], words.format("passed; look again at pit A10")),
    ):
        advice, *_ = advised(*GOOD, *rows)
        text = advice.loc[(advice["step"] == "left") & (advice["where"] == FIELD), "text"].iloc[0]
        assert text.endswith(said)
    since = pit(37.0, 3.0, 6, date="2026-09-14")
    advice, *_ = advised(*GOOD, left, again, since)
    text = advice.loc[advice["step"] == "left", "text"].iloc[0]
    assert "a second look" not in text
    assert "withdraw pits A8 and A9 now" in text


def test_where_most_places_of_a_part_left_the_pan_its_other_runs_are_told_of() -> None:
    left = [
        pit(36.0, 9.0, at, pan="yes", pan_base_cm=33.0, part="wheeling", date="2026-09-11")
        for at in (4, 6)
    ]
    passed = pit(37.0, 3.0, 8, part="wheeling")
    told = []
    for rows in (left, [*left, passed, passed | {"x_m": 90.0, "y_m": 90.0}], left[:1]):
        advice, *_ = advised(*GOOD, *GOOD, *rows)
        told.append(advice.loc[advice["step"] == "left", "text"].iloc[0])
    words = "look there again, and in other runs of the wheeling (most places there show it)."
    assert [text.endswith(words) for text in told] == [True, False, False]
    again = [one | {"x_m": float(str(one["x_m"])) + 4.0} for one in left]
    advice, *_ = advised(*GOOD, *GOOD, *left, *again)
    text = advice.loc[advice["step"] == "left", "text"].iloc[0]
    assert text.endswith(
        "Most places of the wheeling show it: do so in all its runs, or dig in others first."
    )
    # Two of five places are no more of the wheeling for having been looked at twice.
    others = [passed | {"x_m": 20.0 + 25.0 * at, "y_m": 90.0} for at in range(3)]
    advice, *_ = advised(*GOOD, *GOOD, *left, *again, *others)
    text = advice.loc[advice["step"] == "left", "text"].iloc[0]
    assert text.endswith("a second pass half a spacing aside loosens what is left.")


def test_a_second_look_at_a_base_below_the_legs_asks_for_depth_and_no_pass_aside() -> None:
    under = pit(35.0, 4.0, 6, pan="yes", pan_base_cm=39.0)
    again = under | {"x_m": float(str(under["x_m"])) + 4.0, "date": "2026-09-12"}
    advice, *_ = advised(*GOOD, under)
    (text,) = advice.loc[advice["step"] == "left", "text"]
    assert text.startswith("Pan left below the legs at pit A8, loosened 35 cm deep there with the ")
    assert text.endswith("base at 39 cm: most places of the field passed; look there again.")
    advice, *_ = advised(*GOOD, under, again)
    text = advice.loc[advice["step"] == "left", "text"].iloc[0]
    assert "At pits A8 and A9 a second look found the base below the legs too: look" in text
    assert "Set 42.5 cm there, and no deeper than" in text  # base and clearance: 42 cm
    assert "each as a further row of phase before" in text
    assert "half a spacing" not in text
    passed_at_leg = again | {LEG: 41.0, BETWEEN: 35.0}
    advice, *_ = advised(*GOOD, under, passed_at_leg)
    text = advice.loc[advice["step"] == "left", "text"].iloc[0]
    assert "half a spacing aside" in text
    assert "below the legs" not in text


NEXT = "Before you plan again set speed_km_h to {}."


def test_a_speed_that_is_kept_is_named_for_the_next_plan_where_it_is_another() -> None:
    for km_h, said in ((4.0, [NEXT.format(4)]), (8.0, [])):
        rows = [row | {"speed_km_h": km_h} for row in GOOD]
        left = rows[0] | {BETWEEN: 32.5, "pan": "yes", "pan_base_cm": 33.5, "x_m": 62.0}
        for dug in (rows, [*rows, *rows, left]):  # a pan left at one place changes nothing
            advice, *_ = advised(*dug)
            assert advice.loc[advice["step"] == "next", "text"].tolist() == said
            if said:
                assert advice.loc[advice["where"] == FIELD, "step"].tolist()[-1] == "next"


def test_a_change_that_was_made_is_closed_by_the_pits_dug_beside_since() -> None:
    """Five pits at 9 km/h left a ridge; five beside, at 4 km/h two days later, none."""
    fast = [pit(36.5, 10.0, at, pan="yes", pan_base_cm=31.0) for at in range(5)]
    fast = [row | {"speed_km_h": 9.0, "date": "2026-09-10"} for row in fast]
    slow = [pit(36.5, 3.0, at) for at in range(5)]
    slow = [row | {"x_m": float(str(row["x_m"])) + 4.0, "date": "2026-09-12"} for row in slow]
    closed = (
        "If the ground of the old pits was driven again since, before pits A5, A6, A7, A8 and A9 "
        "beside were dug, withdraw pits A0, A1, A2, A3 and A4 now: it is done."
    )
    far = [row | {"y_m": 80.0} for row in slow]
    for rows, said in (([*fast, *slow], [closed]), ([*fast, *far], []), (fast, [])):
        advice, *_ = advised(*rows)
        assert advice.loc[advice["step"] == "drive", "text"].tolist() == said
        assert advice["text"].str.startswith("Drive ").any()


def test_too_few_pits_are_not_told_to_keep() -> None:
    advice, _, _ = advised(pit(36.5, 4.0, 0), pit(40.0, 4.0, 0, zone=2))
    assert not advice["text"].str.contains(KEEP).any()
    assert advice["text"].str.startswith("So far the pits ask for no change (4 km/h").any()
    assert np.isfinite(advice["order"]).all()


def test_legs_that_all_ran_too_deep_are_named_and_nothing_kept() -> None:
    deep = [pit(leg, 9.0, i, zone=zone) for zone, leg in ((1, 42.0), (2, 45.0)) for i in range(4)]
    advice, _, groups = advised(*deep)
    assert groups["verdict"].iloc[0] == "reached"
    assert not advice["text"].str.contains(KEEP).any()
    first = advice.loc[advice["where"] == FIELD, "text"]
    assert first.str.contains("ran 6 cm deeper than planned").any()
    assert first.str.contains("over a hazard it is dangerous").any()


def test_a_missed_strip_alone_asks_for_no_change_of_the_depth_it_lies_in() -> None:
    advice, _, groups = advised(*GOOD, pit(0.0, 0.0, 8))
    assert groups["verdict"].iloc[0] == "reached"
    whole = advice[advice["where"] == FIELD]
    assert whole["step"].tolist() == ["drive", "keep", "next"]
    assert whole["text"].str.contains(KEEP).tolist() == [False, True, False]
    assert not advice["text"].str.contains("as below").any()


def test_a_ridge_in_doubt_is_named_beside_the_ridge_that_leaves_it_out() -> None:
    advice, pits, groups = advised(*GOOD, pit(34.0, 14.0, 6, pan="no", pit="D1"))
    assert pits.set_index("pit").loc["D1", "asked"] == "no_pan"
    assert groups.set_index("name").loc[FIELD, "ridge_cm"] == 4.0
    kept = advice.loc[advice["text"].str.contains(KEEP)].set_index("where")["text"]
    assert set(kept.index) == {FIELD, "40 cm"}, "the depth of pit D1 has what the field says"
    assert "without" not in kept["40 cm"]
    assert "ridge 4 cm without pit D1 asked about above)" in kept[FIELD]
    first = [advice.index[advice["text"].str.contains(words)][0] for words in ("at pit D1", KEEP)]
    assert first == sorted(first)


def test_without_a_pit_in_doubt_none_is_named() -> None:
    advice, _, _ = advised(*GOOD)
    (kept,) = advice.loc[advice["text"].str.contains(KEEP), "text"]
    assert "without" not in kept


def test_pits_left_in_one_part_alone_are_told_to_lie_there() -> None:
    deep = {"zone": 2, "part": "headland", "pan": "yes", "pan_base_cm": 38.0}
    left = [pit(40.0, 4.0, 6 + i, **deep) for i in range(2)]
    advice, pits, _ = advised(*GOOD, *GOOD, *left)
    assert set(pits["part"]) == {"body", "headland"}
    (text,) = advice.loc[(advice["where"] == FIELD) & (advice["step"] == "left"), "text"]
    assert ", all in the headland, loosened 36 cm deep" in text
    advice, _, _ = advised(*GOOD, *GOOD, left[0], pit(35.0, 4.0, 9, pan="yes", pan_base_cm=33.0))
    (text,) = advice.loc[(advice["where"] == FIELD) & (advice["step"] == "left"), "text"]
    assert "all in the" not in text
