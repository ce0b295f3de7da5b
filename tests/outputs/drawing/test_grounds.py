"""Ground of its own kind: a pond is named, ground without a station near has dots."""

from __future__ import annotations

from collections.abc import Callable

import geopandas as gpd
import shapely
from shapely import MultiPolygon, Polygon

from zoning.model import Plan
from zoning.outputs.drawing.frame import Frame
from zoning.outputs.drawing.grounds import far, gaps, label_gaps
from zoning.outputs.drawing.labels import Labels, box_of
from zoning.outputs.drawing.legend import GAP
from zoning.outputs.drawing.plan import plan_drawing
from zoning.outputs.guessed import FAR
from zoning.outputs.sheet.facts import sheet_facts


def test_a_pond_is_named_in_its_own_ground_and_in_the_key(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    (pond,) = gaps(plan)
    frame = Frame.around(plan.boundary.bounds, 186, 130)
    labels = Labels(frame.paper, frame.on_paper(plan.boundary))
    label_gaps(plan, frame, labels)
    (label,) = labels.placed
    assert label.head == "gap"
    assert frame.on_paper(pond).covers(box_of(label))
    assert GAP in plan_drawing(plan, 186, 130)
    assert "lift and turn before it" in sheet_facts(plan)["ground_notes"]
    whole = MultiPolygon([Polygon(part.exterior) for part in plan.boundary.geoms])
    assert GAP not in plan_drawing(changed(boundary=whole), 186, 130)


def unsure(plan: Plan, changed: Callable[..., Plan], reason: str) -> Plan:
    west, south, *_ = plan.boundary.bounds
    corner = shapely.box(west - 5, south - 5, west + 60, south + 50)
    rows = {"reason": [reason], "area_ha": [0.275]}
    return changed(uncertain=gpd.GeoDataFrame(rows, geometry=[corner], crs=plan.working_crs))


def test_ground_without_a_station_near_has_dots_inside_the_field_and_words(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    alone = unsure(plan, changed, FAR)
    frame = Frame.around(plan.boundary.bounds, 186, 130)
    (area,) = far(alone, frame)
    assert frame.on_paper(plan.boundary).contains_properly(area)
    assert FAR in plan_drawing(alone, 186, 130)
    assert "Dots: no station near (0.28 ha)" in sheet_facts(alone)["ground_notes"]
    other = unsure(plan, changed, "pan base uncertain")
    assert FAR not in plan_drawing(other, 186, 130)
    assert "Dots" not in sheet_facts(other)["ground_notes"]
