"""Pit notes and trial runs."""

from __future__ import annotations

import pytest
from readings.small_field import blob

from zoning.readings.pits import read_pits, read_trials

HEAD = (
    "pit,phase,lon,lat,pan,pan_top_cm,pan_base_cm,structure_score,moisture,"
    "loosened_at_leg_cm,loosened_between_cm\n"
)


def faults(row: str) -> str:
    checked = read_pits(blob(HEAD + row, "pits.csv"), crs_given=False, areas=[])
    return "\n".join(str(f) for f in checked.faults)


@pytest.mark.parametrize(
    "row",
    [
        "P1,before,1,52,yes,20,30,4,friable,,\n",
        "P1,before,1,52,yes,20,,,plastic,,\n",  # the base was not seen
        "P1,before,1,52,no,,,2,,,\n",
        "P1,after,1,52,,,,,dry,32,27\n",
        "P1,before,1,52,yes,30,30,,,,\nP1,after,1,52,,,,,,,\n",
    ],
)
def test_what_an_adviser_may_write(row: str) -> None:
    assert faults(row) == ""


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("P1,before,1,52,yes,31,30,,,,\n", "top 31 cm is deeper than its base 30 cm"),
        ("P1,before,1,52,no,20,30,,,,\n", "pan = no and gives depths"),
        ("P1,during,1,52,yes,20,30,,,,\n", "'during', which is unknown"),
        ("P1,,1,52,yes,20,30,,,,\n", "phase: The cell is blank"),
        ("P1,before,1,52,yes,20,30,7,,,\n", "structure_score: Found 7"),
        ("P1,before,1,52,yes,20,300,,,,\n", "pan_base_cm: Found 300"),
        ("P1,before,1,52,yes,20,30,,moist,,\n", "moisture: Found 'moist'"),
        ("P1,after,1,52,,,,,,20,30\n", "deeper between the legs"),
        (
            "P1,after,1,52,,,,,,,\nP1,after,1,52,,,,,,,\n",
            "pits.csv:3: pit: Pit 'P1' of phase 'after' stands in row 2 too. If",
        ),
    ],
)
def test_what_cannot_be_is_refused(row: str, said: str) -> None:
    assert said in faults(row)


def test_trials_need_a_run_and_a_speed() -> None:
    good = read_trials(blob("run,speed_km_h,depth_setting_cm,surface\nA,8,32.5,level\n", "t.csv"))
    assert good.faults == ()
    assert good.frame.loc[0, "depth_setting_cm"] == 32.5
    bad = read_trials(blob("run,speed_km_h,surface\nA,,flat\n", "t.csv"))
    assert {f.column for f in bad.faults} == {"speed_km_h", "surface"}
