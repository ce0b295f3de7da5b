"""The account in the terminal where a field says little: no words about nothing."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

import zoning
from zoning.cli.effort_words import changes_words, effort_words
from zoning.cli.summary import (
    TOLD_ELSEWHERE,
    _at_most,
    _comparison,
    _depths,
    _left_out,
    _need,
    _rating,
    _readings,
    _trust,
    summary,
)
from zoning.model import Losses, Notice
from zoning.model.settings import DepthSection, MachineSection, ReadingsSection, TractorSection
from zoning.workflow.driving import pin_notices

SAMPLE = Path(__file__).parents[2] / "sample_data" / "teasel_piece"


def rating(points: int) -> pd.DataFrame:
    share = 0.5 if points else float("nan")
    row = {"part": "whole field", "points": points, "share": share, "rating": "", "answer": ""}
    return pd.DataFrame([row])


def test_a_field_of_pits_alone_is_not_rated_in_per_cent() -> None:
    assert _rating(SimpleNamespace(rating=rating(0)))[1][2] == "not probed"
    assert _rating(SimpleNamespace(rating=rating(4)))[1][2] == "50 %"


def test_what_speaks_against_the_rating_stands_below_it() -> None:
    told = (Notice("caution", "readings-dry", "Dry."), Notice("caution", "drains", "Drains."))
    lines = _need(SimpleNamespace(rating=rating(4), notices=told)).splitlines()
    assert lines[0] == "Is loosening called for?"
    assert lines[-1] == "  Caution: Dry."
    assert "Drains." not in "".join(lines)


def test_a_caution_on_the_rating_is_not_listed_again() -> None:
    plan = zoning.make_plan(zoning.read_field(SAMPLE))
    notices = (*plan.notices, Notice("caution", "readings-dry", "All was dry."))
    account = summary(replace(plan, notices=notices), [], Path("plan"))
    assert account.count("All was dry.") == 1
    level = next(note.text for note in notices if note.code == "machine-frame-level")
    assert level not in account  # it stands on the sheet


def test_rows_left_blank_are_not_called_unusable() -> None:
    insertions = pd.DataFrame(
        {"n_readings": [9, 2, 0, 0], "verdict": ["no_pan", *["unusable"] * 3]}
    )
    read = plan_of(stations(), insertions, {})
    assert _readings(read).endswith("Insertions: 1 no pan, 1 unusable, 2 without a reading")
    read.insertions = insertions[:2]
    assert _readings(read).endswith("Insertions: 1 no pan, 1 unusable")


def plan_of(
    stations: pd.DataFrame, insertions: pd.DataFrame, report: dict, *left: tuple[str, str]
) -> SimpleNamespace:
    """Return a plan of one log, with the file and the words of each row left out."""
    return SimpleNamespace(
        stations=stations,
        insertions=insertions,
        surface_report=report,
        settings=SimpleNamespace(readings=ReadingsSection(cone=["cone.csv", "two.xlsx"])),
        left_out=pd.DataFrame(list(left), columns=["file", "what"]),
    )


def stations() -> pd.DataFrame:
    """Return six places: bases, one a bound only, one without a pan, one that is left out."""
    return pd.DataFrame(
        {
            "kind": ["cone", "cone", "cone", "cone", "cone", "pit"],
            "station": ["S1", "S2", "S3", "S4", "S5", "P1"],
            "verdict": ["pan", "pan", "base_not_reached", "no_pan", "hard_throughout", "pan"],
            "pan_base_cm": [30.0, 55.0, 40.0, np.nan, np.nan, 33.0],
            "censored": [False, False, True, False, False, False],
            "used": [True, True, True, True, False, True],
        }
    )


def test_the_counts_of_stations_add_up() -> None:
    blank = pd.DataFrame({"n_readings": [1], "verdict": ["pan"]})
    report = {"outliers": "S2", "left_out": 2.0}
    read = plan_of(stations(), blank, report)
    used, shown, _ = _readings(read).splitlines()
    assert used == "Readings used: 4 of 5 cone stations and 1 of 1 pit"
    counts = [int(n) for n in re.findall(r"\d+", shown.partition(". ")[0])]
    assert counts == [5, 3, 1, 1]
    assert counts[0] == sum(counts[1:])
    assert "2 of the 3 bases are tested below: without S2" in shown


def test_what_was_left_out_whole_counts_among_the_places_given() -> None:
    blank = pd.DataFrame({"n_readings": [1], "verdict": ["pan"]})
    left = [
        ("cone.csv", "reading at 5 cm of insertion S6/1"),
        ("cone.csv", "reading at 10 cm of insertion S6/1"),
        ("two.xlsx, sheet Mon", "reading at 5 cm of insertion a/b/2"),
        ("cone.csv", "reading at 5 cm of insertion S5/3"),  # S5 has other insertions
        ("after.csv", "reading at 5 cm of insertion S7/1"),
        ("pits.csv", "pit P2 (before)"),
        ("pits.csv", "pit P3 (after)"),
    ]
    read = plan_of(stations(), blank, {}, *left)
    used = _readings(read).splitlines()[0]
    assert used == "Readings used: 4 of 7 cone stations and 1 of 2 pits"


def test_a_pan_without_its_base_is_told_as_a_pan() -> None:
    blank = pd.DataFrame({"n_readings": [1], "verdict": ["pan"]})
    told = stations()
    rows = told.index[told["used"] & told["pan_base_cm"].notna() & ~told["censored"]]
    told.loc[rows[0], "pan_base_cm"] = float("nan")
    assert ", 1 a pan without its base, " in _readings(plan_of(told, blank, {}))


def test_a_place_that_tells_neither_is_counted_too() -> None:
    blank = pd.DataFrame({"n_readings": [1], "verdict": ["pan"]})
    odd = stations().assign(used=True)
    read = plan_of(odd, blank, {})
    assert "1 do not tell" in _readings(read)


def zoned(*zones: tuple[float, float, str, str, str], codes: Sequence[str] = ()) -> str:
    names = ["depth_cm", "area_ha", "cleared", "parts", "cautions"]
    settings = SimpleNamespace(machine=MachineSection())
    notices = [Notice("caution", code, "") for code in codes]
    table = pd.DataFrame(list(zones), columns=names)
    return _depths(SimpleNamespace(zones=table, settings=settings, notices=notices))


def test_what_is_not_cleared_stands_beside_each_depth() -> None:
    told = zoned(
        (0.0, 1.0, "lifted out", "body", ""),
        (40.0, 2.0, "NOT CLEARED", "body", ""),
        (40.0, 0.5, "NOT CLEARED", "headland", ""),
        (30.0, 0.25, "not deeper than notice depth", "body", ""),
    ).splitlines()
    assert told[1].split("  ")[-1] == "of these NOT CLEARED"
    assert told[2].split() == ["legs", "lifted", "out", "1.00", "1"]
    assert told[3].startswith("  30 cm")
    assert told[3].endswith("1")
    assert told[4].endswith("2      2.50 ha, 2 zones")
    assert len(told) == 5
    assert "NOT CLEARED" not in zoned((40.0, 2.0, "located", "body", ""))


def test_the_depths_of_an_assumed_machine_say_so() -> None:
    zone = (40.0, 2.0, "located", "body", "")
    assert "ASSUMED machine" in zoned(zone, codes=["assumed-machine"])
    assert "ASSUMED" not in zoned(zone)


def test_many_small_zones_are_explained_and_few_are_not() -> None:
    large, small = (40.0, 2.0, "located", "body", ""), (30.0, 0.01, "located", "body", "")
    cut = (20.0, 0.01, "located", "body; wheeling", "drain: no deeper than 30 cm over it")
    assert "2 of 3 zones are smaller than 0.05 ha, 1 of them where" in zoned(large, small, cut)
    assert "smaller" not in zoned(large, large, large, small)
    uncleared = (40.0, 0.01, "NOT CLEARED", "body", "NOT CLEARED: services not located")
    assert "hazards cut" not in zoned(large, uncleared)


def reckoned(losses: Losses, *codes: str) -> SimpleNamespace:
    machine = MachineSection(depth_min_cm=15, depth_step_cm=2.5, depth_max_cm=45)
    notices = [Notice("caution", code, "") for code in codes]
    settings = SimpleNamespace(machine=machine, depth=DepthSection(assurance=0.8))
    return SimpleNamespace(losses=losses, notices=notices, settings=settings, hazards=[])


def choices(plan: SimpleNamespace) -> list[str]:
    """Return the choices compared, as printed, without the title, the head and the words below."""
    return [re.split(r" {2,}", line.strip())[0] for line in _comparison(plan).splitlines()[2:-1]]


def test_depth_0_everywhere_is_called_no_work() -> None:
    losses = Losses(
        driven_cm=1.0,
        unconstrained_cm=1.0,
        single_depth_cm=0.0,
        single_depth_loss_cm=1.0,
        point95_depth_cm=15.0,
        point95_loss_cm=3.0,
    )
    assert choices(reckoned(losses))[2] == "no work at all"
    other = replace(losses, single_depth_cm=37.5)
    plan = reckoned(other)
    assert choices(plan)[2] == "one depth, 37.5 cm or lifted out"
    plan.settings.depth = DepthSection(lift_out=False)
    assert choices(plan)[2] == "one depth, 37.5 cm"


@pytest.mark.parametrize(
    ("depth_cm", "codes", "word"),
    [
        (45.0, (), "one depth for 95 %, 45 cm"),
        (45.0, ("machine-too-shallow",), "one depth for 95 %, or the deepest, 45 cm"),
        (42.5, ("machine-too-shallow",), "one depth for 95 %, 42.5 cm"),
    ],
)
def test_the_deepest_setting_is_not_called_enough_where_it_may_not_be(
    depth_cm: float, codes: tuple[str, ...], word: str
) -> None:
    losses = Losses(1.0, 1.0, 40.0, 1.0, depth_cm, 3.0)
    assert choices(reckoned(losses, *codes))[3] == word


def test_hazards_are_said_to_bind_every_choice_compared() -> None:
    plan = reckoned(Losses(1.0, 1.0, 40.0, 1.0, 45.0, 3.0))
    assert "hazards" not in _comparison(plan)
    plan.hazards = [1]
    assert "hazards" in _comparison(plan).splitlines()[0]


def test_a_centimetre_of_loss_is_explained_by_the_assurance_of_the_plan() -> None:
    plan = reckoned(Losses(1.0, 1.0, 40.0, 1.0, 45.0, 3.0))
    told = _comparison(plan).splitlines()[-1]
    assert "too shallow for the pan counts 0.8 cm" in told
    assert "too deep 0.2 cm" in told


def test_what_each_further_depth_brings_stands_in_one_small_table() -> None:
    totals = {f"loss_at_most_{i}_cm": 3.0 / i for i in (1, 2, 3)}
    settings = SimpleNamespace(depth=DepthSection(max_depths=3, lift_out=False))
    lines = _at_most(SimpleNamespace(totals=totals, settings=settings, hazards=[])).splitlines()
    assert [line.split()[-3:] for line in lines[1:]] == [
        ["1", "2", "3"],
        ["3.00", "1.50", "1.00"],
    ]
    assert "lifted" not in lines[0]
    settings.depth = DepthSection(max_depths=3, lift_out=True)
    told = _at_most(SimpleNamespace(totals=totals, settings=settings, hazards=[]))
    assert "legs lifted out where that costs less" in told.splitlines()[0]
    settings.depth = DepthSection(max_depths=1)
    assert _at_most(SimpleNamespace(totals=totals, settings=settings, hazards=[])) == ""


def test_without_a_tractor_the_power_that_is_needed_is_told() -> None:
    totals = {"pto_power_max_kw": 211.7, "fuel_l": math.nan, "time_min": 51.0}
    none = pd.DataFrame({"depth_cm": [0.0], "time_min": [9.0]})
    settings = SimpleNamespace(
        tractor=TractorSection(pto_power_kw=None), machine=MachineSection(speed_km_h=6)
    )
    told = effort_words(SimpleNamespace(totals=totals, settings=settings))
    assert told.startswith("Work: 0.8 h; needs ")
    assert "about 212 kW at the PTO" in told
    assert "6 km/h" in told
    assert "+-50 %" in told
    totals["pto_power_max_kw"] = 0.0  # nothing is worked
    assert effort_words(SimpleNamespace(totals=totals, settings=settings, zones=none)) == ""


def test_hours_of_the_depths_that_can_be_pulled_are_told_where_others_cannot() -> None:
    zones = pd.DataFrame(
        {
            "depth_cm": [35.0, 35.0, 50.0, 0.0],
            "area_ha": [2.0, 1.5, 1.0, 4.0],
            "time_min": [90.0, 60.0, math.nan, 30.0],
            "fuel_l": [40.0, 20.0, math.nan, 5.0],
            "work_speed_km_h": [4.2, 4.2, math.nan, 6.5],
        }
    )
    totals = {"pto_power_max_kw": 193.0, "fuel_l": math.nan, "depth_changes": 3.0}
    totals |= {"passes": 9.0, "lifts_within_passes": 0.0, "passes_lifted_throughout": 0.0}
    settings = SimpleNamespace(tractor=TractorSection(pto_power_kw=75), machine=MachineSection())
    plan = SimpleNamespace(totals=totals, settings=settings, zones=zones)
    assert effort_words(plan).startswith(
        "Work: 2.5 h, 60 l of fuel for the 3.50 ha at 35 cm alone; none is reckoned at 50 cm, "
        "which the tractor cannot pull"
    )
    assert pin_notices(settings, zones, totals)
    plan.zones = zones.assign(time_min=math.nan, work_speed_km_h=math.nan)
    assert effort_words(plan) == ""
    assert pin_notices(settings, plan.zones, totals) == ()


def test_how_often_the_pins_move_stands_in_one_line() -> None:
    totals = {
        "depth_changes": 440.0,
        "passes": 138.0,
        "lifts_within_passes": 1.0,
        "passes_lifted_throughout": 0.0,
    }
    told = "Depth changes: 440 along 138 passes, and 1 lift between worked stretches"
    assert changes_words(SimpleNamespace(totals=totals, notices=())) == told
    by_hand = Notice("note", "pins-not-in-time", "Moving pins comes on top.")
    pins = SimpleNamespace(totals=totals, notices=(by_hand,))
    assert changes_words(pins) == f"{told}. Moving pins comes on top"
    assert by_hand.code in TOLD_ELSEWHERE
    totals["passes_lifted_throughout"] = 2.0
    more = ". On 2 passes the legs stay lifted all the way: leave them out, no time or fuel is coun"
    assert changes_words(SimpleNamespace(totals=totals, notices=())).startswith(f"{told}{more}")


def test_travel_with_the_legs_lifted_is_told_apart_from_the_work() -> None:
    totals = {
        "pto_power_max_kw": 150.0, "fuel_l": 200.0, "time_min": 300.0, "draft_energy_mj": 900.0,
        "uniform_depth_cm": 40.0, "uniform_time_min": 330.0, "uniform_fuel_l": 260.0,
        "uniform_draft_energy_mj": 1200.0, "lifted_ha": 2.0, "undriven_ha": 0.5,
        "lifted_time_min": 42.0, "lifted_fuel_l": 11.6,
    }  # fmt: skip
    tractor = TractorSection(pto_power_kw=180)
    plan = SimpleNamespace(totals=totals, settings=SimpleNamespace(tractor=tractor))
    travel = "; of it 0.7 h and 12 l to travel 1.50 ha with the legs lifted out"
    assert effort_words(plan).splitlines()[0].endswith(f"900 MJ{travel}")
    assert "At 40 cm everywhere, lifted ground too: 5.5 h" in effort_words(plan)
    totals["undriven_ha"] = 2.0
    assert "travel" not in effort_words(plan)
    totals["lifted_ha"] = 0.0
    assert "At 40 cm everywhere: 5.5 h" in effort_words(plan)


def test_no_station_left_out_gives_no_sentence_about_it() -> None:
    none = {"left_out": 0.0, "left_out_words": "Of 0 stations ..."}
    some = {"left_out": 5.0, "left_out_words": "Of 5 stations ..."}
    assert _trust(SimpleNamespace(surface_report=none, uncertain=[])) == ""
    assert _trust(SimpleNamespace(surface_report=some, uncertain=[])) == "Of 5 stations ..."


def test_unsure_ground_says_why_it_is_unsure() -> None:
    reasons = ["pan base uncertain", "no station near", "pan base uncertain"]
    uncertain = pd.DataFrame({"reason": reasons, "area_ha": [0.1, 0.2, 0.3]})
    told = _trust(SimpleNamespace(surface_report={"left_out": 0.0}, uncertain=uncertain))
    why = "no station near, or pan base uncertain"
    assert told == f"Unsure ground: 0.60 ha in 3 places ({why}; layer 'uncertain' of plan.gpkg)"


def test_stations_left_out_stand_before_readings_and_none_is_drowned() -> None:
    reasons = pd.DataFrame(
        {
            "kind": "cone",
            "station": ["L10", "L9", "L1"],
            "used": [False, False, True],
            "reason": ["Not used: pit P1 outranks it.", "No answer.", ""],
        }
    )
    readings = [
        ("log.csv", row, f"reading at {depth} cm of insertion F{row}/1", "92 m outside")
        for row in range(2, 16)
        for depth in range(24)
    ]
    left = pd.DataFrame(readings, columns=["file", "row", "what", "reason"])
    told = _left_out(SimpleNamespace(stations=reasons, left_out=left)).splitlines()
    assert told[1:4] == [
        "  cone L9: No answer.",
        "  cone L10: Not used: pit P1 outranks it.",
        "  log.csv: station F2, row 2, 1 insertion: 92 m outside",
    ]
    assert told[-1] == "  and 2 more lines, all in readings_used.csv"
    assert len(told) == 1 + 2 + 12 + 1
