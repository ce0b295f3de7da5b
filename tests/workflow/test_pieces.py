"""Ground that nobody probed, by hand-made pieces of known area."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import pandas as pd
import pytest
from shapely import LineString, MultiPolygon, box

from zoning.model import FieldInputs, Notice
from zoning.workflow.cautions import in_order
from zoning.workflow.division import divide
from zoning.workflow.pieces import gap_notices, gaps_met, unprobed_notices

PIECES = [box(0, 0, 100, 100), box(200, 0, 300, 270), box(400, 0, 500, 50)]


def field(
    inputs: FieldInputs, *, cone: list[float], pits: list[tuple[float, str]] | None = None
) -> FieldInputs:
    """Return the field of three pieces, of 1, 2.7 and 0.5 ha, with readings at these x."""
    some = inputs.cone.iloc[[0] * len(cone)].assign(x_m=cone, y_m=20.0)
    dug = inputs.pits.iloc[[0] * len(pits or [])].assign(
        x_m=[x for x, _ in pits or []], phase=[phase for _, phase in pits or []], y_m=20.0
    )
    return replace(inputs, boundary=MultiPolygon(PIECES), cone=some, pits=pd.DataFrame(dug))


def told(inputs: FieldInputs) -> str:
    (notice,) = unprobed_notices(inputs)
    assert (notice.level, notice.code) == ("caution", "piece-without-reading")
    return notice.text


def test_a_piece_without_reading_is_told_with_its_area(sample_inputs: FieldInputs) -> None:
    assert told(field(sample_inputs, cone=[50.0, 450.0])).startswith("2.70 ha in 1 piece hold no")
    assert told(field(sample_inputs, cone=[50.0])).startswith(
        "3.20 ha in 2 pieces, the largest of 2.70 ha, hold no reading"
    )


def test_a_pit_counts_and_so_does_a_reading_just_outside(sample_inputs: FieldInputs) -> None:
    probed = field(sample_inputs, cone=[50.0, 396.0], pits=[(250.0, "before")])
    assert unprobed_notices(probed) == ()


def test_a_pit_dug_after_the_work_does_not_count(sample_inputs: FieldInputs) -> None:
    dug = field(sample_inputs, cone=[50.0, 450.0], pits=[(250.0, "after")])
    assert told(dug).startswith("2.70 ha in 1 piece")


def test_nothing_is_said_of_one_piece_or_before_the_first_reading(
    sample_inputs: FieldInputs,
) -> None:
    assert unprobed_notices(field(sample_inputs, cone=[])) == ()
    assert unprobed_notices(sample_inputs) == ()


def test_plan_and_survey_are_told(sample_inputs: FieldInputs) -> None:
    codes = [notice.code for notice in divide(field(sample_inputs, cone=[50.0])).notices]
    assert codes.count("piece-without-reading") == 1


def test_a_gap_is_told_unless_a_hazard_is_declared_there(sample_inputs: FieldInputs) -> None:
    pond, mast = box(20, 20, 70, 60), box(230, 30, 240, 40)
    holed = replace(
        sample_inputs,
        boundary=MultiPolygon([PIECES[0] - pond, PIECES[1] - mast]),
        hazards=sample_inputs.hazards.iloc[:0],
    )
    (notice,) = gap_notices(holed)
    assert (notice.level, notice.code) == ("caution", "gap-in-field")
    assert notice.text.startswith("The boundary leaves out 0.21 ha in 2 gaps inside the field")
    there = gpd.GeoDataFrame({"kind": ["obstacle"]}, geometry=[mast.centroid])
    (notice,) = gap_notices(replace(holed, hazards=there))
    assert "0.20 ha in 1 gap inside" in notice.text
    assert gap_notices(replace(holed, boundary=MultiPolygon(PIECES))) == ()


@pytest.mark.parametrize(
    ("west", "words"),
    [
        (51.0, "pass 7 at 40 to 60 m"),  # half a metre of the three is in it
        (48.0, "pass 7 at 40 to 60 m"),  # right across
        (51.6, ""),  # beside it
    ],
)
def test_a_pass_that_a_gap_reaches_into_is_named_where_it_is_not_cut(
    sample_inputs: FieldInputs, west: float, words: str
) -> None:
    machine = replace(sample_inputs.settings.machine, legs=3, leg_spacing_cm=100.0)
    gap = box(west, 40, 90, 60)
    holed = replace(
        sample_inputs,
        boundary=MultiPolygon([PIECES[0] - gap]),
        hazards=sample_inputs.hazards.iloc[:0],
        settings=replace(sample_inputs.settings, machine=machine),
    )
    assert machine.width_m == 3.0
    whole, cut = LineString([(50, 0), (50, 100)]), LineString([(80, 0), (80, 41)])
    lines = gpd.GeoDataFrame({"pass_id": [7, 8]}, geometry=[whole, cut])
    assert [words in each.text for each in gaps_met(holed, lines)] == [True] * bool(words)
    there = gpd.GeoDataFrame({"kind": ["obstacle"]}, geometry=[gap.centroid])
    assert gaps_met(replace(holed, hazards=there), lines) == ()


@pytest.mark.parametrize("level", ["caution", "note"])
def test_it_stands_behind_the_caution_on_services_alone(level: str) -> None:
    services, drains = Notice("caution", "services-records", ""), Notice("caution", "drains", "")
    bare = Notice("caution", "piece-without-reading", "")
    other = Notice(level, "a", "")  # type: ignore[arg-type]
    assert in_order([other, bare], [services, drains]) == (services, bare, drains, other)
