"""Two seasons side by side."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from review.small_desk import box, drawn

from zoning.records import Body, Check, CheckRow, Draft, Pit, PlanIssued, Zone, new_id
from zoning.review import Desk, make_app, open_desk
from zoning.review.seasons import compare, lasted, seasons_held


def keep(desk: Desk, **said: object) -> None:
    keep_body(desk, Pit(**({"phase": "before", "lon": 0.801, "lat": 52.701} | said)))  # type: ignore[arg-type]


def keep_body(desk: Desk, body: Body) -> str:
    row = new_id()
    origin = "file" if isinstance(body, Pit) else "plan"
    desk.record.save(Draft(body=body, row_id=row, record_id=row, based_on=0, origin=origin))
    return row


def keep_plan(desk: Desk, plan_id: str, season: int, depth_cm: float = 35.0) -> None:
    keep_body(
        desk,
        PlanIssued(season=season, plan_id=plan_id, field="Test Piece", area_ha=5.96, zones=1,
                   mean_depth_cm=depth_cm, program="zoning", inputs="[]"),
    )  # fmt: skip
    keep_body(
        desk,
        Zone(season=season, plan_id=plan_id, zone=1, depth_cm=depth_cm, area_ha=5.96, parts="body",
             pan_base_cm=30.0, geometry_wkt=box(0.800, 0.804).wkt),
    )  # fmt: skip


def test_places_dug_in_both_seasons_are_set_beside_each_other(
    desk: Desk, client: FlaskClient
) -> None:
    keep(desk, season=2025, pit="X1", pan="yes", pan_base_cm=38.0, part="body")
    keep(desk, season=2025, pit="X2", pan="no", lon=0.8035)
    told = compare(desk.record, 2025, 2026)
    assert seasons_held(desk.record) == [2025, 2026]
    (place,) = told.places
    assert (place.before, place.after) == ("X1 (no date): pan base 38 cm", "no pit")
    assert (place.now, place.apart) == ("P1 (2026-08-19): pan base 30 cm", "0 m")
    assert compare(desk.record, 2026, 2025) == told
    facts = dict(told.one.rows)
    assert facts["pits before the work"] == "2; 2 without a date"
    assert facts["of these with a pan"] == "1 of 2 noted"
    assert facts["pan base, mean"] == "38.0 cm (1 pit)"
    page = client.get("/seasons?one=2025&other=2026").text
    assert "X1" in page
    for odd in ("one=9999", "one=99999999999999999999999", "one=x", "other=-1"):
        assert client.get(f"/seasons?{odd}").status_code == 200
    assert "38.0 cm" in page


def test_before_after_and_next_year_stand_in_one_row(desk: Desk, client: FlaskClient) -> None:
    keep(desk, season=2025, pit="X1", pan="yes", pan_base_cm=38.0, part="body")
    keep(desk, season=2025, pit="X0", pan="no", part="wheeling")  # nearer no: another part
    keep(desk, season=2025, pit="A1", phase="after", pan="no", lat=52.70102,
         loosened_at_leg_cm=44.0, loosened_between_cm=41.0)  # fmt: skip
    check = keep_body(desk, Check(season=2025, plan_id="ab" * 32, after_pits=1))
    keep_body(desk, CheckRow(season=2025, check_id=check, about="pit", name="A1",
                             verdict="reached"))  # fmt: skip
    (place,) = compare(desk.record, 2025, 2026).places
    assert place.before == "X1 (no date): pan base 38 cm"
    assert place.after == "A1 (no date): reached, at a leg 44 cm, between 41 cm"
    assert place.now == "P1 (2026-08-19): pan base 30 cm"
    assert place.lasted == "did not last: a pan again"
    page = client.get("/seasons?one=2025&other=2026").text
    for words in ("Did the loosening last?", place.before, place.after, place.now, place.lasted):
        assert words in page


def test_a_pit_dug_before_the_work_of_the_earlier_season_is_left_out_with_its_reason(
    desk: Desk, client: FlaskClient
) -> None:
    """One left in the file under a new name, and one whose year is mistyped."""
    keep(desk, season=2025, pit="X1", pan="yes", pan_base_cm=38.0, date="2025-08-20")
    keep(desk, season=2025, pit="A1", phase="after", pan="no", date="2025-09-10")
    keep(desk, season=2026, pit="P9", pan="yes", pan_base_cm=38.0, date="2025-08-20")
    keep(desk, season=2026, pit="P10", pan="yes", pan_base_cm=50.0, date="2025-09-10")
    keep(desk, season=2026, pit="P11", pan="no")  # no date: it may be of the season
    told = compare(desk.record, 2025, 2026)
    assert [place.now.partition(" ")[0] for place in told.places] == ["P1", "P11"]
    assert [words.partition(":")[0] for words in told.left_out] == [
        "P9 of 2025-08-20", "P10 of 2025-09-10",
    ]  # fmt: skip
    assert "the last pit of 2025 (2025-09-10)" in told.left_out[0]
    facts = dict(told.other.rows)
    assert facts["pits before the work"] == "3, without 2 left out; 1 without a date"
    assert facts["of these with a pan"] == "1 of 3 noted"
    assert facts["pan base, mean"] == "30.0 cm (1 pit)"
    assert told.left_out[0] in client.get("/seasons").text
    alone = compare(desk.record, 2026, 2026)
    assert [words.partition(" of ")[0] for words in alone.left_out] == ["P9", "P10"]
    keep(desk, season=2025, pit="A2", phase="after", pan="no", date="2062-09-10")  # mistyped
    assert compare(desk.record, 2025, 2026).left_out[1:] == told.left_out


def test_pits_of_the_next_year_kept_under_the_old_season_count_nowhere_there(
    desk: Desk, client: FlaskClient
) -> None:
    """A plan was made from the new readings before ``season`` was changed."""
    keep(desk, season=2025, pit="X1", pan="yes", pan_base_cm=38.0, date="2025-08-20")
    keep(desk, season=2025, pit="A1", phase="after", pan="no", date="2025-09-10")
    check = keep_body(desk, Check(season=2025, plan_id="ab" * 32, after_pits=1))
    keep_body(desk, CheckRow(season=2025, check_id=check, about="pit", name="A1",
                             verdict="reached"))  # fmt: skip
    for season in (2025, 2026):
        keep(desk, season=season, pit="S1", pan="no", date="2026-08-25")
    told = compare(desk.record, 2025, 2026)
    place = {place.now.partition(" ")[0]: place for place in told.places}["S1"]
    assert (place.before.partition(" ")[0], place.lasted) == ("X1", "lasted: no pan")
    facts = dict(told.one.rows)
    assert facts["pits before the work"] == "1, without 1 left out"
    assert facts["of these with a pan"] == "1 of 1 noted"
    (words,) = told.left_out
    assert words.startswith("S1 of 2026-08-25: dated outside season 2025 (2025-01-01 to the end of")
    assert words in client.get("/seasons").text
    assert words in client.get("/seasons?one=2025&other=2025").text
    keep(desk, season=2025, pit="A9", phase="after", pan="no", date="2024-09-10")
    facts = dict(compare(desk.record, 2025, 2025).one.rows)
    assert facts["pits after the work"] == "1, without 1 left out"


def test_a_pit_before_the_work_younger_than_the_one_after_it_counts_nowhere(desk: Desk) -> None:
    keep(desk, season=2025, pit="A1", phase="after", pan="no", date="2025-09-10")
    keep(desk, season=2025, pit="X1", pan="yes", pan_base_cm=38.0, date="2025-09-10")
    keep(desk, season=2025, pit="X2", pan="yes", pan_base_cm=50.0, date="2025-09-11")
    far = {"lon": 0.8035, "pan_base_cm": 40.0}  # this ground was worked later
    keep(desk, season=2025, pit="X3", pan="yes", date="2025-09-11", **far)
    told = compare(desk.record, 2025, 2025)
    assert dict(told.one.rows)["pan base, mean"] == "39.0 cm (2 pits)"
    (words,) = told.left_out
    assert words.startswith(
        "X2 of 2025-09-11: a pit before the work, dug no earlier than A1 (2025-"
    )


def test_a_pit_that_shows_what_the_work_left_is_none_of_before(desk: Desk) -> None:
    keep(desk, season=2025, pit="A1", phase="after", pan="yes", date="2025-09-10")
    keep(desk, season=2025, pit="X1", pan="yes", pan_base_cm=38.0, date="2025-08-20")
    keep(desk, season=2025, pit="B1", pan="yes", pan_base_cm=44.0, date="2025-09-10")
    told = compare(desk.record, 2025, 2025)
    facts = dict(told.one.rows)
    assert facts["pan base, mean"] == "38.0 cm (1 pit)"
    assert facts["pits before the work"] == "1, without 1 left out"
    (words,) = told.left_out
    assert words.startswith(
        "B1 of 2025-09-10: a pit before the work, dug no earlier than A1 (2025-"
    )


def test_it_is_none_of_before_once_the_pit_after_the_work_is_withdrawn(desk: Desk) -> None:
    keep(desk, season=2025, pit="X1", pan="yes", pan_base_cm=38.0, date="2025-08-20")
    gone = {"phase": "after", "pan": "yes", "withdrawn": "yes"}
    keep(desk, season=2025, pit="A1", date="2025-09-10", **gone)
    keep(desk, season=2025, pit="A2", phase="after", pan="no", date="2025-09-20")
    keep(desk, season=2025, pit="B1", pan="yes", pan_base_cm=44.0, date="2025-09-10")
    told = compare(desk.record, 2025, 2025)
    assert dict(told.one.rows)["pan base, mean"] == "38.0 cm (1 pit)"
    (words,) = told.left_out
    assert "dug no earlier than A1 (2025-09-10)" in words
    keep(desk, season=2025, pit="A3", date="2025-08-14", **gone)  # a mistyped day
    assert dict(compare(desk.record, 2025, 2025).one.rows)["pits before the work"].startswith("1,")


def test_without_a_stated_season_the_autumn_before_is_of_the_season(desk: Desk) -> None:
    keep(desk, season=2025, pit="X1", pan="yes", pan_base_cm=38.0, date="2024-11-20")
    assert len(compare(desk.record, 2025, 2025).left_out) == 1
    assert compare(desk.record, 2025, 2025, year_before=True).left_out == ()


def test_means_after_the_work_leave_out_what_the_check_questioned_or_a_hazard_forbade(
    desk: Desk,
) -> None:
    depths = {"A1": 36.0, "A2": 53.0, "A3": 30.0, "A4": 33.0}
    check = keep_body(desk, Check(season=2026, plan_id="ab" * 32, after_pits=4))
    row = {"season": 2026, "check_id": check, "about": "pit"}
    for name, leg in depths.items():
        keep(desk, season=2026, pit=name, phase="after", pan="no", loosened_at_leg_cm=leg)
    for name, verdict, judged in (("A2", "questioned", 53.0), ("A3", "past_cap", 30.0),
                                  ("A4", "questioned", 73.0)):  # fmt: skip
        facts = json.dumps({"loosened_at_leg_cm": judged})
        keep_body(desk, CheckRow(**row, name=name, verdict=verdict, facts=facts))  # type: ignore[arg-type]
    rows = dict(compare(desk.record, 2026, 2026).one.rows)
    assert rows["pits after the work"] == "4; 4 without a date"
    without = "without 1 deeper than a hazard allows and 1 questioned by the check"
    assert rows["loosened at a leg, mean"] == f"34.5 cm (2 pits), {without}"


def test_the_part_of_a_pit_without_one_is_that_of_the_map(desk: Desk, client: FlaskClient) -> None:
    keep(desk, season=2026, pit="P3", pan="yes", pan_base_cm=40.0, lon=0.803)
    keep(desk, season=2026, pit="P4", pan="yes", pan_base_cm=32.0)
    keep(desk, season=2026, pit="P5", pan="yes", pan_base_cm=20.0, lon=0.9)
    parts = dict(compare(desk.record, 2026, 2026, desk.ground()).one.parts)
    assert parts == {
        "body": "31.0 cm (2 pits), 1 by the map",
        "headland": "not noted",
        "wheeling": "40.0 cm (1 pit), 1 by the map",
        "part not noted": "20.0 cm (1 pit)",
    }
    assert "40.0 cm (1 pit), 1 by the map" in client.get("/seasons").text


@pytest.mark.parametrize(
    ("after", "verdict", "now", "words"),
    [
        ("no", "reached", "no", "lasted: no pan"),
        ("yes", "too_deep", "no", "lasted: no pan"),
        ("no", "", "yes", "did not last: a pan again"),
        ("no", "leg_only", "yes", "not all of it was loosened; a pan now"),
        ("", "not_between", "no", "not all of it was loosened; no pan now"),
        ("yes", "", "no", "not all of it was loosened; no pan now"),
        ("", "", "no", "not known whether it was loosened; no pan now"),
        ("no", "questioned", "no", "not known whether it was loosened; no pan now"),
        ("yes", "lifted_out", "yes", "lifted out; a pan now"),
        ("no", "reached", "", "not known: no pan was looked for this time"),
        (None, "", "no", "not known, no pit after the work; no pan now"),
    ],
)
def test_whether_it_lasted_is_said_only_where_both_are_known(
    after: str | None, verdict: str, now: str, words: str
) -> None:
    done = None if after is None else Pit(season=2025, pit="A1", phase="after", pan=after)  # type: ignore[arg-type]
    later = Pit(season=2026, pit="P1", phase="before", pan=now)  # type: ignore[arg-type]
    was = Pit(season=2025, pit="X1", phase="before", pan="yes")
    assert lasted(was, done, verdict, later) == words
    if after is not None and words != "lasted: no pan":
        assert lasted(None, done, verdict, later) == words


def test_loosening_lasts_only_where_a_pan_was_seen_before_or_after_it() -> None:
    now = Pit(season=2026, pit="P1", phase="before", pan="no")
    unlooked = Pit(season=2025, pit="X1", phase="before")
    gone, seen = (Pit(season=2025, pit="A1", phase="after", pan=pan) for pan in ("no", "yes"))
    for was in (None, unlooked):
        words = "no pan after the work, none now; not known whether there was one before"
        assert lasted(was, gone, "reached", now) == lasted(was, gone, "", now) == words
        assert lasted(was, seen, "reached", now) == "lasted: no pan"


def test_a_pit_of_the_next_season_without_a_date_says_so(desk: Desk) -> None:
    keep(desk, season=2025, pit="X1", pan="yes", pan_base_cm=38.0, date="2025-08-19", lon=0.8035)
    keep(desk, season=2026, pit="Q2", pan="yes", pan_base_cm=36.0, lon=0.8035)
    (place,) = compare(desk.record, 2025, 2026).places
    assert place.lasted == (
        "not known, no pit after the work; pan base 36 cm now; Q2 bears no date, it is taken as of "
        "2026"
    )


def test_where_there_was_no_pan_nothing_could_last() -> None:
    was = Pit(season=2025, pit="X1", phase="before", pan="no")
    for now, words in (("no", "no pan either time"), ("yes", "no pan before, a pan now")):
        later = Pit(season=2026, pit="P1", phase="before", pan=now)  # type: ignore[arg-type]
        assert lasted(was, None, "", later) == words


def test_last_seasons_pits_and_plan_are_one_step_from_the_first_page(
    desk: Desk, client: FlaskClient
) -> None:
    assert "Earlier:" not in client.get("/").text
    keep(desk, season=2025, pit="X1", pan="yes", pan_base_cm=38.0, part="body")
    keep_plan(desk, "ef" * 32, 2025, depth_cm=42.5)
    for path in ("/", "/seasons"):
        assert 'href="/season/2025"' in client.get(path).text
    page = client.get("/season/2025").text
    for words in ("X1", "base 38 cm", "Plan efefefef", "42.5 cm: 5.96 ha"):
        assert words in page, words
    data = drawn(page)
    assert [zone["label"] for zone in data["zones"]] == ["42.5"]
    trail = client.get(data["pits"][0]["href"])
    assert trail.status_code == 200
    assert "Back to season 2025" in trail.text
    assert client.get("/season/1999").status_code == 404


def test_issued_plans_stand_with_the_last_one_first(desk: Desk, folder: Path) -> None:
    keep_plan(desk, "ab" * 32, 2026)
    keep_plan(desk, "cd" * 32, 2026, depth_cm=40.0)
    page = make_app(open_desk(folder)).test_client().get("/").text
    table = page.partition('aria-label="Plans issued"')[2].partition("</table>")[0]
    assert table.index("cdcdcdcd") < table.index("the last one") < table.index("abababab")
    assert table.index("abababab") < table.index("in the folder now")
    assert "40 cm: 5.96 ha" in table
    assert "the folder holds plan abababab; the last one that was issued is cdcdcdcd" in page
    keep_plan(desk, "ab" * 32, 2026)
    assert "Not the last plan" not in make_app(open_desk(folder)).test_client().get("/").text


def test_means_after_the_work_leave_out_missed_strips_and_lifted_ground(desk: Desk) -> None:
    depths = {"A1": (36.0, 30.0), "A2": (34.0, 28.0), "A5": (0.0, 0.0), "A7": (32.0, 28.0)}
    check = keep_body(desk, Check(season=2026, plan_id="ab" * 32, after_pits=4))
    for name, (leg, between) in depths.items():
        keep(desk, season=2026, pit=name, phase="after", pan="no", loosened_at_leg_cm=leg,
             loosened_between_cm=between, structure_score=4.0 if leg < 34 else 2.0)  # fmt: skip
    keep_body(desk, CheckRow(season=2026, check_id=check, about="pit", name="A7",
                             verdict="worked_lifted"))  # fmt: skip
    facts = dict(compare(desk.record, 2026, 2026).one.rows)
    assert facts["pits after the work"] == "4; 4 without a date"
    without = "without 1 on a missed strip and 1 on lifted ground"
    assert facts["loosened at a leg, mean"] == f"35.0 cm (2 pits), {without}"
    assert facts["loosened between legs, mean"] == f"29.0 cm (2 pits), {without}"
    assert facts["structure score after, mean"] == f"2.0 (2 pits), {without}"


def test_what_an_earlier_version_kept_without_a_season_has_its_page_and_is_no_season_to_compare(
    desk: Desk, client: FlaskClient
) -> None:
    keep(desk, season=0, pit="P1", pan="yes", pan_base_cm=30.0)
    keep(desk, season=2025, pit="X1", pan="yes", pan_base_cm=38.0)
    assert "pits and plan of no known season" in client.get("/").text
    page = client.get("/season/0").text
    assert "Season not known, as it is kept" in page
    assert "P1" in page
    page = client.get("/seasons").text
    assert "season/0" not in page
    assert "2026 against 2025" in page
    assert "2026 against 2025" in client.get("/seasons?one=0&other=2026").text
