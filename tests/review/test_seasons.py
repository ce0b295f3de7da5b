"""Two seasons side by side."""

from __future__ import annotations

from flask.testing import FlaskClient

from zoning.records import Draft, Pit, new_id
from zoning.review import Desk
from zoning.review.seasons import compare, seasons_held


def keep(desk: Desk, **said: object) -> None:
    row = new_id()
    body = Pit(**({"phase": "before", "lon": 0.801, "lat": 52.701} | said))  # type: ignore[arg-type]
    desk.record.save(Draft(body=body, row_id=row, record_id=row, based_on=0, origin="file"))


def test_places_dug_in_both_seasons_are_set_beside_each_other(
    desk: Desk, client: FlaskClient
) -> None:
    keep(desk, season=2025, pit="X1", pan="yes", pan_base_cm=38.0, part="body")
    keep(desk, season=2025, pit="X2", pan="no", lon=0.8035)
    told = compare(desk.record, 2025, 2026)
    assert seasons_held(desk.record) == [2025, 2026]
    assert told.places == (("X1", "pan base 38 cm", "P1", "pan base 30 cm", "0 m"),)
    facts = dict(told.one.rows)
    assert facts["pits before the work"] == "2"
    assert facts["of these with a pan"] == "1 of 2 noted"
    assert facts["pan base, mean"] == "38.0 cm (1 pit)"
    page = client.get("/seasons?one=2025&other=2026").text
    assert "X1" in page
    for odd in ("one=9999", "one=99999999999999999999999", "one=x", "other=-1"):
        assert client.get(f"/seasons?{odd}").status_code == 200
    assert "38.0 cm" in page
