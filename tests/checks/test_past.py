"""A leg past the cap of a hazard is never as planned, and a shallow leg does not go unnoticed."""

from __future__ import annotations

import pytest
from checks.conftest import drain, pit_rows, planned_ground

from zoning.checks.caps import past_caps, past_words
from zoning.checks.pits import judge_pits
from zoning.model.check import JUDGED


@pytest.mark.parametrize(
    ("leg", "words"),
    [
        (38.0, "8 cm deeper than the cap of 30 cm (drain)."),
        (31.0, "1 cm deeper than the cap of 30 cm (drain): within what a tape can tell (2.5 cm)"),
    ],
)
def test_work_past_a_cap_is_never_called_as_planned(leg: float, words: str) -> None:
    planned = planned_ground(38.0, depth_cm=30.0, hazard_zones=drain(30.0), assurance=0.1)
    pit = {"loosened_at_leg_cm": leg, "loosened_between_cm": 28.0, "pan": "yes"}
    reason = judge_pits(pit_rows(pit), planned, read_on="")["reason"].iloc[0]
    assert words in reason
    assert "as planned" not in reason
    assert ("look at the outfalls" in reason) == (leg < 32.5)


def test_work_where_a_hazard_lifts_the_legs_out_names_the_hazard() -> None:
    assert past_words(36.0, 0.0, "service") == ("36 cm deep where the service lifts the legs out.")


def test_work_of_another_season_asks_nobody_to_stop() -> None:
    planned = planned_ground(hazard_zones=drain(35.0))
    pit = pit_rows({"loosened_at_leg_cm": 48.0, "loosened_between_cm": 40.0, "date": "2025-09-10"})
    assert past_caps(judge_pits(pit, planned, read_on="2026-05-01")).empty
    assert len(past_caps(judge_pits(pit, planned, read_on=""))) == 1


def test_a_single_leg_that_ran_shallow_says_so() -> None:
    pits = pit_rows(
        {"loosened_at_leg_cm": 26.5, "loosened_between_cm": 25.0},
        {"loosened_at_leg_cm": 34.0, "loosened_between_cm": 32.0},
    )
    reasons = judge_pits(pits, planned_ground(), read_on="")["reason"].tolist()
    assert "The leg ran 8.5 cm shallower than the 35 cm planned." in reasons[0]
    assert "shallower" not in reasons[1]


def test_work_past_a_cap_has_a_verdict_of_its_own_that_counts_nowhere() -> None:
    planned = planned_ground(38.0, depth_cm=30.0, hazard_zones=drain(30.0), assurance=0.1)
    depths = [{"loosened_at_leg_cm": leg, "loosened_between_cm": 28.0} for leg in (38.0, 31.0)]
    pits = judge_pits(pit_rows(*depths), planned, read_on="")
    assert pits[["verdict", "firm"]].to_numpy().tolist() == [["past_cap", ""], ["held", ""]]
    assert "past_cap" not in JUDGED
