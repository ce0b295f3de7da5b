"""A leg past the cap of a hazard is never as planned, and a shallow leg does not go unnoticed."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
from checks.conftest import (
    CRS,
    drain,
    field_parts,
    pit_rows,
    planned_ground,
    station_rows,
    trial_rows,
)
from shapely import box

from zoning.checks.advice import advise
from zoning.checks.caps import past_caps, past_words, stop_words
from zoning.checks.groups import judge_groups
from zoning.checks.looks import unmeasured, wet_words
from zoning.checks.pits import judge_pits
from zoning.checks.trials import ridge_curve
from zoning.model.check import JUDGED
from zoning.model.settings import MachineSection


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
    pit = {"leg_least_cm": 36.0, "loosened_at_leg_cm": 36.0, "cap_cm": 0.0, "cap_by": "service"}
    assert past_words(pit, far=True) == "36 cm deep where the service lifts the legs out."


def test_work_of_another_season_asks_nobody_to_stop() -> None:
    planned = planned_ground(hazard_zones=drain(35.0))
    pit = pit_rows({"loosened_at_leg_cm": 48.0, "loosened_between_cm": 40.0, "date": "2025-09-10"})
    assert past_caps(judge_pits(pit, planned, read_on="2026-05-01")).empty
    assert len(past_caps(judge_pits(pit, planned, read_on=""))) == 1


def test_a_pit_of_the_season_asks_to_stop_whatever_its_date_says() -> None:
    """One mistyped date of a pit before the work makes all work look earlier than the readings."""
    planned = planned_ground(hazard_zones=drain(35.0))
    pit = pit_rows({"loosened_at_leg_cm": 48.0, "date": "2026-09-10", "moisture": "plastic"})
    judged = judge_pits(pit, planned, read_on="2026-09-12", season_from="2026-01-01")
    assert judged["verdict"].tolist() == ["not_judged"]
    told = judged["reason"].iloc[0]
    assert "by its date it would judge earlier work." in told
    assert "13 cm deeper than the cap of 35 cm (drain)." in told
    assert past_caps(judged)[["pit", "far"]].to_numpy().tolist() == [["A0", True]]
    assert "plastic in pit A0" in wet_words(judged[judged["of_work"].astype(bool)])
    other = judge_pits(pit, planned, read_on="2027-05-12", season_from="2027-01-01")
    assert past_caps(other).empty
    assert "it judges earlier work." in other["reason"].iloc[0]


@pytest.mark.parametrize(
    ("between", "verdict", "least"),
    [
        (29.0, "leg_not_seen", "at least 29 cm"),
        (np.nan, "leg_not_seen", ""),
        (30.5, "past_cap", ""),
    ],
)
def test_over_a_drain_nothing_is_as_planned_without_a_measured_leg(
    between: float, verdict: str, least: str
) -> None:
    planned = planned_ground(38.0, depth_cm=30.0, hazard_zones=drain(30.0), assurance=0.1)
    facts = {"loosened_at_leg_cm": np.nan, "loosened_between_cm": between, "pan": "no"}
    pits = judge_pits(pit_rows(facts), planned, read_on="")
    told = pits["reason"].iloc[0]
    assert pits["verdict"].tolist() == [verdict]
    assert "as planned" not in told
    assert "tape" not in told
    assert least in told
    asked = [step.text for step in unmeasured(pits)]
    if verdict == "past_cap":
        assert asked == []
        assert past_caps(pits)["far"].tolist() == [True]
        words = stop_words(past_caps(pits).iloc[0].to_dict())
        assert "at least 30.5 cm deep (between the legs; the leg is not noted)" in words
    else:
        assert asked[0].startswith("Pit A0: leg not noted here, where the drain allows 30 cm: ")


def test_in_a_keep_off_a_leg_is_lifted_only_where_that_was_noted() -> None:
    shape = box(240, -10, 260, 110)
    facts = {"kind": ["service"], "name": [""], "cap_cm": [0.0]}
    main = gpd.GeoDataFrame(facts, geometry=[shape], crs=CRS)
    planned = planned_ground(hazard_zones=main)
    legs = ((np.nan, np.nan), (0.0, 0.0), (2.0, np.nan), (np.nan, 2.0))
    dug = [{"loosened_at_leg_cm": leg, "loosened_between_cm": between, "pan": "no", "x_m": 250.0}
           for leg, between in legs]  # fmt: skip
    pits = judge_pits(pit_rows(*dug), planned, read_on="")
    assert pits["verdict"].tolist() == ["leg_not_seen", "lifted_out", "past_cap", "past_cap"]
    assert not pits["reason"].str.contains("tape").any()
    (step,) = unmeasured(pits)
    assert step.text.startswith("Pit A0: the service lifts the legs out here, and whether they ")


def test_a_pan_is_seen_on_held_ground_only_where_one_was_noted() -> None:
    planned = planned_ground(38.0, depth_cm=30.0, hazard_zones=drain(30.0), assurance=0.1)
    dug = [{"loosened_at_leg_cm": leg, "loosened_between_cm": 28.0, "pan": pan}
           for leg, pan in ((30.0, "no"), (29.0, "yes"), (35.0, "no"))]  # fmt: skip
    pits = judge_pits(pit_rows(*dug), planned, read_on="")
    groups = judge_groups(planned, pits, station_rows(), field_parts())
    told = advise(groups, pits, ridge_curve(trial_rows()), MachineSection(), planned.zones)
    (text,) = told.loc[told["step"] == "hold", "text"]
    assert (
        "; a pan that stays was planned. Pan seen in pit A1. No pan was left at pits A0 and A2."
        in text
    )
    assert "Set the legs to 30 cm here: deeper at pit A2. Do not go deeper." in text


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
