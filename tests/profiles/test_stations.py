"""Insertions to stations."""

from __future__ import annotations

import json

import jsonschema
import numpy as np
import pandas as pd
import pytest

from zoning.contracts import shared
from zoning.profiles import interpret, join_stations, told_apart
from zoning.profiles.rules import rule

NAN = float("nan")
NO_PAN = {"verdict": "no_pan", "pan_top_cm": NAN, "pan_base_cm": NAN, "over_limit_38": False}
REFUSED = {"verdict": "refused", "censored": True}
SILENT = {**NO_PAN, "verdict": "unusable", "reason": "Only 2 usable readings."}


def joined(insertions_of, pit, rows) -> pd.Series:
    return join_stations(insertions_of(rows), pit().iloc[:0]).iloc[0]


def test_mean_spread_and_count_of_repeats(insertions_of, pit) -> None:
    row = joined(insertions_of, pit, [{"pan_base_cm": b} for b in (29.0, 30.0, 32.0, 33.0)])
    assert row["pan_base_cm"] == pytest.approx(31.0)
    assert row["base_spread_cm"] == pytest.approx(np.std([29, 30, 32, 33], ddof=1))
    assert (row["n_insertions"], row["n_pan"], row["n_known"]) == (4, 4, 4)


def test_more_insertions_make_the_error_smaller_but_for_the_depth_step(insertions_of, pit) -> None:
    one = joined(insertions_of, pit, [{}])["error_sd_cm"]
    four = joined(insertions_of, pit, [{}] * 4)["error_sd_cm"]
    step = rule("step_error_share") * 2.5 / np.sqrt(12)
    assert one == pytest.approx(np.hypot(rule("within_station_sd_cm"), step))
    assert step < four < one / 1.8


def test_what_was_set_aside_is_said(insertions_of, pit) -> None:
    row = joined(insertions_of, pit, [{"pan_base_cm": b} for b in (29.0, 30.0, 31.0, 44.0)])
    assert row["pan_base_cm"] == pytest.approx(30.0)
    assert "Set aside as standing alone: 44 cm" in row["reason"]
    assert row["n_pan"] == 4


def test_mostly_refused_is_censored(insertions_of, pit) -> None:
    rows = [{"pan_base_cm": 31.0}, *[{**REFUSED, "pan_base_cm": b} for b in (33.0, 34.0)]]
    row = joined(insertions_of, pit, rows)
    assert row["censored"]
    assert row["verdict"] == "refused"
    assert "deeper than" in row["reason"]
    assert row["error_sd_cm"] > 0


def test_half_with_a_pan_is_a_pan_and_less_is_not(insertions_of, pit) -> None:
    half = joined(insertions_of, pit, [{}, NO_PAN])
    assert (half["verdict"], half["n_pan"], half["n_known"]) == ("pan", 1, 2)
    third = joined(insertions_of, pit, [{}, NO_PAN, NO_PAN])
    assert (third["verdict"], third["n_pan"], third["n_known"]) == ("no_pan", 1, 3)
    assert np.isnan(third["pan_base_cm"])
    assert third["used"]
    assert third["reason"].startswith("1 of 3 insertions shows a pan. Too few")


def test_insertions_without_an_answer_do_not_count(insertions_of, pit) -> None:
    row = joined(insertions_of, pit, [{}, SILENT])
    assert (row["n_insertions"], row["n_known"]) == (2, 1)
    assert row["reason"] == "1 insertion shows a pan. Without an answer: 1."


def test_a_station_without_any_answer_is_listed_and_not_used(insertions_of, pit) -> None:
    row = joined(insertions_of, pit, [SILENT, SILENT])
    assert not row["used"]
    assert row["verdict"] == "unusable"
    assert "Only 2 usable readings" in row["reason"]


def test_hard_ground_asks_for_a_pit_and_is_not_used(insertions_of, pit) -> None:
    row = joined(insertions_of, pit, [{**NO_PAN, "verdict": "hard_throughout"}, SILENT])
    assert (row["verdict"], row["used"]) == ("hard_throughout", False)
    assert "pit" in row["reason"]


