from __future__ import annotations

import hashlib
import json

from survey_drawn import drawn_survey

from zoning.outputs.survey.file import survey_json


def test_it_tells_what_was_asked_and_hashes_every_file() -> None:
    files = {"a.csv": b"station\r\n", "b.pdf": b"%PDF"}
    found = json.loads(survey_json(drawn_survey(), files))
    assert found["outputs"] == {k: hashlib.sha256(v).hexdigest() for k, v in files.items()}
    assert found["kind"] == "first survey"
    assert found["facts"]["walk_m"] == 340.0
    assert found["inputs"][0]["name"] == "b.geojson"
    assert [n["code"] for n in found["notices"]] == ["services-not-checked", "probe-moisture"]


def test_further_stations_are_called_so() -> None:
    assert json.loads(survey_json(drawn_survey(taken=2), {}))["kind"] == "next stations"
