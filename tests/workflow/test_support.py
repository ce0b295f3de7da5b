"""Stations whose base the surface doubts are named, those that are told as odd only once."""

from __future__ import annotations

import pandas as pd

from zoning.model import Plan
from zoning.workflow.disagree import AT_PIT
from zoning.workflow.support import doubt_notices, headland_notices, support_notices

READ = [("S10", 0.5), ("S4", 0.38), ("S7", 0.10), ("S36", 0.94)]


def test_doubted_stations_are_named_with_the_probability() -> None:
    (note,) = doubt_notices(READ, "S36", ())
    assert (note.level, note.code) == ("note", "base-doubted")
    assert "at: S4 (38 %), S10 (50 %)." in note.text


def test_a_pit_that_is_doubted_is_not_to_be_dug_again() -> None:
    (note,) = doubt_notices([("P2", 0.48)], "", {"P2"})
    assert "dig there" not in note.text
    assert AT_PIT in note.text
    report = {"outliers": "S3; P3"}
    (odd,) = (n for n in support_notices(report, {"P3"}) if n.code == "odd-stations")
    assert odd.text.endswith(f"in doubt.{AT_PIT}")
    (pit,) = (n for n in support_notices({"outliers": "P3"}, {"P3"}) if n.code == "odd-stations")
    assert pit.text.endswith(f": P3.{AT_PIT}")


def test_a_field_without_a_headland_is_told_so() -> None:
    (note,) = headland_notices(pd.DataFrame({"kind": ["body", "gateway"]}))
    assert "headland_width_m" in note.text
    assert headland_notices(pd.DataFrame({"kind": ["body", "headland"]})) == ()


def test_nothing_is_said_without_doubt() -> None:
    assert doubt_notices(READ[2:], "S36; S1", ()) == ()
    assert doubt_notices([], "", ()) == ()


def test_the_sample_names_what_its_report_doubts(sample_plan: Plan) -> None:
    facts = str(sample_plan.surface_report["no_pan_probability"]).split("; ")
    odd = str(sample_plan.surface_report["outliers"]).split("; ")
    share = {one.split(" (")[0]: int(one.split(" (")[1].rstrip("%)")) for one in facts}
    expected = {name for name, percent in share.items() if percent > 34 and name not in odd}
    told = [n.text for n in sample_plan.notices if n.code == "base-doubted"]
    assert expected
    assert all(any(f"{name} (" in text for text in told) for name in expected)
