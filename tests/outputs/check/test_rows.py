"""Rows of a check follow their schemas."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path

import jsonschema
import pandas as pd
import pytest
from outputs.small_check import small_check

from zoning.checks.groups import FIELD
from zoning.contracts import shared
from zoning.outputs.check.rows import (
    check_zone_rows,
    dig_records,
    first_advice,
    pit_records,
    probe_records,
    zone_records,
)

ROOT = Path(__file__).parents[3]


def schema(name: str) -> dict:
    return json.loads(shared("schemas", f"{name}.schema.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", ["check", "check_zones", "check_pits", "check_changes"])
def test_the_examples_pass_and_fail_their_schemas(name: str) -> None:
    good, bad = (
        json.loads((ROOT / "shared/examples" / f"{name}.{word}.json").read_text())
        for word in ("good", "bad")
    )
    jsonschema.validate(good, schema(name))
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(bad, schema(name))


def test_zones_and_pits_follow_their_schemas() -> None:
    check = small_check()
    for row in zone_records(check):
        jsonschema.validate(row, schema("check_zones"))
    for row in pit_records(check):
        jsonschema.validate(row, schema("check_pits"))


def test_each_zone_says_the_first_thing_to_do() -> None:
    told = check_zone_rows(small_check()).set_index("zone")["advice"]
    assert "10 km/h instead of 4" in told[1]
    assert told[1].startswith("Whole field: Drive")
    assert told[2] == told[1]  # a change that the whole field asks for, before more digging
    assert told[3] == ""
    check = small_check()
    assert first_advice(check, "99 cm", 99) == first_advice(check, "whole field", 99)


def test_a_depth_without_a_pit_says_so_where_nothing_is_asked() -> None:
    check = small_check()
    seen = check.groups["depth_cm"] != 40.0
    quiet = dataclasses.replace(check, advice=check.advice.iloc[:0], groups=check.groups[seen])
    told = check_zone_rows(quiet).set_index("zone")["advice"]
    assert told.to_dict() == {1: "", 2: "No pit at 40 cm counts yet.", 3: ""}


def test_to_locate_comes_before_what_a_zone_asks_of_its_pins() -> None:
    steps = [
        ("whole field", 1, "locate", "Have services located.", (1,)),
        ("whole field", 2, "dig", "Dig 2 more pits.", ()),
        ("35 cm", 1, "pins", "Check the pins.", (1, 2)),
    ]
    advice = pd.DataFrame(steps, columns=["where", "order", "step", "text", "zones"])
    check = dataclasses.replace(small_check(), advice=advice)
    assert first_advice(check, "35 cm", 1) == "Have services located."
    assert first_advice(check, "35 cm", 2) == "Check the pins."
    later = check.advice.iloc[[0]].assign(where=FIELD, step="next", text="Set it.", zones=[()])
    assert first_advice(dataclasses.replace(check, advice=later), "35 cm", 2) == ""


@pytest.mark.parametrize(("first", "second"), [("points", "speed"), ("speed", "points")])
def test_the_order_of_the_whole_fields_list_is_kept(first: str, second: str) -> None:
    """Points come before the speed where the plan warns of the foot; spacing of a depth after."""
    steps = [
        ("whole field", 1, first, "Do it first.", ()),
        ("whole field", 2, second, "Then this.", ()),
        ("35 cm", 1, "spacing", "Closer legs.", ()),
    ]
    advice = pd.DataFrame(steps, columns=["where", "order", "step", "text", "zones"])
    check = dataclasses.replace(small_check(), advice=advice)
    assert first_advice(check, "35 cm", 1) == "Whole field: Do it first."


def test_what_a_part_of_a_depth_asks_is_named_after_it_for_its_zones_alone() -> None:
    steps = [
        ("whole field", 1, "keep", "Change only 35 cm in the headland, as below.", ()),
        ("35 cm in the headland", 1, "depth", "Set 40 cm here.", (1,)),
    ]
    advice = pd.DataFrame(steps, columns=["where", "order", "step", "text", "zones"])
    check = dataclasses.replace(small_check(), advice=advice)
    assert first_advice(check, "35 cm", 1) == "35 cm in the headland: Set 40 cm here."
    assert first_advice(check, "35 cm", 2).startswith("Whole field: Change only 35 cm in the head")


def test_a_step_for_one_zone_stands_with_no_other_and_its_own_comes_before_the_field() -> None:
    check = small_check()
    advice = pd.DataFrame(
        [
            ("whole field", 1, "stop", "Stop: pit 1.", (2,)),
            ("whole field", 2, "dig", "Dig.", ()),
            ("35 cm", 1, "stop", "Stop: pit 1.", (2,)),
            ("35 cm", 2, "speed", "Drive.", ()),
            ("the lifted ground", 1, "look", "Look.", (3,)),
        ],
        columns=["where", "order", "step", "text", "zones"],
    )
    check = dataclasses.replace(check, advice=advice)
    assert first_advice(check, "35 cm", 2) == "Stop: pit 1."
    assert first_advice(check, "35 cm", 1) == "Drive."
    assert first_advice(check, "40 cm", 5) == "Whole field: Dig."
    assert first_advice(check, "0 cm", 3, alone=True) == "Look."
    assert first_advice(check, "0 cm", 4, alone=True) == ""
    wet = advice.assign(zones=[()] * 5)
    check = dataclasses.replace(check, advice=wet)
    assert first_advice(check, "40 cm", 5) == "Whole field: Stop: pit 1."
    swapped = advice.replace({"step": {"dig": "speed", "speed": "points"}})
    check = dataclasses.replace(check, advice=swapped)
    assert first_advice(check, "35 cm", 1) == "Whole field: Dig."  # the speed costs less
    dug = advice.assign(step=["points", "depth", "dig", "dig", "look"], zones=[()] * 5)
    check = dataclasses.replace(check, advice=dug)
    assert first_advice(check, "35 cm", 1) == "Whole field: Stop: pit 1."  # dig behind the change
    deeper = advice.replace({"step": {"dig": "speed", "speed": "depth"}})
    check = dataclasses.replace(check, advice=deeper)
    assert first_advice(check, "35 cm", 1) == "Whole field: Dig."  # and so it does here
    strip = advice.assign(step=["drive", "dig", "pins", "look", "look"])
    check = dataclasses.replace(
        check, advice=strip.assign(where=["whole field"] * 2 + ["35 cm"] * 3)
    )
    assert first_advice(check, "35 cm", 2) == "Stop: pit 1."  # a missed strip before the pins
    few = advice.assign(step=["look", "look", "dig", "so_far", "look"], zones=[(9,)] * 2 + [()] * 3)
    check = dataclasses.replace(check, advice=few)
    assert first_advice(check, "35 cm", 1) == "Stop: pit 1."  # its pits are too few to keep it
    left = swapped.replace({"step": {"stop": "left"}}).assign(zones=[(2,), (), (2,), (), (3,)])
    check = dataclasses.replace(check, advice=left)
    assert first_advice(check, "35 cm", 2) == "Whole field: Dig."  # as the list has it
    more = swapped.assign(step=["left", "look", "left", "dig", "look"]).assign(
        zones=[(2,), (9,), (7,), (), (3,)]
    )
    check = dataclasses.replace(check, advice=more)
    assert first_advice(check, "35 cm", 2) == "Stop: pit 1."  # its own pit before more digging
    assert first_advice(check, "35 cm", 1) == "Drive."


def test_places_to_dig_come_with_longitude_and_latitude() -> None:
    rows = dig_records(small_check())
    assert rows
    assert all(0.7 < row["lon"] < 0.9 and 52.6 < row["lat"] < 52.8 for row in rows)
    assert all("x_m" not in row for row in rows)


def test_cone_stations_keep_their_name_and_verdict() -> None:
    assert [(r["station"], r["verdict"]) for r in probe_records(small_check())] == [("<C1>", "pan")]
