"""Plans of random fields keep every rule, and do not change with what must not matter."""

from __future__ import annotations

import dataclasses
import tempfile
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import numpy as np
import pandas as pd
import shapely
from hypothesis import given
from hypothesis import strategies as st
from invariants.checks import RULES
from invariants.conftest import FIELDS
from invariants.fields import CRS, inputs_of, planned
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

import zoning
from zoning.depths.loss import needed_depth
from zoning.model import FieldInputs, Plan
from zoning.workflow import verify_plan
from zoning.workflow.decide import lay_ground

SEEDS = st.integers(0, 10**6)


@FIELDS
@given(SEEDS)
def test_every_plan_keeps_the_rules(seed: int) -> None:
    inputs = inputs_of(seed)
    plan = planned(inputs)
    if plan is None:
        return
    for rule in RULES:
        rule(plan, inputs)
    if seed % 11 == 0:
        _what_must_not_matter[seed // 11 % len(_what_must_not_matter)](inputs, plan)


def reversed_rows(inputs: FieldInputs, plan: Plan) -> None:
    other = dataclasses.replace(
        inputs,
        cone=inputs.cone.iloc[::-1].reset_index(drop=True),
        hazards=inputs.hazards.iloc[::-1].reset_index(drop=True),
        boundary=shapely.MultiPolygon([p.reverse() for p in inputs.boundary.geoms][::-1]),
    )
    turned = zoning.make_plan(other)
    assert turned.plan_id == plan.plan_id
    both = (dataclasses.astuple(turned.losses), dataclasses.astuple(plan.losses))
    assert np.allclose(*both, rtol=1e-9, atol=1e-9)


def moved(inputs: FieldInputs, plan: Plan) -> None:
    """Move everything by no whole number of anything: depths rest on no raster."""
    east, north = 6931.37, -13859.11

    def shift(shape: BaseGeometry) -> BaseGeometry:
        return translate(shape, east, north)

    cone = inputs.cone.assign(x_m=inputs.cone["x_m"] + east, y_m=inputs.cone["y_m"] + north)
    hazards = inputs.hazards.set_geometry([shift(g) for g in inputs.hazards.geometry], crs=CRS)
    boundary = shapely.MultiPolygon(list(shift(inputs.boundary).geoms))
    other = dataclasses.replace(inputs, cone=cone, hazards=hazards, boundary=boundary)
    away = zoning.make_plan(other)
    assert depth_areas(away).keys() == depth_areas(plan).keys()
    for depth, area in depth_areas(plan).items():
        assert abs(depth_areas(away)[depth] - area) <= 1e-3 * plan.boundary.area
    assert np.isclose(away.losses.driven_cm, plan.losses.driven_cm, rtol=1e-5, atol=1e-6)


def depth_areas(plan: Plan) -> dict[float, float]:
    areas = pd.Series(plan.zones.area.to_numpy()).groupby(plan.zones["depth_cm"].to_numpy()).sum()
    return {float(str(depth)): float(area) for depth, area in areas.items()}


def more_asked_for_is_never_shallower(inputs: FieldInputs, _plan: Plan) -> None:
    """Before passes are laid: a higher assurance and a larger clearance go no less deep."""
    pan = lay_ground(inputs).pan
    needs = [
        needed_depth(pan, clearance_cm=3.0, assurance=share) for share in (0.5, 0.7, 0.9, 0.99)
    ]
    assert all((deep >= shallow - 1e-9).all() for shallow, deep in pairwise(needs))
    wide = needed_depth(pan, clearance_cm=6.0, assurance=0.9)
    assert (wide >= needs[2] - 1e-9).all()


def files_agree(inputs: FieldInputs, plan: Plan) -> None:
    """Every file of the plan says the same at every place; twice written, the same bytes."""
    with tempfile.TemporaryDirectory() as place:
        one, two = Path(place) / "one", Path(place) / "two"
        zoning.write_plan(plan, one)
        assert verify_plan(one).faults == ()
        zoning.write_plan(zoning.make_plan(inputs), two)
        assert [
            p.name for p in sorted(one.iterdir()) if p.read_bytes() != (two / p.name).read_bytes()
        ] == []


_what_must_not_matter: tuple[Callable[[FieldInputs, Plan], None], ...] = (
    reversed_rows,
    moved,
    more_asked_for_is_never_shallower,
    files_agree,
)
