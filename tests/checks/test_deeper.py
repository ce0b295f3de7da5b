"""No depth is advised beyond what bounds any zone of the ground it is given for."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
from checks.conftest import drain, field_parts, pit_rows, planned_ground, station_rows, trial_rows
from hypothesis import given, settings
from hypothesis import strategies as st

from zoning.checks.advice import advise
from zoning.checks.deeper import deeper_cm, how_deep
from zoning.checks.groups import judge_groups
from zoning.checks.pits import judge_pits
from zoning.checks.trials import ridge_curve
from zoning.model.settings import MachineSection

LIMITS = st.floats(0, 80)
KINDS = st.sampled_from(["drain", "notice", "machine", "foot"])


def ground(depth_cm: float, *limits: tuple[float, str]) -> pd.DataFrame:
    return pd.DataFrame(
        [
            {"zone": i, "depth_cm": depth_cm, "deepest_cm": deepest, "deepest_by": by}
            for i, (deepest, by) in enumerate(limits, 1)
        ]
    )


@given(
    depth=st.integers(6, 20).map(lambda n: 2.5 * n),
    limits=st.lists(st.tuples(LIMITS, KINDS), min_size=1, max_size=5),
    gap=st.floats(-5, 40) | st.just(float("nan")),
)
def test_no_depth_passes_a_bound_of_any_zone(
    depth: float, limits: list[tuple[float, str]], gap: float
) -> None:
    zones = ground(depth, *limits)
    to = deeper_cm(zones, gap, MachineSection())
    assert to == depth or to <= zones["deepest_cm"].min() + 1e-9
    assert to >= depth
    assert (to - depth) % 2.5 == 0
    words = how_deep(zones, gap, MachineSection())
    held = ("Do not set it deeper than ", "No deeper setting is named here")
    assert words.startswith(f"Set {to:g} cm" if to > depth else held)


@settings(deadline=None, max_examples=25)
@given(
    cap=st.floats(0, 60),
    notice=st.sampled_from([20.0, 30.0, 37.5, np.inf]),
    deepest=st.sampled_from([35.0, 37.5, 50.0]),
    base=st.floats(36, 55),
    assurance=st.sampled_from([0.1, 0.8]),
)
def test_whatever_the_pits_show_the_advice_stays_within_the_bounds(
    cap: float, notice: float, deepest: float, base: float, assurance: float
) -> None:
    machine = MachineSection(depth_max_cm=deepest)
    planned = planned_ground(
        hazard_zones=drain(cap), assurance=assurance, machine=machine, notice_cm=notice
    )
    seen = {"loosened_at_leg_cm": 35.0, "loosened_between_cm": 33.0, "pan": "yes"}
    rows = pit_rows(*[seen | {"pan_base_cm": base} for _ in range(5)])
    pits = judge_pits(rows, planned, read_on="")
    groups = judge_groups(planned, pits, station_rows(), field_parts())
    told = advise(groups, pits, ridge_curve(trial_rows()), machine, planned.zones)
    bound = planned.zones.loc[planned.zones["depth_cm"] == 35.0, "deepest_cm"].min()
    advised = [float(to) for text in told["text"] for to in re.findall(r"Set ([\d.]+) cm", text)]
    assert all(to <= min(bound, cap, notice, deepest) + 1e-9 for to in advised)
    assert bool(advised) == (bound >= 37.5 and not planned.zones["held"].any())


def test_the_number_and_what_bounds_it_are_named() -> None:
    free = how_deep(ground(35.0, (42.0, "drain"), (50.0, "machine")), 4.0, MachineSection())
    assert free == (
        "Set 40 cm here, and no deeper than 42 cm: "
        "a drain allows no more than 42 cm beside it, in zone 1."
    )
    full = how_deep(ground(35.0, (36.0, "drain")), 4.0, MachineSection())
    beside = "a drain allows no more than 36 cm beside it, in zone 1."
    assert full == f"Do not set it deeper than 35 cm: {beside}"
    unlocated = how_deep(ground(35.0, (30.0, "notice")), 4.0, MachineSection())
    assert unlocated == (
        "No deeper setting is named here: buried services were not located, and deeper than 30 cm "
        "the ground is NOT CLEARED."
    )
    foot = how_deep(ground(35.0, (36.0, "foot")), 4.0, MachineSection())
    assert foot.startswith("No deeper setting is named here: deeper than about 36 cm this foot ")
    assert "deepest setting" in how_deep(ground(45.0, (45.0, "machine")), 4.0, MachineSection())


def test_a_field_of_several_depths_is_given_no_number() -> None:
    both = pd.concat([ground(35.0, (50.0, "machine")), ground(40.0, (50.0, "machine"))])
    assert "stands with that depth" in how_deep(both, 4.0, MachineSection())
