"""The rows of the tables of the sheet: settings in the order of work, and zones listed apart."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Callable

import geopandas as gpd
import pandas as pd
import pytest
from shapely import box

from zoning.model import Notice, Plan
from zoning.model.settings import HazardsSection, TractorSection
from zoning.outputs.sheet.steps import Setting
from zoning.outputs.sheet.tables import (
    known,
    order_of_work,
    setting_row,
    small_numbers,
    why_guessed,
    why_held_back,
    why_less_sure,
    why_small,
    zone_row,
)


def many(plan: Plan, area_ha: list[float]) -> gpd.GeoDataFrame:
    """Return as many zones as areas, all worked, side by side along the south of the field."""
    west, south, east, north = plan.boundary.bounds
    step = (east - west) / len(area_ha)
    shapes = [
        box(west + i * step, south, west + (i + 1) * step, north) for i in range(len(area_ha))
    ]
    rows = {"zone": range(1, len(area_ha) + 1), "depth_cm": 30.0, "area_ha": area_ha}
    return gpd.GeoDataFrame(rows, geometry=shapes, crs=plan.working_crs).assign(cleared="located")


DRAIN = "drain: no deeper than 30 cm over it"
HELD = "held up by a hazard: set no deeper"


@pytest.mark.parametrize(
    ("depth_cm", "pan_cm", "cautions", "mark"),
    [(30.0, 32.4, f"{DRAIN}; {HELD}", "32*"), (30.0, 29.4, f"{DRAIN}; {HELD}", "29*"),
     (30.0, 32.4, DRAIN, "32"), (30.0, 32.4, "", "32"), (30.0, 32.4, None, "32"),
     (0.0, 32.4, f"{DRAIN}; {HELD}", "–")],
)  # fmt: skip
def test_a_pan_that_a_hazard_keeps_is_marked(
    depth_cm: float, pan_cm: float, cautions: str | None, mark: str
) -> None:
    zone = {"zone": 2, "depth_cm": depth_cm, "pan_base_cm": pan_cm, "cautions": cautions}
    assert zone_row({**zone, "area_ha": 1.0, "cleared": "located"}, {})["pan_cm"] == mark


def test_zones_well_below_the_assurance_asked_are_named_unless_marked_or_small(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    asked = plan.settings.depth.assurance
    zones = many(plan, [1.0, 1.0, 1.0, 0.01, 1.0, 1.0]).assign(
        assurance=[asked - 0.05, asked - 0.04, asked - 0.3, 0.1, asked - 0.3, asked - 0.3],
        cautions=["", "", f"{DRAIN}; {HELD}", "", "", ""], pan_base_cm=34.0,
        depth_cm=[30.0, 30.0, 30.0, 30.0, 0.0, 30.0],
    )  # fmt: skip
    one = changed(zones=zones)
    small = small_numbers(zones)
    assert why_less_sure(one, zones) == (
        f"Zones 1, {'' if small else '4, '}6: less sure than asked, dig there first."
    )
    assert why_less_sure(one, zones.assign(assurance=asked)) == ""
    part = Notice("note", "part-short", "...", parts=("gateway", "headland"))
    told = why_less_sure(changed(notices=(part,)), zones.assign(assurance=asked))
    assert told == "The gateway and headland as a whole: less sure than asked, dig there first."
    both = why_less_sure(changed(zones=zones, notices=(part,)), zones)
    assert both.startswith("Zones 1, ")
    assert "6 and the gateway and headland as a whole: less sure" in both
    assert why_less_sure(one, zones.drop(columns="assurance")) == ""


def test_the_mark_names_the_hazard(plan: Plan, changed: Callable[..., Plan]) -> None:
    assert why_held_back(plan, plan.zones) == ""
    cautions = [f"{DRAIN}; {HELD}", DRAIN, ""]
    zones = plan.zones.assign(pan_base_cm=[33.0, 28.0, math.nan], cautions=cautions)
    zones["depth_cm"] = [30.0, 32.5, 0.0]
    shallow = plan.hazards.assign(
        kind="drain", depth_cm=45.0, geometry=[zones.geometry[0].centroid, box(0, 0, 1, 1)]
    )
    told = why_held_back(changed(hazards=shallow), zones)
    assert told.startswith("* Held up by H")
    assert " and " not in told  # the other lies far away
    assert "likely to stay, set no deeper" in told


def test_a_setting_with_its_pin_and_mark(plan: Plan) -> None:
    zones = plan.zones.assign(pin_hole=[10.0, 8.0, math.nan])
    told = setting_row(Setting(37.5, (1,)), zones)
    assert (told["depth_cm"], told["depth_in"], told["pin"]) == ("37.5", "14.8", "10")
    assert (told["zones"], told["not_cleared"]) == ("1", True)
    assert setting_row(Setting(32.5, (2,)), zones)["not_cleared"] is False
    bare = plan.zones.drop(columns="pin_hole")
    assert setting_row(Setting(37.5, (1,)), bare)["pin"] == "–"


def test_the_order_of_work_ends_with_the_headland(plan: Plan) -> None:
    told = order_of_work(plan, plan.zones)
    straight, headland = told["stages"]
    assert straight["title"].startswith("Straight passes")
    assert headland["title"].startswith("Headland rounds last")
    assert [row["zones"] for row in (*straight["rows"], *headland["rows"])] == ["2", "1"]
    assert told["first"].startswith("Trial run")
    assert told["not_cleared"].startswith("NC is NOT CLEARED")


def test_no_headland_no_word_of_it(plan: Plan, changed: Callable[..., Plan]) -> None:
    told = order_of_work(changed(passes=plan.passes.assign(laid="straight")), plan.zones)
    assert [stage["title"].split(",")[0] for stage in told["stages"]] == ["Straight passes"]


def test_turning_is_told_to_be_unplanned_where_no_headland_is_declared(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    bare = changed(
        passes=plan.passes.assign(laid="straight"),
        parts=plan.parts.assign(part="body", kind="body"),
    )
    (stage,) = order_of_work(bare, plan.zones)["stages"]
    assert "No headland is declared: where to turn is not planned." in stage["title"]
    assert "declared" not in json.dumps(order_of_work(plan, plan.zones))


def test_the_pass_to_begin_with_is_told_once_and_never_another_side(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    low = plan.boundary.bounds[1]
    moved = plan.passes.assign(geometry=plan.passes.geometry.translate(0, 30))
    more = moved[moved["pass"] == 2].assign(**{"pass": 3})
    corner = box(*plan.boundary.bounds[:2], plan.boundary.bounds[0] + 20, low + 20)
    part = plan.parts.iloc[:1].assign(part="gateway", kind="gateway", geometry=[corner])
    told = order_of_work(
        changed(
            passes=pd.concat([plan.passes, more], ignore_index=True),
            parts=pd.concat([plan.parts, part], ignore_index=True),
        ),
        plan.zones,
    )
    assert (
        "Begin with pass 3 on the north side, away from the gateway."
        in (told["stages"][0]["title"])
    )
    assert "begin" not in told["first"].lower()


GUESSED = "guessed: no station read gateway, probe or dig there and plan again first"


def test_guessed_ground_is_marked_in_the_table_the_order_and_under_it(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    zones = plan.zones.assign(cautions=[GUESSED, "", GUESSED])
    depths = [zone_row(zone, {})["depth_cm"] for zone in zones.to_dict("records")]
    assert depths == ["37.5?", "32.5", "lifted?"]
    assert setting_row(Setting(37.5, (1,)), zones)["zones"] == "1?"
    part = plan.parts.iloc[:1].assign(part="gateway", kind="gateway")
    guessed = changed(zones=zones, parts=pd.concat([plan.parts, part], ignore_index=True))
    told = why_guessed(guessed, zones)
    assert told.startswith(
        "? Guessed ground in it, no station read there: gateway (P1, alpha in it noted and read as "
        "headland). "
    )
    assert "Once services are located, probe or dig there and plan again before it" in told
    assert told.endswith("pan_surface.tif do not mark it.")
    section = HazardsSection(services="located", reference="L 9")
    settings = dataclasses.replace(plan.settings, hazards=section)
    located = dataclasses.replace(guessed, settings=settings)
    assert "Ask what is buried, then probe or dig there" in why_guessed(located, zones)
    assert why_guessed(plan, plan.zones) == ""


def test_a_small_zone_of_guessed_ground_stands_in_the_table(plan: Plan) -> None:
    zones = many(plan, [0.2] * 12 + [0.049])
    assert small_numbers(zones.assign(cautions=[""] * 12 + [GUESSED])) == []


def test_each_setting_has_the_speed_that_the_plan_reckons_with(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    settings = dataclasses.replace(plan.settings, tractor=TractorSection(pto_power_kw=180.0))
    zones = plan.zones.assign(work_speed_km_h=[7.29, math.nan, 8.0], pto_power_kw=[211.0, 400.0, 0])
    straight, headland = order_of_work(changed(settings=settings, zones=zones), zones)["stages"]
    assert headland["rows"][0]["speed"] == "7.2"
    assert straight["rows"][0]["speed"] == "–"  # cannot be pulled
    (row,) = order_of_work(plan, plan.zones)["stages"][1]["rows"]
    assert row["speed"] == "8"


def test_small_zones_are_listed_apart_only_where_zones_are_many(plan: Plan) -> None:
    areas = [0.2] * 12 + [0.049]
    assert small_numbers(many(plan, areas)) == [13]
    assert small_numbers(many(plan, areas[1:])) == []
    lifted = many(plan, areas)
    assert small_numbers(lifted.assign(depth_cm=[30.0] * 12 + [0.0])) == []
    assert why_small(plan, many(plan, areas[1:])) == ""


def test_why_zones_are_small_names_what_lies_there(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    small = many(plan, [0.04] * 13)
    part = gpd.GeoDataFrame(
        {"part": ["old yard"], "kind": ["named"], "area_ha": [1.0]},
        geometry=[plan.boundary], crs=plan.working_crs,
    )  # fmt: skip
    told = why_small(changed(parts=part), small)
    assert told.startswith("Zones under 0.05 ha (13 of 13) stand under 4 only")
    assert "cut off by old yard, H1 and H2, or where the pan changes" in told
    far = plan.hazards.assign(geometry=plan.hazards.geometry.translate(0, 5000))
    told = why_small(changed(hazards=far, parts=part.assign(kind="body")), small)
    assert "only: where the pan changes" in told


@pytest.mark.parametrize(
    ("value", "decimals", "told"),
    [(None, 0, "–"), (math.nan, 2, "–"), (0.0, 0, "0"), (0.3, 0, "<1"), (0.004, 2, "<0.01"),
     (0.5, 0, "<1"), (0.6, 0, "1"), (19.4, 0, "19")],
)  # fmt: skip
def test_a_little_is_not_nothing(value: float | None, decimals: int, told: str) -> None:
    assert known(value, decimals) == told


def test_rows_are_plain_data(plan: Plan) -> None:
    rows = [row for stage in order_of_work(plan, plan.zones)["stages"] for row in stage["rows"]]
    assert pd.DataFrame(rows)["depth_cm"].tolist() == ["32.5", "37.5"]