def test_insertions_far_apart_are_pointed_out(insertions_of, pit) -> None:
    apart = rule("station_place_tolerance_m") + 1
    row = joined(insertions_of, pit, [{"x_m": 0.0}, {"x_m": apart}])
    assert "Caution: its insertions lie up to 6 m apart." in row["reason"]
    assert row["x_m"] == apart / 2


def test_insertions_of_a_station_that_lies_apart_say_so_and_no_others(insertions_of) -> None:
    apart = rule("station_place_tolerance_m") + 1
    rows = [{"station": "A", "x_m": 0.0}, {"station": "A", "x_m": apart}, {"station": "B"}]
    table = insertions_of(rows).assign(reason="Pan.")
    words = "Pan. The insertions of its station lie up to 6 m apart."
    assert told_apart(table)["reason"].tolist() == [words, words, "Pan."]


def test_no_insertions_at_all_are_nothing_to_tell(insertions_of) -> None:
    none = insertions_of([{}]).iloc[:0]
    assert told_apart(none.astype({"reason": float})).empty  # blank columns read as numbers


def test_dates_and_parts_that_differ_are_pointed_out(insertions_of, pit) -> None:
    rows = [
        {"date": "2026-09-02", "part": "body"},
        {"date": "2026-09-01", "part": "wheeling"},
        {"date": "", "part": "wheeling"},
    ]
    row = joined(insertions_of, pit, rows)
    assert (row["date"], row["part"]) == ("2026-09-01", "wheeling")
    assert "more than one date" in row["reason"]
    blank = joined(insertions_of, pit, rows[1:])
    assert blank["date"] == "2026-09-01"
    assert "more than one date" not in blank["reason"], "a row left blank has no date of its own"
    assert "More than one part" in row["reason"]


def test_each_station_is_joined_on_its_own_whatever_the_order(insertions_of, pit) -> None:
    rows = [{"station": s, "pan_base_cm": b} for s, b in [("B", 40.0), ("A", 30.0), ("B", 42.0)]]
    table = insertions_of(rows)
    out = join_stations(table, pit())
    assert out["station"].tolist() == ["A", "B", "P1"]
    assert out["pan_base_cm"].tolist() == [30.0, 41.0, 31.0]
    pd.testing.assert_frame_equal(out, join_stations(table.iloc[::-1], pit()))


def test_stations_and_pits_keep_to_the_schema(insertions_of, pit) -> None:
    rows = [{}, {**REFUSED, "station": "B"}, {**NO_PAN, "station": "C"}, {**SILENT, "station": "D"}]
    out = join_stations(insertions_of(rows), pd.concat([pit(), pit(pit="P2", pan="no")]))
    text = shared("schemas", "stations.schema.json").read_text(encoding="utf-8")
    validator = jsonschema.Draft202012Validator(json.loads(text))
    found = json.loads(out.to_json(orient="records"))
    assert len(found) == 6
    assert [f.message for row in found for f in validator.iter_errors(row)] == []


def test_pits_alone_and_nothing_at_all(insertion, pit) -> None:
    none = interpret(insertion("A/1", [5.0], [1.0]).iloc[:0], limit_mpa=2.0)
    assert join_stations(none, pit())["kind"].tolist() == ["pit"]
    assert join_stations(none, pit().iloc[:0]).empty


def test_the_stated_error_is_the_true_one(insertion, pan_profile, pit) -> None:
    """Stations of one to four insertions, each base off by 1.5 cm: scaled errors spread by 1."""
    rng = np.random.default_rng(11)
    depth = np.arange(2.5, 60.1, 2.5)
    logs, bases = [], rng.uniform(28, 38, 240)
    for i, base in enumerate(bases):
        for k in range(1 + i % 4):
            here = base + rng.normal(0, 1.5)
            index = pan_profile(depth, here - 12, here) * np.exp(rng.normal(0, 0.05, len(depth)))
            logs.append(insertion(f"S{i:03d}/{k + 1}", depth, index))
    out = join_stations(interpret(pd.concat(logs), limit_mpa=2.0), pit().iloc[:0])
    assert out["verdict"].eq("pan").all()
    score = (out["pan_base_cm"] - bases) / out["error_sd_cm"]
    assert abs(score.mean()) < 0.2
    assert 0.8 < score.std() < 1.2
