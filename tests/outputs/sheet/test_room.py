"""The room for the map: words above and below take of its height, few zones stand beneath."""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd
import pytest
from shapely import MultiPolygon, box

from zoning.model import Plan
from zoning.outputs.sheet.facts import sheet_facts
from zoning.outputs.sheet.room import map_height_mm, zone_columns


def zones_of(plan: Plan, count: int) -> pd.DataFrame:
    many = pd.concat([plan.zones] * 30, ignore_index=True).head(count)
    return many.assign(zone=range(1, count + 1))


@pytest.mark.parametrize(("count", "columns"), [(2, 1), (8, 1), (9, 3), (90, 3)])
def test_few_zones_stand_in_one_column(
    plan: Plan, changed: Callable[..., Plan], count: int, columns: int
) -> None:
    assert zone_columns(changed(zones=zones_of(plan, count))) == columns


@pytest.mark.parametrize("count", [1, 2, 12, 18])
def test_few_zones_stand_on_the_first_page(
    plan: Plan, changed: Callable[..., Plan], count: int
) -> None:
    few = changed(zones=zones_of(plan, count))
    height, first = map_height_mm(few, sheet_facts(plan))
    assert first
    assert height > 150  # more than half of the page


def test_many_zones_leave_the_whole_page_to_the_map(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    facts = sheet_facts(plan)
    many = changed(zones=zones_of(plan, 90))
    height, first = map_height_mm(many, facts)
    assert not first  # 200 m by 150 m
    assert height > map_height_mm(plan, facts)[0]
    flat = MultiPolygon([box(*plan.boundary.bounds[:3], plan.boundary.bounds[1] + 50)])
    assert map_height_mm(changed(zones=zones_of(plan, 30), boundary=flat), facts)[1]


@pytest.mark.parametrize(
    ("name", "more"),
    [
        ("bars", ["x" * 200]),
        ("assumed", "x" * 90),
        ("cautions", ["x" * 250]),
        ("hazards", ["x" * 400]),
        ("totals", "x" * 400),
    ],
)
def test_longer_words_leave_less_room(plan: Plan, name: str, more: str | list[str]) -> None:
    facts = {
        **sheet_facts(plan),
        "bars": [], "assumed": "", "cautions": [], "hazards": [], "totals": "",
    }  # fmt: skip
    few, many = map_height_mm(plan, facts)[0], map_height_mm(plan, {**facts, name: more})[0]
    assert (few > many) is (name != "totals")
