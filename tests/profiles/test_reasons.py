"""The sentences that say why an insertion has its verdict."""

from __future__ import annotations

import numpy as np
import pytest

from zoning.profiles import interpret
from zoning.profiles.reasons import _MAIN


def reason(insertion, index, **given) -> str:
    depth = 2.5 * np.arange(1, len(index) + 1)
    return str(interpret(insertion("A/1", depth, index, **given), limit_mpa=2.0)["reason"].iloc[0])


def test_every_verdict_has_a_sentence() -> None:
    assert set(_MAIN) == {
        "pan", "no_pan", "base_not_reached", "refused", "hard_throughout", "unusable",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("index", "given", "words"),
    [
        ([1.0] * 8 + [3.0] * 4 + [1.0] * 6, {}, ["Hard from 21.2 to 31.2 cm"]),
        ([2.8] * 8 + [1.0] * 8, {}, ["from the surface to"]),
        ([1.0] * 8 + [2.6, 3.0], {"refused": "yes"}, ["noted as refused", "deeper than 25 cm"]),
        ([1.0] * 8 + [2.6, 3.0, 0.0, 0.0], {}, ["zeros or blanks"]),
        ([1.0] * 8 + [2.6, 3.0], {}, ["stopped above 40 cm"]),
        ([1.0] * 4 + [6.0] + [1.0] * 12, {}, ["Taken out as stones: at 12.5 cm."]),
        (
            [6.0] + [1.0] * 4 + [5.0] + [1.0] * 3 + [12.0] + [1.0] * 8,
            {},
            ["as stones: at 2.5 cm, 15 cm, 25 cm (harder than a hand pushes: mistyped?)."],
        ),
        ([1.0] * 8 + [3.0, 3.0, 1.6, 3.0, 3.0] + [1.0] * 6, {}, ["Softer stretches bridged: 1."]),
    ],
)
def test_what_was_seen_and_done_is_said(insertion, index, given, words) -> None:
    text = reason(insertion, index, **given)
    assert [word for word in words if word not in text] == []


def test_readings_averaged_are_said(insertion) -> None:
    depth = [5, 10, 10, 15, 20, 25, 30, 35]
    out = interpret(insertion("A/1", depth, [1.0] * 8), limit_mpa=2.0)
    assert "Readings at the same depth averaged: 1." in out["reason"].iloc[0]


@pytest.mark.parametrize("noted", ["on every row", "on the leap", "on a blank row below"])
def test_a_push_ended_by_a_stone_is_told_at_the_depth_where_it_was_noted(insertion, noted) -> None:
    """A refusal noted at 8 in (20.3 cm), the last sound reading at 6 in (15.2 cm)."""
    depth, index = [2.54, 5.08, 10.16, 15.24, 20.32], [0.4, 0.56, 0.71, 0.94, 4.27]
    rows = insertion("A/1", depth, index, refused="yes")
    if noted != "on every row":
        rows["refused"] = ["", "", "", "", "yes"]
    if noted == "on a blank row below":
        rows["cone_index_mpa"] = [*index[:4], np.nan]
    (text,) = interpret(rows, limit_mpa=2.0)["reason"]
    assert text.startswith("Stopped dead at 20.3 cm out of soft soil")


def test_blanks_below_a_refusal_noted_on_every_row_are_not_where_it_was(insertion) -> None:
    depth, index = np.arange(5, 40, 5), [0.6, 0.7, 0.9, 0.8, *[np.nan] * 3]
    rows = insertion("A/1", depth, index, refused="yes")
    (text,) = interpret(rows, limit_mpa=2.0)["reason"]
    assert text.startswith("Stopped dead at 20 cm")


def test_a_leap_below_hard_soil_is_where_the_push_stopped(insertion) -> None:
    index = [1.0] * 8 + [2.6, 3.0, 9.0]
    assert "stopped at 27.5 cm in hard soil" in reason(insertion, index, refused="yes")
    told = "What leaps up below 25 cm may be a stone. The base lies deeper than 25 cm."
    assert told in reason(insertion, index, refused="yes")
    assert "leaps" not in reason(insertion, index[:-1], refused="yes")


def test_the_end_on_a_stone_below_a_pan_is_the_stone(insertion) -> None:
    index = [1.0] * 8 + [3.0] * 4 + [1.0] * 4 + [8.0]
    text = reason(insertion, index, refused="yes")
    assert "Taken out as stones: at 42.5 cm. " in text
    assert "The push ended at 42.5 cm on a stone" in text
