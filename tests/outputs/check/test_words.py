"""Every verdict that a row may hold has words and, on the ground, a tone and a letter."""

from __future__ import annotations

import json

import pytest

from zoning.contracts import shared
from zoning.outputs.check.words import (
    GROUND,
    LETTERS,
    TONES,
    VERDICTS,
    more_words,
    verdict_words,
)


@pytest.mark.parametrize("name", ["check_zones", "check_pits"])
def test_the_words_cover_the_schemas(name: str) -> None:
    document = json.loads(shared("schemas", f"{name}.schema.json").read_text(encoding="utf-8"))
    assert set(document["properties"]["verdict"]["enum"]) <= set(VERDICTS)


def test_ground_is_told_by_letter_as_well_as_tone() -> None:
    assert set(GROUND) == set(TONES) == set(LETTERS)
    letters = [LETTERS[name] for name in GROUND if LETTERS[name]]
    assert len(letters) == len(set(letters)) == 6


def test_words_for_too_few_pits() -> None:
    assert verdict_words("cannot_tell", "leg_only") == (
        "cannot tell yet (most pits: reached at the leg only)"
    )
    assert verdict_words("cannot_tell", "") == "cannot tell"
    assert verdict_words("reached", "reached") == "reached"
    assert [more_words(n) for n in (0, 3, -1)] == ["none", "3", "digging will not settle it"]
