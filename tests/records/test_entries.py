"""Limits of what is kept, and what is wrong with a pit as a whole."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from records.kept import pit

from zoning.records import BODIES, Pit, faults_of, pit_faults
from zoning.records.entries import body_columns

SCHEMAS = Path(__file__).parents[2] / "shared" / "schemas"


def test_a_pit_of_the_record_has_the_columns_and_limits_of_the_contract() -> None:
    """Against ``shared/schemas/pits.schema.json``: same names, same words, same ranges."""
    schema = json.loads((SCHEMAS / "pits.schema.json").read_text(encoding="utf-8"))["properties"]
    own = {column.name: column for column in body_columns(Pit)}
    assert set(schema) - {"x_m", "y_m", "file", "row"} <= set(own)
    for name, facts in schema.items():
        if name not in own:
            continue
        if "enum" in facts:
            assert set(own[name].words) == set(facts["enum"])
        if "maximum" in facts:
            assert (own[name].least, own[name].most) == (facts["minimum"], facts["maximum"])


@pytest.mark.parametrize("kind", BODIES, ids=lambda kind: kind.TABLE)
def test_every_text_is_bounded_or_one_of_few_words(kind: type) -> None:
    loose = [c.name for c in body_columns(kind) if c.kind is str and not (c.words or c.letters)]
    assert loose == []


def test_a_good_pit_has_no_fault() -> None:
    said = pit(
        pan="yes", pan_top_cm=20.0, pan_base_cm=30.0, loosened_at_leg_cm=0.0, date="2026-10-02"
    )
    assert faults_of(said) == []
    assert pit_faults(said, is_date=True) == []


@pytest.mark.parametrize(
    ("said", "column"),
    [
        ({"pan_top_cm": 31.0, "pan_base_cm": 30.0}, "pan_top_cm"),
        ({"pan": "no", "pan_base_cm": 30.0}, "pan"),
        ({"loosened_at_leg_cm": 30.0, "loosened_between_cm": 31.0}, "loosened_between_cm"),
        ({"lon": None}, "lon"),
        ({"name": ""}, "pit"),
        ({"date": "2026-13-01"}, "date"),
    ],
)
def test_what_contradicts_itself_is_named(said: dict[str, object], column: str) -> None:
    assert column in [name for name, _ in pit_faults(pit(**said), is_date=False)]  # type: ignore[arg-type]


def test_whole_numbers_are_whole() -> None:
    assert faults_of(pit(season=2026.5))[0][0] == "season"
    assert faults_of(pit(season=True))[0][0] == "season"
