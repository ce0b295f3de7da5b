"""What the map page says of the ground under an operator: passes, edges, unread and assumed."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any

import geopandas as gpd
import pyproj
import pytest
import shapely
from pages.standing import PHONE, crossing, stand

from zoning.model import Notice, Plan

Opening = Callable[..., Any]


def tap(page: Any, place: str) -> None:
    """Tap the map where a script names a place, brought to its middle."""
    page.evaluate(f"void map.setView({place}, 20, {{animate: false}})")
    page.locator("#map").scroll_into_view_if_needed()
    box = page.locator("#map").bounding_box()
    page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)


def test_a_gap_in_the_field_is_named_on_the_map_in_the_key_and_to_who_comes_near(
    opened: Opening, small: Plan
) -> None:
    plan = small
    middle = shapely.Polygon(small.boundary.geoms[0].interiors[0]).centroid  # of the pond, 15 m
    page = opened(plan, **PHONE).page
    limit = "not in the field: lift and turn before it"
    assert "gap" in page.locator(".mark-label.boxed").all_inner_texts()
    assert limit in page.locator("#key").inner_text()
    page.evaluate("void map.setView(data.gaps[0].place, 20, {animate: false})")
    near = [words.split("\n") for words in page.locator(".mark-label.boxed").all_inner_texts()]
    assert limit.split(": ") in near
    tap(page, "data.gaps[0].place")
    assert limit[1:] in page.locator("#under").inner_text()
    near = "a gap in the field within 7 m: lift and turn before it"
    stand(page, plan, shapely.Point(middle.x + 17, middle.y), 5.0)  # 2 m from the water
    assert near in page.locator("#here-more").inner_text()
    assert near in page.locator("#told").inner_text()
    stand(page, plan, shapely.Point(middle.x + 24.5, middle.y), 5.0)  # 9.5 m: 5 m and 5 m reach it
    assert "a gap in the field within 15 m" in page.locator("#here-more").inner_text()
    stand(page, plan, shapely.Point(middle.x + 26, middle.y), 5.0)
    assert "gap" not in page.locator("#here-more").inner_text()
    stand(page, plan, middle, 5.0)
    assert page.locator("#here-depth").inner_text() == "Gap"
    assert page.locator("#here-more").inner_text() == "lift and turn before it"
    stand(page, plan, shapely.Point(middle.x + 13, middle.y), 5.0)
    more = page.locator("#here-more").inner_text()
    assert more == "lift and turn before it; 2 m away the depth is 32.5 cm (pin 8)"  # no 2.32 m
    assert page.locator("#told").inner_text().startswith(f"Gap in the field, {more}.")
    whole = dataclasses.replace(plan, boundary=shapely.MultiPolygon([plan.boundary.envelope]))
    assert "lift and turn" not in opened(whole, **PHONE).page.locator("#key").inner_text()


def test_the_edge_of_the_field_is_told_where_a_position_may_be_near_it(
    opened: Opening, small: Plan
) -> None:
    page = opened(small, **PHONE).page
    west, south, *_ = small.boundary.bounds
    for off, told in ((3.0, "edge of the field within 7 m"), (9.5, ""), (40.0, "")):
        stand(page, small, shapely.Point(west + off, south + 60), 4.0)
        words = page.locator("#here-more").inner_text()
        assert told in words
        assert ("edge of the field" in words) is bool(told)


def test_until_services_are_located_spade_and_probe_have_the_limit_of_the_legs(
    opened: Opening, small: Plan
) -> None:
    limit = "Until services are located, dig and probe no deeper than 30 cm (11.8 in). "
    limit += "Never within the keep-off of H"
    page = opened(crossing(small), **PHONE).page
    assert (
        "Ask what is buried before you dig or probe" in page.locator(".warn summary").inner_text()
    )
    for kind in ("Zone", "Station", "Pit"):
        page.evaluate(f"void open{kind}(data.{kind.lower()}s[0], document.body)")
        assert limit in page.locator("#detail").inner_text()
    page.keyboard.press("Escape")
    assert limit in page.locator("#key").inner_text()
    page.tap(".warn summary")
    assert limit in page.locator(".told-all").inner_text()
    west, south, *_ = small.boundary.bounds
    stand(page, small, shapely.Point(west + 60, south + 40))  # in the keep-off of a service
    assert "legs lifted out, no spade or probe" in page.locator("#here-off").inner_text()
    page.emulate_media(media="print")
    assert limit in page.locator(".on-paper").inner_text()
    proved = dataclasses.replace(small.settings.hazards, services="located", reference="17")
    settings = dataclasses.replace(small.settings, hazards=proved)
    located = opened(dataclasses.replace(small, settings=settings), **PHONE).page
    assert "located, dig" not in located.locator("body").inner_text()
    assert "Ask what is buried before you dig or probe." in located.locator("#key").inner_text()


def test_pins_of_a_machine_described_in_part_are_told_as_assumed_and_none_is_in_the_limit(
    opened: Opening, small: Plan
) -> None:
    told = "The machine is described in part; these are assumed: depth_min_cm (15). Measure yours."
    notice = Notice("caution", "assumed-in-part", told, keys=("depth_min_cm",))
    page = opened(dataclasses.replace(small, notices=(*small.notices, notice)), **PHONE).page
    assert page.locator(".frame .assumed").inner_text() == "Machine ASSUMED in part"
    key = page.locator("#key").inner_text()
    assert told in key
    assert "37.5 cm (14.8 in), pin 10 (assumed), NC" in key
    held, other = (small.zones.geometry.iloc[i].representative_point() for i in (0, 1))
    stand(page, small, held)
    assert page.locator("#here-depth").inner_text().split("\n") == ["no deeper than", "30 cm"]
    assert "37.5 cm, pin 10 (assumed), zone 1, machine assumed in part" in (
        page.locator("#here-more").inner_text()
    )
    stand(page, small, other)
    assert "pin 8 (assumed)" in page.locator("#here-more").inner_text()
    page.tap("nav button[data-view=zones]")
    assert "Pin (assumed)" in page.locator("#view-zones thead").inner_text()
    assert "machine ASSUMED in part" in page.locator("#view-zones caption").inner_text()


def test_legs_alone_assumed_leave_the_pins_as_they_are(opened: Opening, small: Plan) -> None:
    told = "The machine is described in part; these are assumed: legs (7). Measure yours."
    notice = Notice("caution", "assumed-in-part", told, keys=("legs",))
    page = opened(dataclasses.replace(small, notices=(*small.notices, notice)), **PHONE).page
    assert page.locator(".frame .assumed").inner_text() == "Machine ASSUMED in part"
    stand(page, small, small.zones.geometry.iloc[0].representative_point())
    assert page.locator("#here-depth").inner_text().endswith("(pin 7)")


def test_ground_without_a_station_near_is_marked_from_the_start_and_told_to_who_stands_there(
    opened: Opening, small: Plan
) -> None:
    west, south, *_ = small.boundary.bounds
    far = shapely.box(west + 160, south + 100, west + 200, south + 150)
    doubt = shapely.box(west, south + 110, west + 40, south + 150)
    rows = {"reason": ["no station near", "pan base uncertain"], "area_ha": [0.2, 0.16]}
    plan = dataclasses.replace(
        small, uncertain=gpd.GeoDataFrame(rows, geometry=[far, doubt], crs=small.uncertain.crs)
    )
    page = opened(plan, **PHONE).page
    assert page.is_checked("#overlays input[name=unread]")
    assert page.locator("[fill='url(#unread)']").count() >= 2  # on the map and in the key
    labels = page.locator(".mark-label.boxed")
    assert {"unread", "no station near"} & set(labels.all_inner_texts())
    assert not page.is_checked("#overlays input[name=unsure]")
    assert "Other uncertain places" in page.locator("#overlays").inner_text()
    stand(page, plan, far.centroid)
    words = "unread ground: no station near, none within 60 m"
    assert words in page.locator("#here-more").inner_text()
    assert words in page.locator("#told").inner_text()
    assert "no station near" in page.locator("#under").inner_text()
    stand(page, plan, doubt.centroid)
    assert "unread" not in page.locator("#here-more").inner_text()


def test_a_pass_is_told_by_its_number_on_the_map_at_a_tap_and_at_the_position(
    opened: Opening, small: Plan
) -> None:
    page = opened(small, **PHONE).page
    west, south, *_ = small.boundary.bounds
    page.check("#overlays input[name=passes]")
    page.evaluate("void map.setView(data.passes[1].lines[0][0], 20, {animate: false})")
    assert "pass 2" in page.locator(".mark-label.pass").all_inner_texts()
    page.tap("#whole")
    assert page.locator(".mark-label.pass").count() == 0  # lines too close together
    on, off = shapely.Point(west + 130.4, south + 61), shapely.Point(west + 40, south + 64)
    stand(page, small, on, 1.0)
    told = "pass 2 of 2, 130 m from its start"
    assert told in page.locator("#here-more").inner_text()
    assert told in page.locator("#told").inner_text()
    stand(page, small, on, 4.0)  # half a machine is less than that
    assert f"about {told}" in page.locator("#here-more").inner_text()
    stand(page, small, off, 1.0)
    assert "pass" not in page.locator("#here-more").inner_text()
    page.tap("#here-stop")
    page.uncheck("#overlays input[name=passes]")
    tap(page, "L.latLngBounds(data.passes[1].lines[0]).getCenter()")
    assert "2 of 2, 60 m from its start" in page.locator("#detail dl").inner_text()


def test_a_pass_lifted_all_the_way_is_said_to_be_left_out(opened: Opening, small: Plan) -> None:
    lifted = small.passes.assign(
        depth_cm=small.passes["depth_cm"].where(small.passes["pass"] != 2, 0)
    )
    plan = dataclasses.replace(small, passes=lifted)
    page = opened(plan, **PHONE).page
    page.check("#overlays input[name=passes]")
    assert "lifted all the way, leave out: pass 2" in page.locator("#overlays").inner_text()
    page.evaluate("void map.setView(data.passes[1].lines[0][0], 20, {animate: false})")
    assert "pass 2, leave out" in page.locator(".mark-label.pass").all_inner_texts()
    west, south, *_ = small.boundary.bounds
    stand(page, plan, shapely.Point(west + 90, south + 60), 1.0)
    assert (
        "pass 2 of 2, lifted all the way: leave it out" in page.locator("#here-more").inner_text()
    )
    stand(page, plan, shapely.Point(west + 90, south + 10), 1.0)
    assert "leave" not in page.locator("#here-more").inner_text()
    assert page.evaluate("inRanges([3, 4, 5, 8, 11, 12])") == "3 to 5, 8, 11 to 12"


def test_no_number_of_a_pass_covers_another_label(opened: Opening, large: Plan) -> None:
    page = opened(large).page
    page.check("#overlays input[name=passes]")
    for zoom in (18.5, 19.5, 20.5):
        page.evaluate(f"void map.setView(data.passes[20].lines[0][0], {zoom}, {{animate: false}})")
        boxes = page.evaluate(
            "[...document.querySelectorAll('.mark-label.boxed > div')].map((one) => { const b = "
            "one.getBoundingClientRect(); return [b.left, b.top, b.right, b.bottom]; })"
        )
        box = page.locator("#map .north").bounding_box()
        corner = [box["x"], box["y"], box["x"] + box["width"], box["y"] + box["height"]]
        shapes = [shapely.box(*one) for one in [*boxes, corner]]
        assert page.locator(".mark-label.pass").count() >= 3
        pairs = shapely.STRtree(shapes).query(shapes, predicate="intersects").T
        assert [
            (i, j) for i, j in pairs if i < j and shapes[i].intersection(shapes[j]).area > 12
        ] == []


@pytest.mark.parametrize("accuracy_m", [35.0, 80.0])
def test_a_position_too_rough_tells_no_depth_in_any_line(
    opened: Opening, small: Plan, accuracy_m: float
) -> None:
    page = opened(small, **PHONE).page
    point = small.zones.geometry.iloc[1].representative_point()
    page.evaluate("void openZone(zoneNumbered.get(1), document.body)")
    stand(page, small, point, 4.0)
    assert "32.5 cm" in page.locator("#told").inner_text()
    page.evaluate("void openZone(zoneNumbered.get(1), document.body)")
    stand(page, small, point, accuracy_m)
    rough = f"position to {accuracy_m:.0f} m only; go by the sheet"
    assert page.locator("#here-more").inner_text() == rough
    # The old well is 91 m away, its keep-off 3 m less; legs reach 10 m and the machine's 3.01 m.
    well = "Keep off H2 obstacle, old well: its keep-off begins 88 m away. "
    well = well if accuracy_m + 13.01 > 88 else ""
    assert page.locator("#told").inner_text().startswith(f"{well}Too rough: {rough}.")
    for line in ("#told", "#here", "#under"):
        assert "cm" not in page.locator(line).inner_text().replace("30 cm", "")
        assert "zone" not in page.locator(line).inner_text().lower()
    assert "NOT where you are" not in page.locator("#detail").inner_text()


def test_guessed_ground_is_told_of_a_tap_only_where_it_is(opened: Opening, gated: Plan) -> None:
    page = opened(gated, **PHONE).page
    gate = gated.parts[gated.parts["kind"] == "gateway"].geometry.iloc[0].centroid
    to_lonlat = pyproj.Transformer.from_crs(gated.working_crs, "EPSG:4326", always_xy=True)
    west, south, *_ = gated.boundary.bounds
    for x, y, told in ((west + 80, south + 22, 0), (gate.x, gate.y + 5, 1)):
        lon, lat = to_lonlat.transform(x, y)
        page.evaluate(f"press({{latlng: L.latLng({lat}, {lon})}})")
        assert page.locator("#detail-title").inner_text().startswith("Zone 1:")
        assert page.locator("#detail .held", has_text="GUESSED").count() == told
        assert "gateway (GUESSED)" in page.locator("#detail dl").inner_text()


def test_a_gateway_has_the_sign_of_the_sheet_on_the_map_and_in_the_key(
    opened: Opening, small: Plan, gated: Plan
) -> None:
    page = opened(gated, **PHONE).page
    signs = page.locator(".leaflet-points-pane .leaflet-marker-icon")
    assert signs.all_text_contents() == ["G"]
    key = page.locator("#overlays ul.sub li", has_text="gateway").first
    assert key.locator("svg text").text_content() == "G"
    at = signs.bounding_box()
    for label in page.locator(".mark-label").all():
        box = label.bounding_box()
        across = min(box["x"] + box["width"], at["x"] + 23) - max(box["x"], at["x"] + 3)
        down = min(box["y"] + box["height"], at["y"] + 20) - max(box["y"], at["y"] + 2)
        assert across <= 0 or down <= 0
    page.uncheck("#overlays input[name=gateways]")
    assert signs.count() == 0
    assert opened(small, **PHONE).page.locator("#overlays input[name=gateways]").count() == 0


def test_the_base_the_plan_took_is_told_only_where_it_allows_for_the_day(
    opened: Opening, small: Plan
) -> None:
    day = small.stations.loc[small.stations["kind"] == "cone", "date"].iloc[0]
    report = {**small.surface_report, f"day_effect_{day}_cm": 1.7}
    for plan, told in ((small, False), (dataclasses.replace(small, surface_report=report), True)):
        page = opened(plan).page
        page.click("button[data-view=stations]")
        assert ("Taken as" in page.locator("#view-stations thead").inner_text()) is told
