"""Pits, dry soil and days that speak against the readings are told beside the rating."""

from __future__ import annotations

import pandas as pd
import pytest
from workflow.paired import NAN, pairs, place

from zoning.model import Notice
from zoning.workflow.evidence_notices import with_answers, with_days


def answers(
    stations: pd.DataFrame,
    *,
    dry: tuple[str, ...] = (),
    points: int = 20,
    loosen: str = "yes",
    lifted: tuple[str, ...] = (),
) -> dict[str, str]:
    parts = ["whole field", *sorted(set(stations["part_used"]))]
    row = {"points": points, "loosen": loosen, "few_points": points < 10}
    rating = pd.DataFrame([{"part": part, **row} for part in parts])
    cone = stations.loc[stations["kind"] == "cone", "station"]
    said = pd.DataFrame({"station": cone, "moisture": ["dry" if s in dry else "" for s in cone]})
    left = stations["station"].isin(lifted).to_numpy()
    told = with_answers(rating, stations, said, left)["answer"]
    return dict(zip(parts, told, strict=True))


def test_the_rating_gives_no_bare_yes_against_most_pits() -> None:
    rows = pairs((30.0, NAN), (31.0, NAN), (32.0, 33.0))
    edge = pd.DataFrame([place("cone", "H1", 900.0, 40.0, part_used="headland")])
    told = answers(pd.concat([rows, edge], ignore_index=True))
    assert told["whole field"] == "yes by the probe; pits say no (2 of 3)"
    assert told["headland"] == "yes by the probe"
    assert answers(pairs((30.0, 31.0), (31.0, NAN)))["whole field"] == "yes"
    assert answers(pairs((30.0, NAN)))["body"] == "yes by the probe; the pit says no"


def test_pits_without_a_pan_on_ground_left_alone_say_nothing_of_the_worked_ground() -> None:
    rows = pairs((30.0, NAN), (31.0, NAN), (32.0, NAN), (32.0, 33.0), (33.0, NAN))
    pits = list(rows.loc[rows["kind"] == "pit", "station"])
    assert answers(rows)["whole field"] == "yes by the probe; pits say no (4 of 5)"
    assert answers(rows, lifted=(pits[0], pits[1], pits[2], pits[4]))["whole field"] == "yes"
    some = answers(rows, lifted=tuple(pits[:2]))["whole field"]
    assert some == "yes by the probe; pits on worked ground say no (2 of 3)"
    every = answers(rows, lifted=(*pits[:3], pits[4], pits[3]))["whole field"]
    assert every == "yes by the probe; pits say no (4 of 5)"
    none = answers(rows, lifted=tuple(pits[:3]), loosen="no")["whole field"]
    assert none == "no"


def test_pits_with_a_pan_stand_against_a_no() -> None:
    told = answers(pairs((NAN, 30.0), (NAN, 31.0)), loosen="no")
    assert told["whole field"] == "no by the probe; pits say yes (2 of 2)"


def test_too_few_points_give_no_answer_in_any_row() -> None:
    assert set(answers(pairs((30.0, 30.0)), points=9).values()) == {"too few to tell"}
    assert set(answers(pairs((30.0, 30.0)), points=0).values()) == {""}


def test_an_answer_from_dry_soil_says_so() -> None:
    cones = pd.DataFrame([place("cone", f"S{i}", 100.0 * i, 30.0) for i in range(4)])
    assert answers(cones, dry=("S1",))["body"] == "yes"
    assert answers(cones, dry=("S1", "S2"))["body"] == "yes by the probe, partly in dry soil"
    every = tuple(cones["station"])
    assert answers(cones, dry=every)["body"] == "yes by the probe in dry soil"
    dug = pairs((30.0, 31.0), (30.0, 31.0))
    told = answers(dug, dry=("S1", "S2"))["body"]
    assert told == "yes by the probe in dry soil; pits say yes (2 of 2)"


SEVERAL = Notice("note", "several-dates", "The readings are of 2 dates.")
REPORT = {
    "day_effect_2026-09-01_cm": -1.6,
    "day_effect_sd_2026-09-01_cm": 1.54,
    "day_effect_2026-09-09_cm": 1.8,
    "day_effect_sd_2026-09-09_cm": 1.56,
    "days_warning": "",
}


def two_days() -> pd.DataFrame:
    late = {"date": "2026-09-09"}
    return pd.DataFrame(
        [
            place("cone", "S1", 0.0, 30.0),
            place("cone", "S1b", 3.0, 33.4, **late),
            place("cone", "S2", 100.0, 32.0),
            place("cone", "S2b", 104.0, 35.8, **late),
            place("cone", "S3b", 200.0, 36.0, **late),
        ]
    )


def test_what_is_taken_off_the_bases_of_each_day_is_told_with_the_stations_repeated() -> None:
    (told,) = with_days([SEVERAL], two_days(), REPORT)
    assert told.text == (
        f"{SEVERAL.text} The plan adds 1.6 cm to the bases read on 2026-09-01 (give or take 1.5 "
        "cm), takes 1.8 cm off those of 2026-09-09 (give or take 1.6 cm; stations within 10 "
        "m of one of 2026-09-01 read 3.4, 3.8 cm deeper); no pit sets the level."
    )


@pytest.mark.parametrize(
    ("late_cm", "words"),
    [((29.4, 31.0), "read 1.0, 0.6 cm shallower)"), ((29.4, 33.0), "read -0.6, +1.0 cm (+ is")],
)
def test_repeats_that_read_shallower_are_told_so(late_cm: tuple[float, float], words: str) -> None:
    rows = two_days()
    late = rows["station"].isin(["S1b", "S2b"])
    (told,) = with_days(
        [SEVERAL],
        rows.assign(
            pan_base_cm=rows["pan_base_cm"].mask(late, pd.Series(late_cm, index=rows.index[late]))
        ),
        REPORT,
    )
    assert words in told.text


def test_a_station_on_another_part_of_the_field_is_no_repeat() -> None:
    rows = two_days()
    edge = rows.assign(part_used=rows["part_used"].mask(rows["station"] == "S2b", "wheeling"))
    (told,) = with_days([SEVERAL], edge, REPORT)
    assert "read 3.4 cm deeper)" in told.text


def test_pits_are_named_where_they_set_the_level() -> None:
    dug = pd.concat([two_days(), pd.DataFrame([place("pit", "P1", 50.0, 29.0)])])
    (told,) = with_days([SEVERAL], dug, REPORT)
    assert " By the pits the plan adds 1.6 cm to the bases" in told.text
    assert "no pit" not in told.text
    bare = pd.concat([two_days(), pd.DataFrame([place("pit", "P1", 50.0, NAN)])])
    assert with_days([SEVERAL], bare, REPORT) == with_days([SEVERAL], two_days(), REPORT)


def test_a_day_to_which_nothing_that_prints_is_done_is_left_as_read() -> None:
    (told,) = with_days([SEVERAL], two_days(), REPORT | {"day_effect_2026-09-09_cm": -0.04})
    assert "leaves those of 2026-09-09 as they were read (give or take 1.6 cm; stat" in told.text
    assert "0.0 cm" not in told.text


def test_days_that_cannot_be_told_from_places_are_said_to_be_so() -> None:
    (told,) = with_days([SEVERAL], two_days(), REPORT | {"days_warning": "Apart."})
    assert told.text.endswith("how much the ground cannot be told.")


def test_one_day_has_nothing_to_differ_from() -> None:
    one = two_days()[lambda rows: rows["date"] == "2026-09-01"]
    assert with_days([SEVERAL], one, REPORT) == (SEVERAL,)
