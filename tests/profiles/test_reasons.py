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
        ([1.0] * 4 + [6.0] + [1.0] * 12, {}, ["Taken out as stones: 1."]),
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
