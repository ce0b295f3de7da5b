"""Stations whose base the surface doubts are named, those that are told as odd only once."""

from __future__ import annotations

import numpy as np
import pandas as pd

from zoning.model import Plan
from zoning.workflow.disagree import AT_PIT
from zoning.workflow.support import (
    doubt_notices,
    headland_notices,
    none_met_notices,
    pan_met,
    support_notices,
)

READ = [("S10", 0.5), ("S4", 0.38), ("S7", 0.10), ("S36", 0.94)]


def test_doubted_stations_are_named_with_the_probability() -> None:
    (note,) = doubt_notices(READ, "S36", ())
    assert (note.level, note.code) == ("note", "base-doubted")
    assert "at: S4 (38 %), S10 (50 %), S36 (94 %)." in note.text
    (split,) = doubt_notices([("S7", 0.3)], "S7", ())  # set aside by the likeliest of many fits
    assert "S7 (30 %)" in split.text


def test_a_pit_that_is_doubted_is_not_to_be_dug_again() -> None:
    (note,) = doubt_notices([("P2", 0.48)], "", {"P2"})
    assert "dig there" not in note.text
    assert AT_PIT in note.text
    (both,) = doubt_notices([("S3", 0.9), ("P3", 0.9)], "S3; P3", {"P3"})
    assert both.text.endswith(f": dig there.{AT_PIT}")


def test_a_field_without_a_headland_is_told_so() -> None:
    (note,) = headland_notices(pd.DataFrame({"kind": ["body", "gateway"]}))
    assert "headland_width_m" in note.text
    assert headland_notices(pd.DataFrame({"kind": ["body", "headland"]})) == ()


def test_nothing_is_said_without_doubt() -> None:
    assert doubt_notices(READ[2:3], "S36; S1", ()) == ()
    assert doubt_notices([], "", ()) == ()


def test_the_sample_names_what_its_report_doubts(sample_plan: Plan) -> None:
    facts = str(sample_plan.surface_report["no_pan_probability"]).split("; ")
    odd = set(str(sample_plan.surface_report["outliers"]).split("; "))
    share = {one.split(" (")[0]: int(one.split(" (")[1].rstrip("%)")) for one in facts}
    expected = {name for name, percent in share.items() if percent > 34}
    assert odd
    assert odd <= expected
    told = [n.text for n in sample_plan.notices if n.code == "base-doubted"]
    assert expected
    assert all(any(f"{name} (" in text for text in told) for name in expected)


def stations(*found: tuple[str, int, int]) -> pd.DataFrame:
    return pd.DataFrame(found, columns=["kind", "n_pan", "n_known"]).assign(used=True)


def test_a_field_on_which_no_reading_met_a_pan_is_told_so_and_why_nothing_is_worked() -> None:
    none = stations(("cone", 0, 3), ("cone", 0, 3), ("pit", 0, 1))
    (told,) = none_met_notices(none, np.array([0.1, 0.284]), lift_out=True)
    assert (told.level, told.code) == ("caution", "no-pan-found")
    assert told.text.startswith("No pan was found at any of 2 stations and 1 pit. Nothing")
    assert "the legs stay lifted out on the whole field" in told.text
    assert "(chance up to 28 %, by common experience alone;" in told.text
    (held,) = none_met_notices(none, np.array([0.3]), lift_out=False)
    assert "shallowest setting, since lift_out is false" in held.text
    (one,) = none_met_notices(none[:1], np.array([0.3]), lift_out=True)
    assert one.text.startswith("No pan was found at the 1 station.")


def test_one_insertion_that_met_a_pan_or_none_that_can_tell_is_no_field_without_a_pan() -> None:
    assert pan_met(stations(("cone", 0, 3), ("cone", 1, 3)))
    assert pan_met(stations(("cone", 0, 0)))
    assert none_met_notices(stations(("cone", 1, 3)), np.array([0.5]), lift_out=True) == ()


def test_the_base_that_nobody_passed_is_told_only_where_a_pan_was_met() -> None:
    report = {"bases_read": 2.0, "bases_censored": 2.0}
    assert [n.code for n in support_notices(report)] == ["no-base-read"]
    assert support_notices(report, met=False) == ()
