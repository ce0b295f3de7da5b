from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import numpy as np
from shapely import Point, box

from zoning.model import FieldInputs, Notice
from zoning.workflow.survey_notices import (
    near_keep_off,
    pits_near_keep_off,
    survey_notices,
)

PARTS = gpd.GeoDataFrame(
    {"part": ["body", "gateway"], "kind": ["body", "gateway"], "area_ha": [5.0, 0.1]},
    geometry=[box(0, 0, 9, 9), box(9, 0, 10, 1)],
)
NO_HAZARDS = gpd.GeoDataFrame({"kind": []}, geometry=[])


def proposed(gateways: int, gain: float) -> gpd.GeoDataFrame:
    part = ["body"] * 8 + ["gateway"] * gateways
    return gpd.GeoDataFrame(
        {"part": part, "gain_cm_ha": np.full(len(part), gain)}, geometry=[Point(0, 0)] * len(part)
    )


def test_cautions_come_first_with_services_before_all(sample_inputs: FieldInputs) -> None:
    before = [Notice("note", "a", "A."), Notice("caution", "b", "B.")]
    told = survey_notices(before, PARTS, proposed(3, np.nan), sample_inputs, PARTS, NO_HAZARDS)
    levels = [each.level for each in told]
    assert levels == sorted(levels)
    assert told[0].code == "services-records"
    assert told[0].text.endswith("Reference: invented enquiry 000.")
    assert {"a", "b", "probe-moisture", "probe-buried"} <= {each.code for each in told}


def test_a_thin_part_is_told_in_a_first_survey_only(sample_inputs: FieldInputs) -> None:
    def thin(gateways: int, gain: float) -> list[str]:
        told = survey_notices([], PARTS, proposed(gateways, gain), sample_inputs, PARTS, NO_HAZARDS)
        return [each.text for each in told if each.code == "part-thin"]

    assert thin(3, np.nan) == []
    assert "Gateway (0.10 ha) has 1 of the stations" in thin(1, np.nan)[0]
    assert thin(0, np.nan) == []
    assert thin(1, 0.5) == []


def why_none(
    inputs: FieldInputs, gain: float, ground: gpd.GeoDataFrame, keep_off: gpd.GeoDataFrame
) -> list[tuple[str, str]]:
    told = survey_notices([], PARTS, proposed(0, gain), inputs, ground, keep_off)
    return [(each.code, each.text) for each in told if "gateway" in each.text.lower()]


def test_why_a_part_gets_no_station_is_told(sample_inputs: FieldInputs) -> None:
    over = gpd.GeoDataFrame({"kind": ["service"]}, geometry=[box(8.5, -1, 11, 2)])
    beside = gpd.GeoDataFrame({"kind": ["service"]}, geometry=[box(9.5, -1, 11, 2)])
    (kept_off,) = why_none(sample_inputs, np.nan, PARTS.iloc[:1], over)
    assert kept_off[0] == "part-without-ground"
    assert "all of it lies in the keep-off of hazards" in kept_off[1]
    (edge,) = why_none(sample_inputs, np.nan, PARTS.iloc[:1], beside)
    assert "too narrow or lies within" in edge[1]
    (few,) = why_none(sample_inputs, np.nan, PARTS, over.iloc[:0])
    assert few[0] == "part-passed-over"
    assert "8 stations do not reach for all 2 parts" in few[1]
    (other,) = why_none(sample_inputs, 0.5, PARTS, over.iloc[:0])
    assert "No further station lies in gateway" in other[1]


def test_the_unit_of_the_form_is_the_field_s_own(sample_inputs: FieldInputs) -> None:
    readings = replace(sample_inputs.settings.readings, cone_unit="kPa")
    inputs = replace(sample_inputs, settings=replace(sample_inputs.settings, readings=readings))
    told = survey_notices([], PARTS, proposed(3, np.nan), inputs, PARTS, NO_HAZARDS)
    assert any('cone_unit = "kPa"' in each.text for each in told)


def test_a_second_form_is_not_to_be_copied_over_the_first(sample_inputs: FieldInputs) -> None:
    def told(inputs: FieldInputs) -> str:
        found = survey_notices([], PARTS, proposed(3, np.nan), inputs, PARTS, NO_HAZARDS)
        return next(each.text for each in found if each.code == "form-back")

    nothing = {name: getattr(sample_inputs, name).iloc[:0] for name in ("cone", "pits")}
    assert "names that are not taken" in told(sample_inputs)
    assert "not taken" not in told(replace(sample_inputs, **nothing))


def test_a_pit_that_must_be_dug_near_a_hazard_is_a_caution() -> None:
    # A drain's keep-off from x = 0 to 6 m; 10 m from it is where a pit is clear.
    drain = gpd.GeoDataFrame({"kind": ["drain"]}, geometry=[box(0, 0, 6, 100)])
    places = np.array([[15.9, 50.0], [16.1, 50.0], [12.0, 50.0]])
    assert near_keep_off(places, drain).tolist() == [True, False, True]
    assert not near_keep_off(places, drain.iloc[:0]).any()
    dug = gpd.GeoDataFrame({"pit": ["P1", "P2", ""]}, geometry=[Point(*xy) for xy in places])
    (told,) = pits_near_keep_off(dug, drain)
    assert told.level == "caution"
    assert told.text.startswith("Pit P1: within 10 m of the keep-off")
    assert pits_near_keep_off(dug.iloc[1:], drain) == ()
