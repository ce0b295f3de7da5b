from __future__ import annotations

import json
from pathlib import Path

import pytest
from defusedxml import ElementTree
from survey_drawn import drawn_survey

from zoning.outputs.survey.places import NAMESPACE, stations_geojson, stations_gpx
from zoning.outputs.survey.tables import Placed

xmlschema = pytest.importorskip("xmlschema")
SCHEMA = Path(__file__).with_name("gpx11.xsd")


@pytest.mark.parametrize("name", ["Long Meadow", 'Übergröße <&> "long"', "bell\x07 and \x1b[31m"])
def test_the_gpx_holds_to_the_schema(name: str) -> None:
    text = stations_gpx(drawn_survey(name=name)).decode("utf-8")
    xmlschema.XMLSchema(SCHEMA).validate(text)


@pytest.mark.parametrize(
    ("old", "new"),
    [('lat="52', 'lat="152'), ("<wpt ", "<wpt bearing='3' "), ("wpt", "trk"), ('"1.1"', '"1.0"')],
)
def test_the_schema_finds_what_is_wrong(old: str, new: str) -> None:
    text = stations_gpx(drawn_survey()).decode("utf-8")
    assert old in text
    assert not xmlschema.XMLSchema(SCHEMA).is_valid(text.replace(old, new))


def test_the_far_meridian_is_written_as_the_schema_wants_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    row = Placed("S01", "body", "", 4, "180.00000000", "52.00000000")
    monkeypatch.setattr("zoning.outputs.survey.places.placed_rows", lambda _survey: [row])
    text = stations_gpx(drawn_survey()).decode("utf-8")
    assert 'lon="-180.00000000"' in text
    xmlschema.XMLSchema(SCHEMA).validate(text)


def test_waypoints_stand_in_walking_order_and_the_route_has_the_same() -> None:
    root = ElementTree.fromstring(stations_gpx(drawn_survey()))
    space = {"g": NAMESPACE}
    names = [each.findtext("g:name", namespaces=space) for each in root.findall("g:wpt", space)]
    assert names == ["S01", "S02", "S03"]
    route = root.findall("g:rte/g:rtept", space)
    assert [each.findtext("g:name", namespaces=space) for each in route] == names
    assert "pit P01" in str(root.findall("g:wpt", space)[1].findtext("g:desc", namespaces=space))


def test_geojson_points_with_their_properties() -> None:
    document = json.loads(stations_geojson(drawn_survey(taken=4)))
    assert [f["properties"]["rank"] for f in document["features"]] == [2, 1, 3]
    assert [f["properties"]["gain_cm_ha"] for f in document["features"]] == [0.3, 0.5, 0.2]
    assert {f["geometry"]["type"] for f in document["features"]} == {"Point"}
    lon, lat = document["features"][0]["geometry"]["coordinates"]
    assert abs(lon) < 0.01
    assert lat == pytest.approx(52.2, abs=0.05)
    assert document["cautions"] == ["Buried services have not been checked."]


def test_geojson_of_a_first_survey_has_no_worth() -> None:
    features = json.loads(stations_geojson(drawn_survey()))["features"]
    assert {f["properties"]["rank"] for f in features} == {None}
    assert {f["properties"]["gain_cm_ha"] for f in features} == {None}


def test_geojson_holds_to_rfc_7946() -> None:
    validator = pytest.importorskip("geojson_validator")
    document = json.loads(stations_geojson(drawn_survey()))
    assert validator.validate_structure(document) == {}
