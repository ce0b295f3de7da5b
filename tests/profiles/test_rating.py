"""The survey rating.

Published classes: Penn State Agronomy Facts 63 (Duiker 2002), after the University of Kentucky; the
table is quoted from memory with high confidence. The decision at half the points was read at the
source (University of Kentucky, ID-153 family).
"""

from __future__ import annotations

import json

import jsonschema
import pandas as pd
import pytest

from zoning.contracts import shared
from zoning.profiles import rate
from zoning.profiles.rating import rated
from zoning.profiles.rules import rule


@pytest.mark.parametrize(
    ("over", "rating", "loosen"),
    [
        (0, "little", "no"), (29, "little", "no"), (30, "slight", "no"), (49, "slight", "no"),
        (50, "moderate", "yes"), (75, "moderate", "yes"), (76, "severe", "yes"),
        (100, "severe", "yes"),
    ],
)  # fmt: skip
def test_published_classes(over, rating, loosen) -> None:
    assert rated(over, 100) == (rating, loosen)


def points(insertions_of, counts: dict[str, tuple[int, int]]) -> pd.DataFrame:
    """Return one insertion a station: by part, how many are over the limit of how many."""
    return insertions_of(
        [
            {"station": f"{part}{k}", "part": part, "over_limit_38": k < over}
            for part, (over, of) in counts.items()
            for k in range(of)
        ]
    )


def test_the_whole_field_comes_first_and_each_part_follows(insertions_of) -> None:
    table = points(insertions_of, {"headland": (9, 10), "body": (3, 20)})
    out = rate(table, table["part"])
    assert out["part"].tolist() == ["whole field", "body", "headland"]
    assert out["points"].tolist() == [30, 20, 10]
    assert out["over_limit"].tolist() == [12, 3, 9]
    assert out["rating"].tolist() == ["slight", "little", "severe"]
    assert out["loosen"].tolist() == ["no", "no", "yes"]
    assert out["share"].tolist() == pytest.approx([0.4, 0.15, 0.9])


def test_few_points_are_marked(insertions_of) -> None:
    least = int(rule("survey_points_min"))
    table = points(insertions_of, {"a": (1, least - 1), "b": (1, least)})
    assert rate(table, table["part"])["few_points"].tolist() == [False, True, False]


def test_a_station_counts_once_however_often_it_was_probed(insertions_of) -> None:
    rows = [{"station": "A", "over_limit_38": over} for over in (True, True, False, False)]
    rows += [{"station": "B", "over_limit_38": over} for over in (True, False, False)]
    table = insertions_of(rows)
    field = rate(table, table["part"]).iloc[0]
    assert (field["points"], field["over_limit"]) == (2, 1)


def test_a_station_on_the_edge_of_two_parts_counts_for_one(insertions_of) -> None:
    table = insertions_of([{"part": part} for part in ("body", "headland", "headland")])
    out = rate(table, table["part"])
    assert out["part"].tolist() == ["whole field", "headland"]
    assert out["points"].tolist() == [1, 1]


def test_insertions_that_stopped_short_in_soft_soil_do_not_count(insertions_of) -> None:
    rows = [
        {"station": "A", "verdict": "unusable", "over_limit_38": False},
        {"station": "B", "verdict": "hard_throughout", "over_limit_38": True},
    ]
    table = insertions_of(rows)
    field = rate(table, table["part"]).iloc[0]
    assert (field["points"], field["over_limit"]) == (1, 1)


def test_no_point_at_all_has_no_rating(insertions_of) -> None:
    table = insertions_of([{"verdict": "unusable", "over_limit_38": False}])
    field = rate(table, table["part"]).iloc[0]
    assert (field["points"], field["rating"], field["loosen"]) == (0, "", "")
    assert rate(table.iloc[:0], table["part"].iloc[:0])["points"].tolist() == [0]


def test_parts_on_another_index_are_refused(insertions_of) -> None:
    table = insertions_of([{}, {}])
    with pytest.raises(ValueError, match="index"):
        rate(table, table["part"].set_axis([7, 8]))


def test_rows_keep_to_the_schema(insertions_of) -> None:
    table = points(insertions_of, {"body": (3, 20), "gateway": (0, 1)})
    text = shared("schemas", "rating.schema.json").read_text(encoding="utf-8")
    validator = jsonschema.Draft202012Validator(json.loads(text))
    found = json.loads(rate(table, table["part"]).to_json(orient="records"))
    assert len(found) == 3
    assert [f.message for row in found for f in validator.iter_errors(row)] == []
