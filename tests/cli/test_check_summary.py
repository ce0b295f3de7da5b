"""The account of a check in a terminal."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from outputs.small_check import small_check, trials

from zoning.cli.check_summary import check_summary
from zoning.model import Notice
from zoning.outputs.check.words import NO_FAIR_SAMPLE


def told(**changes: object) -> str:
    return check_summary(small_check(**changes), [Path("a"), Path("b")], Path("out"))


def test_it_begins_with_the_verdict_and_ends_with_the_files() -> None:
    text = told()
    assert "reached at the leg only" in text.splitlines()[0]
    assert text.splitlines()[-1] == "2 files written to out"


def test_each_depth_has_a_line_with_counts_and_interval() -> None:
    line = next(line for line in told().splitlines() if line.strip().startswith("35 cm"))
    assert "4 of 4" in line
    assert "0 of 4" in line
    assert "0-44 %" in line  # 1 - 0.1^(1/4) = 0.438, Clopper-Pearson by hand.


def test_rows_left_out_are_named_with_their_reason() -> None:
    assert "Left out:\n  - pits.csv: pit <X>, row 9: 20 m outside" in told()


def test_no_trial_runs_no_line_of_them() -> None:
    assert "Trial runs: ridge" in told()
    assert "Trial runs: ridge" not in told(runs=trials().iloc[:0])


def test_ridges_of_runs_that_rose_with_speed_are_told_as_evened() -> None:
    """Ridges of 3 and 4 cm at 4 and 10 km/h: the mean of both, since none rises with speed."""
    rising = trials().assign(loosened_between_cm=[32.0, 31.0])
    evened = "ridge 3.5 cm at 4 km/h, 3.5 cm at 10 km/h (evened, never to rise with speed);"
    assert evened in told(runs=rising)
    assert "evened" not in told()


def test_even_work_is_kept() -> None:
    text = told(ridge_cm=3.0)
    assert "Keep speed and setting" in text
    assert "reached" in text.splitlines()[0]


def test_a_pit_that_asks_to_stop_stands_before_the_others_in_a_list_cut_short() -> None:
    check = small_check()
    first = check.pits.iloc[:1].assign(verdict="leg_only")
    pits = pd.concat([first.assign(pit=f"B{i}") for i in range(15)], ignore_index=True)
    stop = Notice("caution", "check-worked-in-keep-off", "Stop: pit B14.", ("B14",))
    text = check_summary(replace(check, pits=pits, notices=(stop,)), [], Path("out"))
    listed = text.partition("not plainly reached:")[2].split("\n\n")[0].splitlines()
    assert listed[1].startswith("  - pit B14:")
    assert listed[2].startswith("  - pit B0:")


def test_lifted_ground_as_planned_is_not_among_the_pits_not_reached() -> None:
    check = small_check()
    missed = "Pits that were not plainly reached"

    def shown(**changes: object) -> str:
        pits = check.pits.iloc[:1].assign(verdict="lifted_out", **changes)
        return check_summary(replace(check, pits=pits), [], Path("out"))

    assert missed not in shown(pan="no", loosened_at_leg_cm=np.nan)
    assert missed not in shown(pan="no", loosened_at_leg_cm=2.0), "no spade tells it from none"
    assert missed in shown(pan="no", loosened_at_leg_cm=30.0)
    assert missed in shown(pan="yes", loosened_at_leg_cm=np.nan)


def test_how_fair_the_places_to_dig_are_is_said_where_there_are_any() -> None:
    check = small_check(ridge_cm=8.0)
    for places in (check.dig_next, check.dig_next.iloc[:0]):
        text = check_summary(replace(check, dig_next=places), [], Path("out"))
        assert (NO_FAIR_SAMPLE in text) == bool(len(places))
    assert len(check.dig_next)


@pytest.mark.parametrize("code", ["check-pits-older", "check-pits-of-the-day"])
def test_what_asks_to_stop_comes_first_then_that_pits_may_be_older_than_the_plan(code: str) -> None:
    check = small_check()
    wet = Notice("caution", "check-soil-plastic", "Stop: soil was plastic in pit B.")
    old = Notice("caution", code, "3 of 4 pits were dug before the day.")
    text = check_summary(replace(check, notices=(old, wet)), [], Path("out"))
    assert text.splitlines()[0] == "STOP: Soil was plastic in pit B."
    assert text.splitlines()[2] == old.text
    assert text.count(old.text) == 1
    assert "Cautions:" not in text


def test_too_few_pairs_are_told_once_of_all_they_concern() -> None:
    check = small_check()
    rows = pd.DataFrame(
        {"p_least": [0.5, 0.01, 0.12], "words": ["Few one.", "Enough.", "Few two."]}
    )
    text = check_summary(replace(check, changes=rows), [], Path("out"))
    assert text.count("Too few pairs to prove anything in the lines that follow.") == 1
    lines = [text.index(word) for word in ("Enough.", "Too few pairs", "Few one.", "Few two.")]
    assert lines == sorted(lines)


def test_a_chance_named_beside_a_place_is_told_apart_from_the_assurance() -> None:
    check = small_check()
    by_plan = check.dig_next.assign(
        reason="Body: no pit yet.", chance_between=0.02, ridge_cm=3.0, ridge_from="pits"
    )
    text = check_summary(replace(check, dig_next=by_plan), [], Path("out"))
    sentence = "The plan's 0.8 is for base and clearance: at the leg, or"
    assert text.count(sentence) == 1
    assert "if the ridge stays 3 cm as in your pits. " in text
    assert text.index(sentence) < text.index("likely passed 2 %. Body: no pit yet.")
    unknown = check_summary(
        replace(check, dig_next=by_plan.assign(chance_between=float("nan"))), [], Path("out")
    )
    assert "ikely passed" not in unknown
    none = check_summary(replace(check, dig_next=check.dig_next.iloc[:0]), [], Path("out"))
    assert sentence not in none
