"""Changes of depth along the passes are counted, and what that asks of the driver is told."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pandas as pd

from zoning.model import Plan
from zoning.model.settings import MachineSection
from zoning.workflow.driving import change_counts, lifted_notices, pin_notices


def test_changes_and_lifts_are_counted_within_passes_only() -> None:
    runs = [
        (1, 1, 0.0), (1, 2, 30.0), (1, 3, 40.0), (1, 4, 0.0), (1, 5, 40.0), (1, 6, 0.0),
        (2, 1, 30.0), (2, 2, 0.0), (2, 3, 40.0),
        (3, 1, 0.0),
    ]  # fmt: skip
    table = pd.DataFrame(runs, columns=["pass", "step", "depth_cm"])
    expected = {
        "passes": 3.0,
        "passes_lifted_throughout": 1.0,
        "depth_changes": 2.0,
        "lifts_within_passes": 2.0,
    }
    assert change_counts(table) == expected
    assert change_counts(table.iloc[::-1]) == expected
    assert change_counts(table.iloc[:0])["depth_changes"] == 0


def test_the_sample_counts_its_own_passes(sample_plan: Plan) -> None:
    changes = 0
    for _, runs in sample_plan.passes.sort_values("step").groupby("pass"):
        depths = [depth for depth in runs["depth_cm"] if depth > 0]
        changes += sum(a != b for a, b in pairwise(depths))
    assert changes > 0
    assert sample_plan.totals["depth_changes"] == changes
    assert sample_plan.totals["passes"] == sample_plan.passes["pass"].nunique()


def test_where_pins_are_moved_the_plan_says_that_its_time_leaves_them_out(
    sample_plan: Plan,
) -> None:
    (note,) = (n for n in sample_plan.notices if n.code == "pins-not-in-time")
    changes = sample_plan.totals["depth_changes"]
    assert f"top of the hours: {changes:.0f} times pass by pass, or fewer with more" in note.text
    zones, totals = sample_plan.zones, sample_plan.totals
    one = zones.assign(depth_cm=zones["depth_cm"].clip(upper=30.0))
    assert pin_notices(sample_plan.settings, one, totals) == ()
    assert pin_notices(sample_plan.settings, zones.assign(time_min=np.nan), totals) == ()
    seat = replace(sample_plan.settings, machine=MachineSection(depth_control="hydraulic"))
    assert pin_notices(seat, zones, totals) == ()


def test_passes_that_are_lifted_all_the_way_are_told_once_with_their_number() -> None:
    (note,) = lifted_notices({"passes": 40.0, "passes_lifted_throughout": 36.0})
    assert note.text.startswith("On 36 of 40 passes the legs stay lifted all the way: leave them")
    assert lifted_notices({"passes": 40.0, "passes_lifted_throughout": 0.0}) == ()
