"""Every verdict that a row may hold has words and, on the ground, a tone and a letter."""

from __future__ import annotations

import json
from dataclasses import replace

import pandas as pd
import pytest
from outputs.small_check import small_check

from zoning.contracts import shared
from zoning.outputs.check.words import (
    GROUND,
    LEFT,
    LETTERS,
    TONES,
    VERDICTS,
    group_words,
    more_words,
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
    assert verdict_words("cannot_tell", "") == "cannot tell"
    assert verdict_words("reached", "reached") == "reached"
    assert [more_words(n) for n in (0, 3, -1)] == ["none", "3", "digging will not settle it"]


def test_ground_without_a_pit_stands_in_the_verdict_on_the_field() -> None:
    missing = "no pit in the body (6.9 ha)"
    row = {
        "verdict": "cannot_tell", "so_far": "reached", "unseen": missing, "pits": 5,
        "passed_at_leg": 5, "seen_between": 5, "passed_between": 4, "too_deep": 0,
    }  # fmt: skip
    told = "cannot tell for the whole field: no pit in the body (6.9 ha)"
    assert group_words(row) == f"{told}; most pits: reached"
    assert group_words(row | {"so_far": ""}) == told
    assert group_words(row | {"unseen": ""}) == "cannot tell yet (most pits: reached)"
    split = {"so_far": "leg_only", "passed_between": 1, "passed_at_leg": 3, "unseen": ""}
    assert group_words(row | split) == "cannot tell"  # 2 of 5 are no majority
    bare = row | dict.fromkeys(("pits", "passed_at_leg", "seen_between", "passed_between"), 0)
    bare |= {"so_far": "", "unseen": ""}
    assert group_words(bare) == "cannot tell: no pit"


def test_pits_at_one_place_are_said_to_count_once() -> None:
    told = places_words({"pits": 5, "places": 1})
    assert told.startswith(
        "The 5 pits lie at 1 place: pits within 10 m of one another count as one"
    )
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
