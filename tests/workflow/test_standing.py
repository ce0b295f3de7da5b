"""Stops of checks that stand in the record: from when, until when; trial runs of earlier years."""

from __future__ import annotations

from pathlib import Path

import pytest
from workflow.paged import corrected, keep_check, page_pit

from zoning.outputs.bars import STANDING
from zoning.records import Draft, Trial, new_id, open_record
from zoning.workflow.files import read_field
from zoning.workflow.left_over import RUNS
from zoning.workflow.standing import may_tell, standing_stops

NEAR = "Stop: pit B9 was loosened 0.8 m from the service, inside its keep-off of 5 m."
PAST = "Stop: pit B8 was loosened 36 cm deep, where the drain (D2) holds the work at 30 cm."
SMEARED = "Stop: soil was plastic in pit B8, B9. No setting loosens plastic soil."
ALL = (
    ("check-worked-in-keep-off", NEAR),
    ("check-past-cap", PAST),
    ("check-soil-plastic", SMEARED),
)


def texts(folder: Path, season: int | None = 2026) -> list[str]:
    return [stop.text for stop in standing_stops(folder, season)]


@pytest.fixture
def dug(tmp_path: Path) -> Path:
    """Return a field folder whose record holds the pits B8 and B9 and nothing else."""
    for name in ("B8", "B9"):
        page_pit(tmp_path, name)
    return tmp_path


def test_a_field_without_a_record_has_none_and_gets_none(tmp_path: Path) -> None:
    assert standing_stops(tmp_path, 2026) == ()
    assert not list(tmp_path.iterdir())


def test_each_stop_of_the_newest_check_is_told_with_day_plan_and_pits(dug: Path) -> None:
    assert standing_stops(dug, 2026) == ()
    when = keep_check(dug, *ALL, ("check-not-cleared", "Pit B8 shows work deeper than 30 cm."))
    lead = f"STOP, by the check of {when[:10]} against plan aaaaaaaa: "
    assert texts(dug) == [lead + text.removeprefix("Stop: ") for _, text in ALL]
    told = standing_stops(dug, 2026)
    assert {(stop.level, stop.code) for stop in told} == {("caution", STANDING)}
    assert [stop.pits for stop in told] == [("B9",), ("B8",), ("B8", "B9")]


def test_a_newer_check_that_does_not_say_it_takes_it_away(dug: Path) -> None:
    keep_check(dug, *ALL)
    gone = "The Stop of 2026-10-02 for pit B8 no longer stands."
    keep_check(dug, ALL[0], ("check-stop-gone", gone))
    (told,) = texts(dug)
    assert NEAR.removeprefix("Stop: ") in told


def test_a_stop_goes_with_the_last_of_its_pits_that_is_withdrawn(dug: Path) -> None:
    keep_check(dug, *ALL)
    corrected(dug, "B8", withdrawn="yes", why="drain laid open: whole")
    assert [NEAR[6:] in texts(dug)[0], SMEARED[6:] in texts(dug)[1]] == [True, True]
    corrected(dug, "B9", withdrawn="yes", why="another field")
    assert texts(dug) == []


def test_of_an_earlier_season_all_stand_but_plastic_soil(dug: Path) -> None:
    keep_check(dug, *ALL)
    keep_check(dug, season=2027)
    assert len(texts(dug, 2026)) == len(texts(dug, None)) == 3
    assert [text.partition(": ")[2] for text in texts(dug, 2027)] == [NEAR[6:], PAST[6:]]


def test_a_record_that_cannot_be_read_is_told_and_stops_nothing(dug: Path) -> None:
    (dug / "records.gpkg").write_bytes(b"letters" * 900)
    (told,) = standing_stops(dug, 2026)
    assert (told.level, told.code) == ("caution", "record-not-read")


def test_trial_runs_of_an_earlier_season_come_with_the_field_and_those_of_this_one_do_not(
    copied: Path,
) -> None:
    toml = copied / "field.toml"
    toml.write_text(
        toml.read_text("utf-8").replace("pits =", 'trials = "trials.csv"\npits ='), "utf-8"
    )
    runs = "run,speed_km_h,loosened_at_leg_cm,loosened_between_cm\nT1,8,40,36\n"
    (copied / "trials.csv").write_text(runs, "utf-8")

    def told(season: int) -> list[str]:
        held = Trial(season=season, run="T1", speed_km_h=8.0, loosened_at_leg_cm=40.0,
                     loosened_between_cm=36.0)  # fmt: skip
        row = new_id()
        draft = Draft(body=held, row_id=row, record_id=row, based_on=0, origin="file")
        open_record(copied).save(draft)
        return [n.text for n in read_field(copied).notices if n.code == RUNS]

    assert told(2026) == []
    assert not may_tell(copied, 2026)
    (words,) = told(2025)
    assert words.startswith(
        "1 trial run (T1) is of 2025 by the season record. A plan of 2026 still"
    )
    assert may_tell(copied, 2026)
    (copied / "trials.csv").write_text(runs.replace("36", "37"), "utf-8")
    assert told(2024) == []
