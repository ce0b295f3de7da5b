"""The assurance that is missed is told with its cause; changes along the passes are counted."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest

from zoning.model import Plan
from zoning.model.settings import DepthSection, FieldSection, MachineSection, Settings
from zoning.workflow.reached import (
    above_pan_notices,
    assurance_notices,
    change_counts,
    pin_notices,
)

ASKED = Settings(
    field=FieldSection(name="made by hand", boundary="none"),
    machine=MachineSection(depth_step_cm=5, depth_max_cm=45),
    depth=DepthSection(assurance=0.8, max_depths=4, min_run_m=25),
)


def zones(*told: tuple[float, float, float], cautions: str = "") -> pd.DataFrame:
    table = pd.DataFrame(list(told), columns=["depth_cm", "area_ha", "assurance"])
    return table.assign(zone=range(1, len(told) + 1), cautions=cautions)


def test_ground_of_less_assurance_than_asked_is_told_with_the_least_and_the_causes() -> None:
    located = "NOT CLEARED: services not located"
    table = zones((40, 1, 0.85), (35, 0.5, 0.7), (25, 0.25, 0.51), (0, 3, 0.1), cautions=located)
    (note,) = assurance_notices(table, ASKED)
    assert "zones of 0.75 ha" in note.text
    assert "(least 0.51, zone 3)" in note.text
    assert "5 cm apart" in note.text
    assert "4 depths are allowed" in note.text
    assert "hazards" not in note.text
    (other,) = assurance_notices(table, replace(ASKED, depth=DepthSection(max_depths=1)))
    assert "one depth is allowed" in other.text


def test_zones_at_hazards_are_told_apart() -> None:
    table = zones((40, 1.0, 0.85), (35, 0.5, 0.7), (25, 0.25, 0.51))
    table.loc[2, "cautions"] = "drain: no deeper than 30 cm over it"
    (note,) = assurance_notices(table, ASKED)
    assert "(least 0.70, zone 2, apart from those at hazards)" in note.text
    assert "in those of 0.25 ha hazards hold it up." in note.text
    (alone,) = assurance_notices(table.drop(index=1), ASKED)
    assert "(least 0.51, zone 3)" in alone.text


@pytest.mark.parametrize(
    "table",
    [
        zones((40, 1.0, 0.85)),
        zones((40, 1.0, 0.796)),  # prints as 0.80
        zones((40, 1.0, 0.85), (35, 0.05, 0.7)),  # less than a twentieth
        zones((0, 1.0, 0.1)),  # not worked
    ],
)
def test_nothing_is_said_of_little_ground(table: pd.DataFrame) -> None:
    assert assurance_notices(table, ASKED) == ()


def above(*told: tuple[float, float, float], cautions: str = "") -> list[str]:
    """Return the notes on zones of depth [cm], mean base of the pan [cm] and area [ha]."""
    table = pd.DataFrame(list(told), columns=["depth_cm", "pan_base_cm", "area_ha"])
    table = table.assign(zone=range(1, len(told) + 1), cautions=cautions)
    probability = pd.Series(np.linspace(0.21, 0.81, len(told)), index=table["zone"])
    return [note.text for note in above_pan_notices(table, probability)]


def test_a_zone_above_the_mean_base_says_by_how_much_and_how_likely_the_pan_is() -> None:
    (text,) = above((30, 31.2, 0.1), (40, 33, 5), (35, 38.4, 0.4))
    assert "zone 3 by 3 cm (a pan with probability 0.81), zone 1 by 1 cm" in text
    assert "zone 1 by 1 cm (a pan with probability 0.21)" in text
    assert "zone 2" not in text
    assert "dig there" in text


def test_zones_below_the_base_lifted_out_or_held_by_a_hazard_are_not_told_as_above_it() -> None:
    assert above((30, 30.4, 1), (40, 33, 5), (0, 31, 2)) == []
    assert above((30, 36, 1), cautions="drain: no deeper than 30 cm over it") == []
    assert len(above((30, 36, 1), cautions="NOT CLEARED: services not located")) == 1


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
    depths = sample_plan.zones.loc[sample_plan.zones["depth_cm"] > 0, "depth_cm"].nunique()
    changes = sample_plan.totals["depth_changes"]
    assert f"each time: {changes:.0f} times where" in note.text
    assert f"or {depths} settings one after another" in note.text
    assert pin_notices(sample_plan.settings, 1, sample_plan.totals) == ()
    seat = replace(sample_plan.settings, machine=MachineSection(depth_control="hydraulic"))
    assert pin_notices(seat, 4, sample_plan.totals) == ()
