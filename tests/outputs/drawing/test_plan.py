"""The drawing of a plan: what stands on it, and that it does not depend on the order of rows."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from itertools import pairwise

import defusedxml.ElementTree
import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from shapely import affinity

from zoning.contracts import rows
from zoning.model import Notice, Plan
from zoning.outputs.drawing.frame import Frame
from zoning.outputs.drawing.plan import (
    depth_text,
    depth_tones,
    drawing_height_mm,
    hazards_in_order,
    plan_drawing,
)
from zoning.parts import hazard_zones


def words(svg: str) -> list[str]:
    return [
        "".join(e.itertext())
        for e in defusedxml.ElementTree.fromstring(svg).iter()
        if e.tag.endswith("}text")
    ]


def luminance(tone: str) -> float:
    # Relative luminance of WCAG 2
    channels = [int(tone[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_every_zone_has_its_number_and_depth(plan: Plan) -> None:
    told = words(plan_drawing(plan, 186, 130))
    assert {"1", "37.5 cm", "2", "32.5 cm", "3", "lifted"} <= set(told)


def test_depths_not_cleared_are_marked_in_the_legend(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    zones = plan.zones.drop(columns="pin_hole", errors="ignore")
    told = words(plan_drawing(changed(zones=zones), 186, 130))
    assert {"37.5 cm | 14.8 in | NC", "32.5 cm | 12.8 in", "NOT CLEARED at this depth"} <= set(told)
    pinned = changed(zones=zones.assign(pin_hole=[10.0, 8.0, None]))
    told = words(plan_drawing(pinned, 186, 130))
    assert {"37.5 cm | 14.8 in | pin 10 | NC", "32.5 cm | 12.8 in | pin 8"} <= set(told)
    located = changed(zones=plan.zones.assign(cleared="located"))
    assert "NC" not in " ".join(words(plan_drawing(located, 186, 130)))


def test_pins_of_an_assumed_machine_are_marked_in_the_legend(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    taken = Notice("caution", "assumed-machine", "No machine is described.")
    told = words(plan_drawing(changed(notices=(*plan.notices, taken)), 186, 130))
    assert "37.5 cm | 14.8 in | pin 10 (assumed) | NC" in told
    part = Notice("caution", "assumed-in-part", "In words.", keys=("depth_step_cm",))
    told = " ".join(words(plan_drawing(changed(notices=(*plan.notices, part)), 186, 130)))
    assert "37.5 cm | 14.8 in | pin 10 (assumed) | NC" in told
    assert "(assumed)" not in " ".join(words(plan_drawing(plan, 186, 130)))


def test_hazards_are_tagged_and_kept_off(plan: Plan) -> None:
    svg = plan_drawing(plan, 186, 130)
    assert {"H1", "H2"} <= set(words(svg))
    drain, obstacle = hazards_in_order(plan)
    assert (drain.kind, obstacle.kind, obstacle.clear_m) == ("drain", "obstacle", 3.0)
    assert math.isnan(drain.clear_m)


def paper(svg: str, plan: Plan) -> Frame:
    """Return how the field lies on the paper, by its drawn outline."""
    outline = re.compile(r'<path d="([^"]*)" fill-rule="evenodd" fill="none" stroke="#000" ')
    drawn = outline.findall(svg.partition('stroke-width="0.7"/>')[0])[-1]
    points = np.array(re.findall(r"[ML]([-\d.]+) ([-\d.]+)", drawn), dtype=float)
    west, south, east, north = plan.boundary.bounds
    (left, top), (right, bottom) = points.min(axis=0), points.max(axis=0)
    scale = (right - left) / (east - west)
    assert scale == pytest.approx((bottom - top) / (north - south), rel=0.01)
    return Frame(186, 130, scale, west - left / scale, north + top / scale)


def kept_off_m(plan: Plan, changed: Callable[..., Plan], kind: str, clear_m: float) -> float:
    """Return how wide the drawn keep-off of a pole in the middle of the field is, each side."""
    hazards = plan.hazards.iloc[[0]].assign(kind=kind, depth_cm=90.0, clear_m=clear_m)
    hazards = hazards.set_geometry([plan.boundary.centroid], crs=plan.working_crs)
    svg = plan_drawing(changed(hazards=hazards), 186, 130)
    (ground,) = re.findall(r'<path d="([^"]*)"[^>]* fill="#fff" fill-opacity="0.55"', svg)
    x = [float(at) for at in re.findall(r"[ML]([\d.]+) ", ground)]
    return (max(x) - min(x)) / 2 / paper(svg, plan).mm_per_m


@pytest.mark.parametrize("kind", ["drain", "service", "obstacle"])
@pytest.mark.parametrize("clear_m", [math.nan, 0.0, 0.1, 8.0])
def test_the_ground_that_the_plan_keeps_off_is_drawn_given_or_not(
    plan: Plan, changed: Callable[..., Plan], kind: str, clear_m: float
) -> None:
    # hazard_zones is what the planning itself goes by
    hazards = plan.hazards.iloc[[0]].assign(kind=kind, depth_cm=90.0, clear_m=clear_m)
    hazards = hazards.set_geometry([plan.boundary.centroid], crs=plan.working_crs)
    planned, _ = hazard_zones(hazards, machine_width_m=plan.settings.machine.width_m)
    west, _, east, _ = planned.total_bounds
    drawn = kept_off_m(plan, changed, kind, clear_m)
    assert drawn == pytest.approx((east - west) / 2, rel=0.06)
    assert drawn > 0.4


def placed(svg: str, words: str) -> list[tuple[float, float]]:
    """Return where words stand."""
    found = [
        (float(e.attrib["x"]), float(e.attrib["y"]))
        for e in defusedxml.ElementTree.fromstring(svg).iter()
        if e.tag.endswith("}text") and "".join(e.itertext()) == words
    ]
    assert found
    return found


def test_tags_of_hazards_that_cross_stand_away_from_the_crossing(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    x, y = plan.boundary.centroid.coords[0]
    cross = [
        shapely.LineString([(x - 60, y), (x + 60, y)]),
        shapely.LineString([(x, y - 60), (x, y + 60)]),
    ]
    hazards = plan.hazards.assign(kind="service", depth_cm=[60.0, 90.0], geometry=cross)
    svg = plan_drawing(changed(hazards=hazards), 186, 130)
    frame = paper(svg, plan)
    across, down = (frame.on_paper(line) for line in cross)
    for tag, own, other in (("H1", across, down), ("H2", down, across)):
        at = shapely.Point(placed(svg, tag)[0])
        assert at.distance(own) < at.distance(other)


def test_no_label_and_no_line_covers_the_sign_of_a_hazard_at_a_point(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    middle = plan.zones.geometry[2].centroid  # of the zone that is lifted out
    hazards = plan.hazards.iloc[[1]].set_geometry([middle], crs=plan.working_crs)
    svg = plan_drawing(changed(hazards=hazards), 186, 130)
    (sign_x, sign_y) = placed(svg, "!")[0]
    assert svg.rindex("<line") < svg.index(">!<", svg.rindex("<line"))  # drawn over every line
    for words in ("H1", "3", "lifted"):
        x, y = placed(svg, words)[0]
        assert math.hypot(x - sign_x, y - sign_y) > 2.4


@pytest.mark.parametrize(
    ("kind", "letter", "key"),
    [("service", "S", "service point (H)"), ("drain", "D", "drain point (H)"),
     ("obstacle", "!", "obstacle (H)")],
)  # fmt: skip
def test_a_hazard_at_a_point_has_its_own_sign_on_the_map_and_in_the_key(
    plan: Plan, changed: Callable[..., Plan], kind: str, letter: str, key: str
) -> None:
    spot = plan.hazards.iloc[[1]].assign(kind=kind)
    told = words(plan_drawing(changed(hazards=spot), 186, 130))
    assert key in told
    assert letter in told
    assert {"S", "D", "!"} & set(told) == {letter}
    line = plan.hazards.iloc[[0]].assign(kind=kind)
    both = changed(hazards=pd.concat([spot, line], ignore_index=True))
    assert {key, f"{kind} (H)"} <= set(words(plan_drawing(both, 186, 130)))


def test_guessed_ground_is_outlined_signed_and_marked_at_its_zone(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    west, south, *_ = plan.boundary.bounds
    corner = shapely.box(west, south, west + 40, south + 30)
    part = plan.parts.iloc[:1].assign(part="gateway", kind="gateway", geometry=[corner])
    zones = plan.zones.assign(cautions=["guessed: no station read gateway", "", ""])
    guessed = changed(zones=zones, parts=pd.concat([plan.parts, part], ignore_index=True))
    svg = plan_drawing(guessed, 186, 130)
    told = words(svg)
    assert told.count("?") == 2  # on the ground and in the key
    assert "guessed: not read" in told
    assert any(each.endswith("37.5 cm?") for each in told)
    assert not any(each.endswith("32.5 cm?") for each in told)
    assert paper(svg, plan).on_paper(corner).covers(shapely.Point(placed(svg, "?")[0]))
    bare = words(plan_drawing(plan, 186, 130))
    assert not any("?" in each or "guessed" in each for each in bare)


def test_laterals_of_one_system_carry_one_tag(plan: Plan, changed: Callable[..., Plan]) -> None:
    drain = plan.hazards.iloc[[0]]
    moved = drain.assign(geometry=drain.geometry.translate(0, -20))
    more = changed(hazards=pd.concat([plan.hazards, moved], ignore_index=True))
    drains, _ = hazards_in_order(more)
    assert (drains.tag, drains.count) == ("H1", 2)
    assert drains.geometry.length == pytest.approx(2 * drain.geometry.length.iloc[0])
    assert words(plan_drawing(more, 186, 130)).count("H1") == 1


def test_size_and_title(plan: Plan) -> None:
    root = defusedxml.ElementTree.fromstring(plan_drawing(plan, 186, 130))
    assert root.attrib["width"] == "186mm"
    height = float(root.attrib["height"].removesuffix("mm"))
    assert height <= 130
    assert height == pytest.approx(drawing_height_mm(plan, 186, 130), abs=1e-3)
    assert plan.plan_id[:8] in root.attrib["aria-label"]
    assert plan.settings.field.name in root.attrib["aria-label"]


def test_gateways_are_drawn_on_the_edge(plan: Plan, changed: Callable[..., Plan]) -> None:
    assert "G" not in words(plan_drawing(plan, 186, 130))
    corner = shapely.Point(plan.boundary.bounds[:2]).buffer(20).intersection(plan.boundary)
    part = gpd.GeoDataFrame(
        {"part": ["gateway"], "kind": ["gateway"], "area_ha": [corner.area / 1e4]},
        geometry=[corner],
        crs=plan.working_crs,
    )
    with_gate = changed(parts=part)
    assert words(plan_drawing(with_gate, 186, 130)).count("G") == 2  # on the map and in the legend


def test_the_arrow_shows_true_north(plan: Plan, changed: Callable[..., Plan]) -> None:
    # the field lies 3 degrees east of the middle of its zone, at 52.2 N: 3 sin(52.2) = 2.37
    # degrees, true north to the left of the grid's (convergence of a transverse Mercator map)
    assert "rotate(-2.4 " in plan_drawing(plan, 186, 130)


def test_order_of_rows_does_not_matter(plan: Plan, changed: Callable[..., Plan]) -> None:
    turned = changed(
        zones=plan.zones.iloc[::-1], hazards=plan.hazards.iloc[::-1], passes=plan.passes.iloc[::-1],
        parts=plan.parts.iloc[::-1],
    )  # fmt: skip
    assert plan_drawing(turned, 186, 130) == plan_drawing(plan, 186, 130)


@pytest.mark.parametrize("count", range(1, 13))
def test_tones_grow_darker_with_depth(count: int) -> None:
    depths = [15.0 + 2.5 * i for i in range(count)]
    tones = depth_tones([0.0, *depths, *depths])
    assert sorted(tones) == depths
    light = [luminance(tones[depth]) for depth in depths]
    assert light == sorted(light, reverse=True)
    assert len(set(light)) == count


def test_neighbouring_tones_of_usual_plans_differ_in_black_and_white() -> None:
    for count, least in ((2, 1.8), (3, 1.8), (4, 1.8), (5, 1.8), (6, 1.45), (7, 1.45)):
        tones = depth_tones([20.0 + i for i in range(count)])
        light = [luminance(tone) for tone in tones.values()]
        # Contrast of WCAG 2 between neighbours
        assert all((a + 0.05) / (b + 0.05) > least for a, b in pairwise(light))


def test_tones_are_written_as_colours() -> None:
    assert all(re.fullmatch("#[0-9a-f]{6}", row["colour"]) for row in rows("depth_colours"))


@pytest.mark.parametrize(
    ("depth_cm", "told"), [(30.0, "30 cm"), (32.5, "32.5 cm"), (0.0, "lifted")]
)
def test_depth_in_words(depth_cm: float, told: str) -> None:
    assert depth_text(depth_cm) == told


def test_a_zone_too_small_for_its_label_gets_one_beside_it(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    far = plan.boundary.bounds
    sliver = shapely.box(far[0], far[1], far[0] + 3, far[1] + 3)
    zones = plan.zones.copy()
    zones.loc[2, "geometry"] = sliver
    svg = plan_drawing(changed(zones=zones), 186, 130)
    assert "3" in words(svg)
    assert "<circle" in svg  # the dot at the end of the line


def alone(plan: Plan, changed: Callable[..., Plan], *shapes: shapely.Polygon) -> list[str]:
    """Return the labels of a drawing whose first zone is made of `shapes`, in metres from a corner.

    The drawing of 200 m by 150 m has 0.88 mm a metre.
    """
    moved = [affinity.translate(each, *plan.boundary.bounds[:2]) for each in shapes]
    zones = plan.zones.iloc[:1].assign(geometry=[shapely.union_all(moved)])
    bare = {"zones": zones, "hazards": plan.hazards.iloc[:0], "passes": plan.passes.iloc[:0]}
    told = words(plan_drawing(changed(**bare), 186, 190))
    return [each for each in told if each.startswith("1: ") or each == "1"]


def test_ground_far_from_its_label_gets_another(plan: Plan, changed: Callable[..., Plan]) -> None:
    assert len(alone(plan, changed, shapely.box(0, 0, 60, 30))) == 1
    assert len(alone(plan, changed, shapely.box(0, 0, 200, 30))) >= 2


def test_a_run_that_hangs_on_by_a_sliver_has_a_label_of_its_own(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    body = shapely.box(0, 0, 60, 30)
    sliver = shapely.box(60, 10, 150, 10.4)  # 0.35 mm on paper
    run = shapely.box(150, 0, 200, 1.8)  # too narrow for letters, 70 mm2
    joined = shapely.box(150, 1.8, 150.4, 10.4)
    assert len(alone(plan, changed, body, sliver, joined, run)) == 2
    assert len(alone(plan, changed, body)) == 1
