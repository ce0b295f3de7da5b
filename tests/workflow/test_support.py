"""Stations whose base the surface doubts are named, those that are told as odd only once."""

from __future__ import annotations

from zoning.model import Plan
from zoning.workflow.support import doubt_notices

READ = [("S10", 0.5), ("S4", 0.38), ("S7", 0.10), ("S36", 0.94)]


def test_doubted_stations_are_named_with_the_probability() -> None:
    (note,) = doubt_notices(READ, "S36")
    assert (note.level, note.code) == ("note", "base-doubted")
    assert "at: S4 (38 %), S10 (50 %)." in note.text


def test_nothing_is_said_without_doubt() -> None:
    assert doubt_notices(READ[2:], "S36; S1") == ()
    assert doubt_notices([], "") == ()


def test_the_sample_names_what_its_report_doubts(sample_plan: Plan) -> None:
    facts = str(sample_plan.surface_report["no_pan_probability"]).split("; ")
    odd = str(sample_plan.surface_report["outliers"]).split("; ")
    share = {one.split(" (")[0]: int(one.split(" (")[1].rstrip("%)")) for one in facts}
    expected = {name for name, percent in share.items() if percent > 34 and name not in odd}
    told = [n.text for n in sample_plan.notices if n.code == "base-doubted"]
    assert expected
    assert all(any(f"{name} (" in text for text in told) for name in expected)
