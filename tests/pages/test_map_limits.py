"""What the map page must not let an operator miss: guessed, NOT CLEARED, ground to keep off."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any

import geopandas as gpd
import pytest
import shapely
from pages.standing import PHONE, crossing, stand

from zoning.model import Notice, Plan

Opening = Callable[..., Any]


def test_guessed_ground_says_so_at_the_zone_the_position_and_among_the_cautions(
    opened: Opening, gated: Plan
) -> None:
    held = opened(gated, **PHONE)
    page = held.page
    assert "GUESSED ground: gateway" in page.locator(".warn summary").inner_text()
    page.tap(".warn summary")
    assert page.locator(".told-all li").nth(1).inner_text().startswith("Guessed, no station read")
    page.keyboard.press("Escape")
    assert "gateway, 0.04 ha: no station read there" in page.locator("#overlays").inner_text()
    page.evaluate("void openZone(zoneNumbered.get(1), document.body)")
    told = page.locator("#detail .held")
    assert told.inner_text().startswith(
        "GUESSED in gateway, no station read there: once services are located, probe or dig"
    )
    assert "gateway (GUESSED)" in page.locator("#detail dl").inner_text()
    page.evaluate("void openZone(zoneNumbered.get(2), document.body)")
    assert "GUESSED" not in page.locator("#detail").inner_text()
    gate = gated.parts[gated.parts["kind"] == "gateway"].geometry.iloc[0]
    stand(page, gated, gate.centroid)
    assert page.locator("#here-depth").inner_text().split("\n") == ["guessed", "37.5 cm"]
    assert page.locator("#here-off").inner_text().startswith("GUESSED in gateway, no station")
    assert page.locator("#told").inner_text().startswith("GUESSED in gateway")
    stand(page, gated, shapely.Point(gate.bounds[0] - 2, gate.centroid.y))
    assert page.locator("#here-off").is_hidden()
    assert page.locator("#here-more").inner_text().endswith("also GUESSED ground (gateway)")
    stand(page, gated, shapely.Point(gate.bounds[2] + 2, gate.centroid.y))  # outside the field
    assert page.locator("#here-more").inner_text().endswith("; GUESSED ground (gateway)")
    assert held.complaints == []


def test_depths_near_by_bear_their_pin_and_that_they_are_not_cleared(
    opened: Opening, small: Plan
) -> None:
    page = opened(small, **PHONE).page
    west, south, east, _ = small.boundary.bounds
    strip = small.zones.geometry.iloc[0]
    stand(page, small, shapely.Point(west + 100, strip.bounds[3] + 2))  # in zone 2, by zone 1
    assert page.locator("#here-more").inner_text() == (
        "pin 8, zone 2, within 4 m also 37.5 cm (pin 10), NOT CLEARED"
    )
    stand(page, small, shapely.Point(east + 2, south + 10))
    assert page.locator("#here-depth").inner_text() == "Outside"
    assert page.locator("#here-more").inner_text() == (
        "2 m away the depth is 37.5 cm (pin 10), NOT CLEARED"
    )


@pytest.mark.parametrize(
    ("services", "limit"),
    [
        ("located", "Locate covers only what it names: stop if a leg meets anything unexpected"),
        ("records", "Services from records only: locate each on the ground first"),
        ("not-checked", "Services NOT checked: treat as present"),
    ],
)
def test_the_bar_tells_the_limit_of_what_was_done_about_services_whole(
    opened: Opening, small: Plan, services: str, limit: str
) -> None:
    text = f"Buried services, at length. {services}. Reference: 17."
    plan = dataclasses.replace(
        small,
        zones=small.zones.assign(cleared="located"),
        notices=(Notice("caution", f"services-{services}", text),),
    )
    page = opened(plan, **PHONE).page
    line = page.locator(".warn summary strong")
    assert line.inner_text().startswith(limit)
    assert line.evaluate("(one) => one.scrollHeight <= one.clientHeight + 1")  # nothing is cut
    page.tap(".warn summary")
    assert text in page.locator(".told-all").inner_text()


TAGS = """() => [...document.querySelectorAll('.mark-label.boxed > div')]
  .filter((one) => /^H\\d+$/.test(one.textContent))
  .map((one) => { const b = one.getBoundingClientRect();
    const m = document.getElementById('map').getBoundingClientRect();
    return [one.textContent, ...[b.left, b.right].map((x) => x - m.left),
      ...[b.top, b.bottom].map((y) => y - m.top)]; })"""
DRAWN = """() => data.hazards.map((one) => [one.tag,
  one.points.map((p) => map.latLngToContainerPoint(placeOf(p))).map(({x, y}) => [x, y]),
  [...one.lines.map(runOf), ...areasOf(one.areas).map(([ring]) => [...ring, ring[0]])]
    .map((run) => run.map((p) => map.latLngToContainerPoint(p)).map(({x, y}) => [x, y]))])"""


@pytest.mark.parametrize("zoom", [0, 1, 2])
def test_a_tag_stands_beside_its_own_sign_and_away_from_every_other(
    opened: Opening, small: Plan, zoom: int
) -> None:
    page = opened(crossing(small), viewport={"width": 1440, "height": 900}).page
    page.evaluate(f"void map.setZoom(map.getZoom() + {zoom / 2}, {{animate: false}})")
    drawn = {
        tag: shapely.union_all(
            [shapely.Point(p).buffer(8) for p in points] + [shapely.LineString(r) for r in runs]
        )
        for tag, points, runs in page.evaluate(DRAWN)
    }
    tags = page.evaluate(TAGS)
    assert {tag for tag, *_ in tags} == set(drawn)
    for tag, left, right, top, bottom in tags:
        label = shapely.box(left, top, right, bottom)
        away = {name: label.distance(shape) for name, shape in drawn.items()}
        assert min(away.values()) > 0  # no sign is covered
        assert min(away, key=lambda name: away[name]) == tag


def test_a_service_at_a_point_has_a_sign_of_its_own_on_the_map_and_in_the_legend(
    opened: Opening, small: Plan
) -> None:
    page = opened(crossing(small)).page
    signs = page.evaluate(
        "Object.fromEntries(['drain', 'service', 'obstacle'].map((kind) => "
        "[kind, signPath(`${kind}_point`, 13, 10, 6)]))"
    )
    assert len(set(signs.values())) == 3
    assert signs["service"] not in page.evaluate(
        "Object.keys(VERDICTS).map((verdict) => signPath(verdict, 13, 10, 6))"
    )
    overlay = page.locator("#overlays .sub").first
    rows = {
        words.split(":")[0]: overlay.locator("li").nth(i).locator("path").last.get_attribute("d")
        for i, words in enumerate(overlay.locator("li").all_inner_texts())
        if ", pit" in words or ", cover" in words
    }
    told = {name.split()[1].rstrip(","): path for name, path in rows.items()}
    assert told == {"service": signs["service"], "obstacle": signs["obstacle"]}


def test_a_panel_of_other_ground_says_so_and_goes_when_the_position_moves_on(
    opened: Opening, small: Plan
) -> None:
    page = opened(small, **PHONE).page
    zone = {n: small.zones.geometry.iloc[n - 1].representative_point() for n in (1, 2)}
    page.evaluate("void openZone(zoneNumbered.get(1), document.body)")
    stand(page, small, zone[2])
    assert page.locator("#detail").is_hidden()  # it was opened before there was a position
    page.evaluate("void openZone(zoneNumbered.get(1), document.body)")
    words = "NOT where you are: you stand in zone 2."
    assert words in page.locator("#detail").inner_text()
    stand(page, small, zone[2])
    assert page.locator("#detail").is_visible()
    dot = page.evaluate(
        "(() => { const b = positionLayer.getLayers()[1].getElement().getBoundingClientRect(); "
        "return (b.top + b.bottom) / 2; })()"
    )
    here, panel = (page.locator(one).bounding_box() for one in ("#here", "#detail"))
    assert here["y"] + here["height"] < dot < panel["y"]
    page.evaluate("void openZone(zoneNumbered.get(2), document.body)")
    assert "NOT where you are" not in page.locator("#detail").inner_text()
    stand(page, small, zone[1])
    assert page.locator("#detail").is_hidden()


def test_lifted_ground_about_a_service_or_an_obstacle_is_never_told_without_keep_off(
    opened: Opening, small: Plan
) -> None:
    """An obstacle in zone 3, where the legs are lifted out; without it nothing is to keep off."""
    middle = small.zones.geometry.iloc[2].representative_point()
    moved = small.hazards.assign(geometry=[small.hazards.geometry.iloc[0], middle])
    page = opened(dataclasses.replace(small, hazards=moved), **PHONE).page
    words = "eep off H2 obstacle, old well"
    assert words in page.evaluate("zoneName(zoneNumbered.get(3))")
    assert "keep off at hazards" in page.locator("#key").inner_text()
    page.evaluate("void openZone(zoneNumbered.get(3), document.body)")
    assert page.locator("#detail .held").inner_text() == f"K{words}."
    page.evaluate(
        "void openZone({...zoneNumbered.get(3), pan_base_cm: 31.25, shown: {pan_base_cm: '31.3'}},"
        " document.body)"
    )
    assert "31.3 cm, mean, where there is a pan" in page.locator("#detail dl").inner_text()
    page.keyboard.press("Escape")
    page.tap("nav button[data-view=zones]")
    assert page.locator("#view-zones tbody tr", has_text="keep off").count() == 1
    page.tap("nav button[data-view=map]")
    stand(page, small, middle)
    assert page.locator("#here-depth").inner_text() == "KEEP OFF"
    corner = small.zones.geometry.iloc[2].bounds
    beside = shapely.Point(corner[0] + 2, corner[1] + 2)
    stand(page, small, beside, 1)
    assert page.locator("#here-depth").inner_text() == "KEEP OFF"
    assert page.locator("#here-off").inner_text() == f"K{words}"
    stand(page, small, shapely.Point(corner[0] - 1, corner[1] + 10))
    assert f"also lift legs, k{words}" in page.locator("#here-more").inner_text()
    page.click("#whole")
    labels = page.evaluate("labelLayer.getLayers().map((one) => one.getElement().innerText)")
    assert any(one.lower().startswith("keep off") for one in labels)
    assert not any("lifted" in one for one in labels)
    bare = opened(small, **PHONE).page
    assert "eep off" not in bare.evaluate("zoneName(zoneNumbered.get(3))")
    stand(bare, small, beside, 1)
    assert bare.locator("#here-depth").inner_text() == "LIFT"


def lifted_by(small: Plan, *obstacles: tuple[float, float]) -> tuple[Plan, Callable[..., Any]]:
    """The small plan with a drain across zone 3, from its south-west corner on, and obstacles."""
    west, south, east, _ = small.zones.geometry.iloc[2].bounds

    def at(x: float, y: float) -> shapely.Point:
        return shapely.Point(west + x, south + y)

    shapes = [shapely.LineString([(west - 20, south + 10), (east + 20, south + 10)])]
    shapes += [at(*place) for place in obstacles]
    hazards = gpd.GeoDataFrame(
        {
            "kind": ["drain"] + ["obstacle"] * len(obstacles),
            "name": ["", *("well", "slab")[: len(obstacles)]],
            "depth_cm": [75.0] + [float("nan")] * len(obstacles),
            "clear_m": [3.0] * len(shapes),
        },
        geometry=shapes,
        crs=small.hazards.crs,
    )
    return dataclasses.replace(small, hazards=hazards), at


@pytest.mark.parametrize("accuracy_m", [4.0, 60.0])
def test_a_drain_never_hides_what_the_legs_are_lifted_for(
    opened: Opening, small: Plan, accuracy_m: float
) -> None:
    """From the edge of the lifted ground to the obstacle, along a drain and beside it."""
    plan, at = lifted_by(small, (20, 10))
    page = opened(plan, **PHONE).page
    large = "KEEP OFF" if accuracy_m < 20 else "Too rough"
    for x in (1, 5, 9, 13, 16, 18, 20, 22, 25, 35):
        for y, drain in ((10, True), (12, True), (22, False)):
            stand(page, plan, at(x, y), accuracy_m)
            told = page.locator("#here-off").inner_text()
            assert told.upper().startswith("KEEP OFF H2 OBSTACLE, WELL")
            assert told.endswith(". H1 drain") is drain
            assert "no deeper" not in told
            assert page.locator("#here-depth").inner_text() == large
            assert page.locator("#under").inner_text().startswith(told)
    stand(page, plan, at(-10, 10))  # worked ground: the limit of the drain counts
    assert page.locator("#here-off").inner_text().startswith("H1 drain: no deeper than ")


def test_what_the_bar_says_to_keep_off_is_not_said_again_below_the_depth(
    opened: Opening, small: Plan
) -> None:
    plan, at = lifted_by(small, (2, 30))
    page = opened(plan, **PHONE).page
    stand(page, plan, at(-3, 30), 4)
    assert "Keep off H2 obstacle, well: you may be in" in page.locator("#here-off").inner_text()
    more = page.locator("#here-more").inner_text()
    assert "within 4 m also lift legs" in more
    assert "keep off" not in more


def test_ground_lifted_for_want_of_a_pan_says_lift_and_no_depth_of_a_drain(
    opened: Opening, small: Plan
) -> None:
    plan, at = lifted_by(small)
    page = opened(plan, **PHONE).page
    stand(page, plan, at(20, 10))
    assert page.locator("#here-depth").inner_text() == "LIFT"
    assert page.locator("#here-off").inner_text() == "H1 drain"


def test_only_hazards_within_reach_are_named_and_always_the_nearest(
    opened: Opening, small: Plan
) -> None:
    """Two obstacles 50 m apart in one zone; reach is 10 m and the width of the machine, 3.01 m."""
    plan, at = lifted_by(small, (20, 2), (20, 52))
    page = opened(plan, **PHONE).page
    named = {(20, 18): "well", (20, 26): "well", (20, 29): "slab", (20, 40): "slab"}
    for place, name in named.items():
        stand(page, plan, at(*place), 1)
        told = page.locator("#here-off").inner_text()
        assert [one for one in ("well", "slab") if one in told] == [name]
    stand(page, plan, at(20, 26), 12)  # 21 and 23 m from their keep-off, reach 25 m
    told = page.locator("#here-off").inner_text()
    assert "well" in told
    assert "slab" in told
    stand(page, plan, at(-1, 5), 4)
    told = page.locator("#here-more").inner_text()
    assert "well" in told
    assert "slab" not in told


def test_the_gap_between_two_zones_is_the_less_deep_of_them_and_not_outside(
    opened: Opening, small: Plan
) -> None:
    west, south, east, _ = small.boundary.bounds
    low = shapely.box(west, south, east, south + 32.98)
    shapes = [low, *small.zones.geometry.iloc[1:]]
    plan = dataclasses.replace(small, zones=small.zones.set_geometry(shapes, crs=small.zones.crs))
    page = opened(plan, **PHONE).page
    for share in range(11):
        stand(page, plan, shapely.Point(west + 100, south + 32.97 + 0.004 * share))
        told = page.locator("#here-depth").inner_text()
        assert told == "32.5 cm" or (share < 5 and told.startswith("no deeper than"))
    stand(page, plan, shapely.Point(west + 100, south - 0.1))
    assert page.locator("#here-depth").inner_text() == "Outside"
    stand(page, plan, shapely.Point(west + 60, south + 90))  # in the pond
    assert page.locator("#here-depth").inner_text() == "Gap"


def test_guessed_and_held_back_stand_at_the_depth_in_the_table(
    opened: Opening, gated: Plan
) -> None:
    held = "drain: no deeper than 25 cm over it; held up by a hazard: set no deeper"
    cautions = ["", held, ""]
    plan = dataclasses.replace(gated, zones=gated.zones.assign(cautions=cautions))
    page = opened(plan, **PHONE).page
    page.tap("nav button[data-view=zones]")
    depths = page.locator("#view-zones tbody td:nth-child(2)").all_inner_texts()
    assert depths == ["37.5?", "32.5*", "lifted"]
    caption = page.locator("#view-zones caption").inner_text()
    assert "?: GUESSED ground in it; *: held up by a hazard" in caption


def test_the_legend_tells_a_cover_where_there_can_be_one_and_depths_of_the_plan(
    opened: Opening, small: Plan
) -> None:
    page = opened(crossing(small), **PHONE).page
    told = page.locator("#overlays .sub").first.locator("li").all_inner_texts()
    assert [words for words in told if "obstacle" in words and "cover not known" in words] == []
    assert any("service" in words and "cover not known" in words for words in told)
    assert page.locator("#key .not-cleared").inner_text() == "37.5"


def test_a_banner_of_many_lines_covers_no_button(opened: Opening, gated: Plan) -> None:
    page = opened(gated, **PHONE).page
    page.evaluate("document.querySelector('.warn strong').innerHTML += '<br>two<br>three<br>four'")
    for view in ("map", "zones"):
        page.tap(f"nav button[data-view={view}]")
    page.tap("nav button[data-view=map]")
    stand(page, gated, gated.zones.geometry.iloc[1].representative_point())
    boxes = {one: page.locator(one).bounding_box() for one in (".warn", ".views", ".tools", "#map")}
    foot = {name: box["y"] + box["height"] for name, box in boxes.items()}
    assert foot[".warn"] <= boxes[".views"]["y"]
    assert foot[".tools"] <= boxes["#map"]["y"]
    assert foot["#map"] <= PHONE["viewport"]["height"]
    assert page.evaluate("scrollY") > 0  # the head of the page made room
