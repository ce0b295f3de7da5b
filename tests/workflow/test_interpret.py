"""What the published rating leaves to say, in words that fit the count."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest
from shapely import Point

from zoning.model import FieldInputs, Plan
from zoning.workflow.interpret import _calls_for, interpret


@pytest.mark.parametrize(
    ("points", "said"),
    [
        (0, "No cone station says whether"),
        (1, "Only 1 cone station says whether"),
        (3, "Only 3 cone stations say whether"),
    ],
)
def test_few_stations_are_counted_in_words_that_fit(points: int, said: str) -> None:
    row = {"part": "whole field", "points": points, "over_limit": 0, "loosen": ""}
    (notice,) = _calls_for(pd.DataFrame([{**row, "rating": "", "few_points": True}]))
    assert notice.code == "few-stations"
    assert notice.text.startswith(said)


def test_depths_of_a_field_that_calls_for_none_say_what_they_are_for() -> None:
    row = {
        "part": "whole field",
        "points": 16,
        "over_limit": 1,
        "loosen": "no",
        "few_points": False,
    }
    (notice,) = _calls_for(pd.DataFrame([{**row, "rating": "little"}]))
    assert (notice.level, notice.code) == ("caution", "loosening-not-called-for")
    assert "1 of 16 stations passes the limit" in notice.text
    assert "where a pan is loosened all the same, not that it pays" in notice.text


def test_the_plan_tells_how_many_stations_have_a_further_hard_layer(
    sample_inputs: FieldInputs, sample_plan: Plan
) -> None:
    cone = sample_inputs.cone.copy()
    one = cone["insertion_id"].eq("S05/1")
    depth = cone.loc[one, "depth_cm"]
    hard = depth.between(15, 22) | depth.between(44, 50)
    cone.loc[one, "cone_index_mpa"] = hard.map({True: 2.8, False: 1.5})
    read = interpret(replace(sample_inputs, cone=cone), sample_plan.parts)
    shown = read.insertions[read.insertions["verdict"].isin(["pan", "refused", "base_not_reached"])]
    stations = set(shown.loc[shown["deeper_cm"].notna(), "station"])
    assert "S05" in stations
    (notice,) = [n for n in read.notices if n.code == "further-hard-layer"]
    assert f"At {len(stations)} of {shown['station'].nunique()} cone stations" in notice.text
    assert "but not at S51: a keep-off lies there" in notice.text  # by a hazard of the sample
    # A gas pipe laid over the station: nobody is sent there with a spade.
    spot = cone.loc[one, ["x_m", "y_m"]].iloc[0]
    pipe = sample_inputs.hazards.iloc[:1].assign(kind="service", clear_m=6.0)
    pipe = pipe.set_geometry([Point(*spot)], crs=sample_inputs.hazards.crs)
    crossed = interpret(replace(sample_inputs, cone=cone, hazards=pipe), sample_plan.parts)
    (notice,) = [n for n in crossed.notices if n.code == "further-hard-layer"]
    assert "but not at S05: a keep-off lies there or right beside." in notice.text
