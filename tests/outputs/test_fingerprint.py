"""The fingerprint changes with what the plan is made from and says, and with nothing else."""

from __future__ import annotations

import dataclasses
import hashlib

import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon

from zoning.model import Plan
from zoning.outputs.fingerprint import changed_settings, combined, digests, plan_id

NAMES = ("boundary", "working_crs", "cone", "pits", "settings", "hazards", "zones")


def facts(plan: Plan, **changes: object) -> dict:
    return {name: getattr(plan, name) for name in NAMES} | changes


def shuffled(frame, seed: int = 3):
    return frame.sample(frac=1, random_state=seed)


def turned(polygon: Polygon) -> Polygon:
    """Return the same polygon with its rings run the other way from another start."""
    rings = [shapely.get_coordinates(ring)[:-1] for ring in (polygon.exterior, *polygon.interiors)]
    moved = [np.roll(ring[::-1], 2, axis=0) for ring in rings]
    return Polygon(moved[0], moved[1:])


def test_it_is_sixty_four_hexadecimal_digits(plan: Plan) -> None:
    assert len(plan.plan_id) == 64
    assert int(plan.plan_id, 16) > 0


def test_rows_rings_and_file_names_do_not_matter(plan: Plan) -> None:
    same = plan_id(
        **facts(
            plan,
            boundary=MultiPolygon([turned(p) for p in plan.boundary.geoms]),
            cone=shuffled(plan.cone).assign(file="other.csv", row=0, note="x"),
            pits=shuffled(plan.pits).assign(file="holes.csv", photo="p.jpg"),
            hazards=shuffled(plan.hazards),
            zones=shuffled(plan.zones).assign(
                geometry=[turned(z) for z in shuffled(plan.zones).geometry]
            ),
            settings=dataclasses.replace(
                plan.settings,
                field=dataclasses.replace(plan.settings.field, boundary="elsewhere/b.gpkg"),
                readings=dataclasses.replace(plan.settings.readings, cone=["a.csv", "b.csv"]),
                hazards=dataclasses.replace(plan.settings.hazards, file="h.gpkg"),
            ),
        )
    )
    assert same == plan.plan_id


def test_pits_dug_after_the_work_judge_the_plan_and_do_not_make_it(plan: Plan) -> None:
    dug = plan.pits.head(1).assign(pit="behind", phase="after", loosened_at_leg_cm=36.0)
    assert plan_id(**facts(plan, pits=pd.concat([plan.pits, dug]))) == plan.plan_id
    assert plan_id(**facts(plan, pits=pd.concat([plan.pits, dug.assign(phase="before")]))) != (
        plan.plan_id
    )


def test_a_single_polygon_and_a_multipolygon_of_one_are_the_same(plan: Plan) -> None:
    zones = plan.zones.assign(geometry=[MultiPolygon([z]) for z in plan.zones.geometry])
    assert plan_id(**facts(plan, zones=zones)) == plan.plan_id


def test_a_reading_left_blank_is_not_a_reading_of_nought(plan: Plan) -> None:
    blank = plan.cone.assign(cone_index_mpa=np.nan)
    nought = plan.cone.assign(cone_index_mpa=0.0)
    assert plan_id(**facts(plan, cone=blank)) != plan_id(**facts(plan, cone=nought))


@pytest.mark.parametrize(
    ("part", "change"),
    [
        (
            "boundary",
            lambda p: {"boundary": shapely.transform(p.boundary, lambda xy: xy + 0.002)},
        ),
        ("boundary", lambda _: {"working_crs": "EPSG:25830"}),
        ("readings", lambda p: {"cone": p.cone.assign(depth_cm=p.cone["depth_cm"] + 0.1)}),
        ("readings", lambda p: {"cone": p.cone.iloc[1:]}),
        ("readings", lambda p: {"pits": p.pits.assign(pan="no")}),
        ("hazards", lambda p: {"hazards": p.hazards.assign(depth_cm=[74.0, np.nan])}),
        ("hazards", lambda p: {"hazards": p.hazards.iloc[:0]}),
        ("zones", lambda p: {"zones": p.zones.assign(depth_cm=[37.5, 32.5, 2.5])}),
        ("zones", lambda p: {"zones": p.zones.assign(depth_cm=[32.5, 37.5, 0.0])}),
        (
            "settings",
            lambda p: {
                "settings": dataclasses.replace(
                    p.settings, depth=dataclasses.replace(p.settings.depth, assurance=0.81)
                )
            },
        ),
    ],
)
def test_what_matters_changes_its_own_part_and_the_whole(plan: Plan, part: str, change) -> None:
    before, after = digests(**facts(plan)), digests(**facts(plan, **change(plan)))
    assert [name for name in before if before[name] != after[name]] == [part]
    assert combined(after) != plan.plan_id


def test_the_whole_is_the_hash_of_its_parts(plan: Plan) -> None:
    # FIPS 180-4 by hashlib, written out by hand: names in order, one a line.
    lines = "\n".join(f"{name}:{value}" for name, value in sorted(digests(**facts(plan)).items()))
    assert hashlib.sha256(lines.encode()).hexdigest() == plan.plan_id


@settings(max_examples=25, deadline=None)
@given(shift_m=st.floats(-0.0004, 0.0004), seed=st.integers(0, 1000))
def test_shifts_below_half_a_millimetre_and_row_order_do_not_matter(
    plan: Plan, shift_m: float, seed: int
) -> None:
    # The corners of the field stand on whole millimetres, so a shift below half of one rounds away.
    square = MultiPolygon([Polygon([(5.0, 5.0), (100.0, 5.0), (100.0, 80.0), (5.0, 80.0)])])
    moved = shapely.transform(square, lambda xy: xy + shift_m)
    before = facts(plan, boundary=square)
    after = facts(
        plan, boundary=moved, cone=shuffled(plan.cone, seed), zones=shuffled(plan.zones, seed)
    )
    assert plan_id(**before) == plan_id(**after)


def test_keys_of_settings_that_changed_are_named_with_both_values() -> None:
    then = {
        "costs": {"fuel_per_l": 1.2, "currency": "EUR", "labour_per_h": None},
        "areas": {"gateways": "gates.geojson", "wheelings": {"width_m": 3, "lines": "a.geojson"}},
        "depth": {"lift_out": True, "max_depths": 4},
    }
    now = {
        "costs": {"fuel_per_l": 1.45, "currency": "GBP", "labour_per_h": 28},
        "areas": {"gateways": "other.geojson", "wheelings": {"width_m": 2.5, "lines": "b.geojson"}},
        "depth": {"lift_out": False, "max_depths": 4.0},
    }
    assert changed_settings(then, now) == {
        "areas.wheelings.width_m": "3, now 2.5",
        "costs.currency": '"EUR", now "GBP"',
        "costs.fuel_per_l": "1.2, now 1.45",
        "costs.labour_per_h": "not given, now 28",
        "depth.lift_out": "true, now false",
    }
    assert changed_settings(then, then) == {}
