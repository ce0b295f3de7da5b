"""How many pits are asked for, in words."""

from __future__ import annotations

import re

import pandas as pd
from checks.conftest import field_parts, pit_rows, planned_ground, station_rows, trial_rows
from hypothesis import given, settings
from hypothesis import strategies as st

from zoning.checks.advice import advise
from zoning.checks.asked import asked_pits
from zoning.checks.groups import judge_groups, judge_zones
from zoning.checks.pits import judge_pits
from zoning.checks.trials import ridge_curve
from zoning.model.settings import MachineSection


def said(more: int, passed: tuple[int, int], pits: int, **facts: object) -> str:
    usual = {
        "verdict": "cannot_tell", "group": "depth", "unseen": "", "more_pits": more, "pits": pits,
        "seen_between": pits, "too_deep": 0, "so_far": "cannot_tell",
        "seen_at_leg": pits, "passed_at_leg": passed[0], "passed_between": passed[1],
    }  # fmt: skip
    return " ".join(text for _, text, _ in asked_pits(pd.Series(usual | facts)))


def test_pits_that_agree_are_asked_to_go_on_agreeing() -> None:
    assert said(4, (0, 0), 0) == "Dig 4 more pits: that many settle it if they agree."
    assert said(1, (3, 0), 3) == "Dig 1 more pit (3 so far): that many settle it if they agree."


def test_why_a_pit_that_disagrees_makes_it_more_is_told() -> None:
    for passed in ((2, 1), (1, 0)):
        text = said(5, passed, 2)
        assert text == (
            "The 2 pits disagree. 5 more that reach the pan would settle it; one that goes "
            "otherwise may ask for more."
        )


def test_the_kind_of_pit_that_is_asked_for_is_that_which_was_counted() -> None:
    most = said(5, (6, 2), 7, so_far="leg_only")
    assert "5 more that pass the pan at the leg only would settle it" in most
    assert "1 more that reaches the pan would" in said(1, (5, 4), 6, so_far="reached")
    assert "1 more that leaves a pan between" in said(1, (5, 1), 6, so_far="not_between")
    assert "3 more that reach the pan" in said(3, (5, 4), 6, so_far="reached")
    none = said(4, (2, 1), 3, so_far="leg_only")
    assert "4 more that pass the pan at the leg only would settle it" in none


@settings(max_examples=30, deadline=None, derandomize=True)
@given(st.lists(st.sampled_from([(36.0, 2.0), (36.0, 9.0), (27.0, 2.0)]), min_size=2, max_size=6))
def test_as_many_pits_of_the_kind_named_settle_it(dug: list[tuple[float, float]]) -> None:
    kinds = {
        "reach the pan": (36.0, 2.0),
        "pass the pan at the leg only": (36.0, 9.0),
        "do not reach the pan": (27.0, 2.0),
        "leave a pan between the legs": (27.0, 2.0),
    }

    def judged(rows: list[tuple[float, float]]) -> pd.Series:
        places = [(10.0 + 20.0 * (at % 4), 8.0 + 12.0 * (at // 4)) for at in range(len(rows))]
        pits = judge_pits(
            pit_rows(
                *(
                    {
                        "loosened_at_leg_cm": leg,
                        "loosened_between_cm": leg - ridge,
                        "x_m": x,
                        "y_m": y,
                    }
                    for (leg, ridge), (x, y) in zip(rows, places, strict=True)
                )
            ),
            planned_ground(),
            read_on="",
        )
        groups = judge_groups(planned_ground(), pits, station_rows(), field_parts())
        return groups[groups["group"] == "depth"].iloc[0]

    facts = judged(dug)
    (text,) = [step.text for step in asked_pits(facts)] or [""]
    if "disagree. " not in text:
        return
    plural = {"reaches": "reach", "passes": "pass", "leaves": "leave", "does": "do"}
    number, go = re.findall(r"(\d+) more that (.*?) would settle it", text)[0]
    verb, _, what = go.partition(" ")
    go = f"{plural.get(verb, verb)} {what}"
    assert judged([*dug, *[kinds[go]] * int(number)])["verdict"] != "cannot_tell"
    assert judged([*dug, *[kinds[go]] * (int(number) - 1)])["verdict"] == "cannot_tell"


def test_pits_that_agree_at_the_leg_disagree_only_where_they_were_seen_between() -> None:
    assert said(3, (7, 2), 7, seen_between=3).startswith("The 3 pits seen between the legs disa")
    assert said(3, (7, 2), 7).startswith("The 7 pits disagree.")
    assert said(3, (6, 3), 7, seen_between=3).startswith("The 7 pits disagree.")
    assert said(3, (7, 3), 7, seen_between=3).startswith("Dig 3 more pits (7 so far)")


def test_the_field_names_the_ground_without_a_pit_and_says_that_pits_count_there_too() -> None:
    bare = "no pit in the headland (0.5 ha)"
    text = said(1, (4, 4), 4, group="field", unseen=bare)
    assert f"Begin there: {bare}." in text
    assert text.endswith("Each counts for its depth and its part as well.")
    assert "Begin" not in said(1, (3, 3), 3, group="field")
    assert "Begin" not in said(4, (0, 0), 0, group="field", unseen=bare), "there is all of it"


def test_nothing_is_asked_where_the_verdict_stands_or_the_ground_is_a_scrap() -> None:
    assert not said(0, (4, 4), 4, verdict="reached")
    assert not said(0, (1, 1), 1)
    assert "disagree too much" in said(-1, (9, 5), 10)


def test_a_field_whose_depths_are_settled_is_told_by_them() -> None:
    text = said(0, (8, 4), 8, group="field")
    assert text == "No more pits are asked for: each depth has its verdict; go by them."
    assert not said(0, (0, 0), 0, group="field")


def test_pits_that_only_wait_for_a_date_are_not_asked_for_again() -> None:
    planned = planned_ground()
    row = {"loosened_at_leg_cm": 35.0, "loosened_between_cm": 32.0}
    early = [row | {"date": "2026-08-01"}] * 4

    def judged(*rows: dict[str, object]) -> tuple[list[int], str]:
        pits = judge_pits(pit_rows(*rows), planned, read_on="2026-08-20", season_from="2026-01-01")
        groups = judge_groups(planned, pits, station_rows(), field_parts())
        zones = judge_zones(planned, pits, station_rows(), field_parts())
        curve = ridge_curve(trial_rows())
        told = advise(groups, pits, curve, MachineSection(), planned.zones)
        more = [*groups["more_pits"], *zones["more_pits"]]
        return more, " ".join(told["text"])

    more, text = judged(*early)
    assert not any(more)
    assert text.startswith("Settle a date first: pits A0, A1, A2 and A3 wait for it")
    assert "Dig" not in text
    # A second round of the season: one pit of now, and those of before its last reading.
    more, text = judged(*early, row)
    assert any(more)
    assert "Dig" in text
    assert "Settle a date" not in text
