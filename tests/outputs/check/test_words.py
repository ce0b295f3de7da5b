"""Every verdict that a row may hold has words and, on the ground, a tone and a letter."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from outputs.small_check import small_check

from zoning.contracts import NOT_CLEARED, shared
from zoning.outputs.check.tables import dig_section
from zoning.outputs.check.words import (
    GROUND,
    LEFT,
    LETTERS,
    TONES,
    VERDICTS,
    by_eye_words,
    chance_words,
    dig_not_cleared,
    group_words,
    hand_words,
    more_words,
    of_words,
    passed_words,
    places_words,
    told_advice,
    uncounted_words,
    verdict_words,
)
from zoning.outputs.drawing.pit_signs import sign_name


@pytest.mark.parametrize("name", ["check_zones", "check_pits"])
def test_the_words_cover_the_schemas(name: str) -> None:
    document = json.loads(shared("schemas", f"{name}.schema.json").read_text(encoding="utf-8"))
    assert set(document["properties"]["verdict"]["enum"]) <= set(VERDICTS)


def test_every_verdict_of_a_pit_has_a_sign_of_its_own() -> None:
    document = json.loads(shared("schemas", "check_pits.schema.json").read_text(encoding="utf-8"))
    verdicts = {*document["properties"]["verdict"]["enum"], *LEFT} - {"not_judged"}
    names = {verdict: sign_name("after", verdict=verdict) for verdict in verdicts}
    assert names == {verdict: verdict for verdict in verdicts}
    assert VERDICTS["worked_lifted"] != VERDICTS["lifted_out"]


def test_ground_is_told_by_letter_as_well_as_tone() -> None:
    assert set(GROUND) == set(TONES) == set(LETTERS)
    letters = [LETTERS[name] for name in GROUND if LETTERS[name]]
    assert len(letters) == len(set(letters)) == 7


def test_words_for_too_few_pits() -> None:
    assert verdict_words("cannot_tell", "leg_only") == (
        "cannot tell yet (most pits: reached at the leg only)"
    )
    assert verdict_words("cannot_tell", "leg_only", pits=1) == (
        "cannot tell yet (the one pit: reached at the leg only)"
    )
    assert verdict_words("cannot_tell", "not_between", pits=1) == (
        "cannot tell yet (the one pit: not reached between legs)"
    )
    assert verdict_words("cannot_tell", "") == "cannot tell"
    assert verdict_words("reached", "reached") == "reached"
    assert [more_words(n) for n in (0, 3, -1)] == ["none", "3", "digging will not settle it"]


def test_ground_without_a_pit_stands_in_the_verdict_on_the_field() -> None:
    missing = "no pit in the body (6.9 ha)"
    row = {
        "verdict": "cannot_tell", "so_far": "reached", "unseen": missing, "pits": 5,
        "seen_at_leg": 5, "passed_at_leg": 5, "seen_between": 5, "passed_between": 4,
        "too_deep": 0, "group": "field",
    }  # fmt: skip
    told = "cannot tell for the whole field: no pit in the body (6.9 ha)"
    assert group_words(row) == f"{told}; most pits: reached"
    assert group_words(row | {"so_far": ""}) == told
    assert group_words(row | {"unseen": ""}) == "cannot tell yet (most pits: reached)"
    one = row | {
        "pits": 1,
        "seen_at_leg": 1,
        "passed_at_leg": 1,
        "seen_between": 1,
        "passed_between": 1,
    }
    assert group_words(one) == f"{told}; the one pit: reached"
    assert group_words(one | {"unseen": ""}) == "cannot tell yet (the one pit: reached)"
    split = {"so_far": "leg_only", "passed_between": 1, "passed_at_leg": 3, "unseen": ""}
    assert group_words(row | split) == "cannot tell"  # 2 of 5 are no majority
    bare = row | dict.fromkeys(
        ("pits", "seen_at_leg", "passed_at_leg", "seen_between", "passed_between"), 0
    )
    bare |= {"so_far": "", "unseen": ""}
    assert group_words(bare) == "cannot tell: no pit that counts"
    assert group_words(bare | {"unseen": "no pit at 35 cm"}) == group_words(bare)


def test_pits_at_one_place_are_said_to_count_once() -> None:
    told = places_words({"pits": 5, "places": 1})
    assert told.startswith(
        "The 5 pits lie at 1 place: pits within 10 m of one another count as one"
    )
    assert told.endswith("for a verdict, and one whose pits disagree settles nothing.")
    assert places_words({"pits": 5, "places": 5}) == ""


def test_what_asks_to_stop_is_said_once_and_the_steps_are_numbered_anew() -> None:
    rows = [
        ("whole field", 1, "stop", "Stop: pit A."),
        ("whole field", 2, "keep", "Keep."),
        ("25 cm", 1, "stop", "Stop: pit A."),
        ("25 cm", 2, "stop", "Stop: pit B."),
        ("25 cm", 3, "keep", "Keep."),
        ("30 cm", 1, "stop", "Stop: pit A."),
    ]
    advice = pd.DataFrame(rows, columns=["where", "order", "step", "text"])
    told = told_advice(replace(small_check(), advice=advice))
    assert list(told.itertuples(index=False, name=None)) == [
        *rows[:2],
        ("25 cm", 1, "stop", "Stop: pit B."),
        ("25 cm", 2, "keep", "Keep."),
    ]


def test_the_pits_that_count_for_no_verdict_are_named_with_why() -> None:
    check = small_check()
    pits = check.pits[check.pits["verdict"] == "leg_only"].iloc[:3]
    assert uncounted_words(replace(check, pits=pits)) == ""
    pits = pits.assign(pit=["A1", "A2", "A4"], verdict=["leg_only", "not_worked", "past_cap"])
    told = uncounted_words(replace(check, pits=pits))
    assert told == "2 of 3 pits count: not A4 (worked deeper than a hazard allows)."
    only = uncounted_words(replace(check, pits=pits.iloc[2:]))
    assert only == "The one pit, A4, does not count: worked deeper than a hazard allows."


def test_one_pit_is_told_as_one() -> None:
    one = {"pits": 1, "seen_at_leg": 0, "passed_at_leg": 0, "seen_between": 0, "passed_between": 0}
    start = "In the one pit the pan base was "
    assert (
        passed_words(one)
        == f"{start}not seen to be passed at the leg; between legs it was not seen."
    )
    seen = one | {"seen_at_leg": 1, "passed_at_leg": 1, "seen_between": 1, "passed_between": 1}
    assert passed_words(seen) == f"{start}passed at the leg, and passed between legs."
    several = one | {"pits": 3, "seen_at_leg": 3, "passed_at_leg": 2}
    assert passed_words(several) == (
        "Pan base passed at the leg in 2 of 3 pits, between legs seen in none."
    )
    bare = one | {"pits": 5, "seen_between": 5}
    assert passed_words(bare) == (
        "No leg was measured; between legs the pan base was passed in 0 of 5."
    )
    assert [of_words(1, 2), of_words(0, 0)] == ["1 of 2", ""]


@pytest.mark.parametrize(
    ("rests", "ridges", "told"),
    [
        ("pits", (11.04, 11.04), "stays 11 cm as in your pits. The plan's"),
        (
            "trial_runs",
            (5.0, 5.0),
            "stays 5 cm by the trial runs at 4 and 10 km/h (no pit that counts has",
        ),
        (
            "leg_spacing",
            (15.0, 18.5),
            "stays 15 to 18.5 cm by geometry of legs 43 cm apart, as in the plan (no pit that",
        ),
        ("pits", (4.83, 4.83), "stays 4.8 cm as in your pits"),
        (
            "assumed",
            (3.0, 3.0),
            "stays 3 cm (no pit that counts has shown a ridge). The plan's 0.8 is",
        ),
    ],
)
def test_likely_passed_says_which_ridge_it_counts_with(
    rests: str, ridges: tuple[float, float], told: str
) -> None:
    check = small_check()
    places = check.dig_next.iloc[[0, 0]].assign(
        chance_between=0.5, ridge_cm=ridges, ridge_from=rests
    )
    assert told in chance_words(replace(check, dig_next=places))
    assert chance_words(replace(check, dig_next=places.assign(chance_between=np.nan))) == ""


def test_pits_that_count_between_by_no_pan_alone_are_named() -> None:
    check = small_check()
    names = check.pits["pit"].tolist()
    assert not by_eye_words(check)
    bare = check.pits.assign(
        pan="no",
        chance_between=1.0,
        loosened_between_cm=[float("nan")] + [30.0] * (len(names) - 1),
        verdict="reached",
    )
    told = by_eye_words(replace(check, pits=bare))
    assert told.startswith(
        f"1 of {len(names)} pits that count between the legs ({names[0]}) goes by"
    )


def test_a_place_deeper_than_the_spade_may_go_is_marked_and_the_limit_said() -> None:
    check = small_check()
    zone = int(check.dig_next["zone"].iloc[0])
    cleared = np.where(check.zones["zone"] == zone, NOT_CLEARED, "at most")
    held = replace(check, zones=check.zones.assign(cleared=cleared))
    limit = f"no deeper than {check.settings.hazards.notice_depth_cm:g} cm"
    assert limit in hand_words(held)
    assert dig_not_cleared(held).tolist() == check.dig_next["zone"].eq(zone).tolist()
    page = dig_section(held)
    assert " NC</td>" in page
    assert page.index(limit) < page.index("<table")
    free = replace(check, zones=check.zones.assign(cleared="at most"))
    assert hand_words(free) == ""
    assert " NC</td>" not in dig_section(free)


def test_where_no_place_bears_a_chance_there_is_no_column_of_it() -> None:
    check = small_check()
    assert check.dig_next["chance_between"].notna().any()
    assert "likely passed</th>" in dig_section(check)
    none = replace(check, dig_next=check.dig_next.assign(chance_between=np.nan))
    page = dig_section(none)
    assert "ikely passed" not in page
    row = page[page.index("<tbody>") : page.index("</tr>", page.index("<tbody>"))]
    assert page.count("<th ") == row.count("<td") == 5
