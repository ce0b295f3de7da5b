"""Input that is wrong or thin: one clear message and no output, or a plan with its caution."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import zoning
from zoning.errors import PlanRefused
from zoning.model import Plan
from zoning.outputs.sheet.cautions import cautions

Rows = Callable[[pd.DataFrame], pd.DataFrame]


def set_toml(folder: Path, old: str, new: str) -> None:
    text = (folder / "field.toml").read_text()
    assert old in text
    (folder / "field.toml").write_text(text.replace(old, new))


def change_cone(folder: Path, change: Rows) -> None:
    table = pd.read_csv(folder / "cone.csv", dtype=str, keep_default_na=False)
    change(table).to_csv(folder / "cone.csv", index=False)


def without_pits(folder: Path) -> None:
    set_toml(folder, 'pits = "pits.csv"', "")


def planned(folder: Path) -> Plan:
    return zoning.make_plan(zoning.read_field(folder))


def codes(plan: Plan) -> set[str]:
    return {notice.code for notice in plan.notices}


def first_stations(count: int) -> Rows:
    return lambda table: table[
        table["station"].isin(sorted(table["station"].unique())[10 : 10 + count])
    ]


def with_cone_index(value: Callable[[float], float]) -> Rows:
    def change(table: pd.DataFrame) -> pd.DataFrame:
        index = [str(value(float(x))) if x else "" for x in table["cone_index_mpa"]]
        return table.assign(cone_index_mpa=index)

    return change


def stopped_at_20_cm(table: pd.DataFrame) -> pd.DataFrame:
    short = table[table["depth_cm"].astype(float) <= 20]
    hard = [f"{1 + float(depth) / 10:.2f}" for depth in short["depth_cm"]]
    return short.assign(refused="yes", cone_index_mpa=hard)


@pytest.mark.parametrize("count", [1, 2, 3])
def test_very_few_stations_give_a_plan_that_says_so(copied: Path, count: int) -> None:
    without_pits(copied)
    change_cone(copied, first_stations(count))
    plan = planned(copied)
    assert "few-stations" in codes(plan)
    assert plan.uncertain["area_ha"].sum() > 0.5 * plan.boundary.area / 1e4


@pytest.mark.parametrize("everywhere", [0.0, 2.5])
def test_readings_that_are_all_equal_say_nothing_of_a_pan(copied: Path, everywhere: float) -> None:
    without_pits(copied)
    change_cone(copied, with_cone_index(lambda _: everywhere))
    with pytest.raises(PlanRefused, match="dig a pit"):
        planned(copied)


def test_no_pan_anywhere_keeps_the_legs_out_and_says_that_loosening_is_not_called_for(
    copied: Path,
) -> None:
    without_pits(copied)
    change_cone(copied, with_cone_index(lambda mpa: min(mpa, 1.5)))
    plan = planned(copied)
    assert plan.zones["depth_cm"].max() == 0
    assert "loosening-not-called-for" in codes(plan)
    assert [notice.code for notice in plan.notices][1] == "no-pan-found"
    assert "no-base-read" not in codes(plan)
    assert not any("its depths say" in notice.text for notice in plan.notices)


def test_three_stations_without_a_pan_work_nothing_on_common_experience_alone(
    copied: Path,
) -> None:
    without_pits(copied)
    change_cone(copied, first_stations(3))
    change_cone(copied, with_cone_index(lambda mpa: min(mpa, 1.5)))
    plan = planned(copied)
    assert np.nanmax(plan.rasters["pan_probability"]) > 0.2
    assert plan.zones["depth_cm"].max() == 0
    assert "no-pan-found" in codes(plan)


def test_readings_that_were_all_refused_give_depths_below_the_refusal_and_a_caution(
    copied: Path,
) -> None:
    without_pits(copied)
    change_cone(copied, stopped_at_20_cm)
    plan = planned(copied)
    assert set(plan.insertions["verdict"]) == {"refused"}
    assert "no-base-read" in codes(plan)
    worked = plan.zones["depth_cm"] > 0
    assert plan.zones.loc[worked, "depth_cm"].min() > 20


def test_a_headland_wider_than_the_field_is_said(copied: Path) -> None:
    set_toml(copied, "headland_width_m = 24", "headland_width_m = 200")
    plan = planned(copied)
    assert not set(plan.parts["kind"]) & {"body"}
    assert any("headland" in notice.text for notice in plan.notices)


def test_a_machine_that_does_not_reach_the_pan_is_said(copied: Path) -> None:
    set_toml(copied, "depth_max_cm = 50", "depth_max_cm = 25")
    plan = planned(copied)
    assert plan.zones["depth_cm"].max() == 25
    assert any("deepest setting of 25 cm" in notice.text for notice in plan.notices)


def test_a_field_smaller_than_the_machine_is_one_zone_a_pass_with_a_caution(copied: Path) -> None:
    set_toml(copied, "legs = 7", "legs = 60")
    set_toml(copied, "leg_spacing_cm = 43", "leg_spacing_cm = 300")
    change_cone(copied, first_stations(1))
    without_pits(copied)
    place = pd.read_csv(copied / "cone.csv").iloc[0]
    west, south = place["lon"] - 0.0005, place["lat"] - 0.0003
    east, north = place["lon"] + 0.0005, place["lat"] + 0.0003
    corner = [[west, south], [east, south], [east, north], [west, north], [west, south]]
    outline = {"type": "Polygon", "coordinates": [corner]}
    (copied / "boundary.geojson").write_text(json.dumps(outline))
    plan = planned(copied)
    assert plan.zones.area.sum() == pytest.approx(plan.boundary.area)
    assert any("wider than" in notice.text for notice in plan.notices)


def test_stations_on_a_part_that_is_not_mapped_are_told(copied: Path) -> None:
    set_toml(copied, '[areas.wheelings]\nlines = "wheelings.geojson"', "")
    set_toml(copied, "width_m = 2.6", "")
    plan = planned(copied)
    told = [notice.text for notice in plan.notices if notice.code == "part-not-mapped"]
    assert len(told) == 1
    assert "wheeling" in told[0]
    assert told[0] in cautions(plan)  # of the sheet: who drives knows where wheels have run
    stations = plan.stations[plan.stations["part"] == "wheeling"]
    beside = [n.text for n in plan.notices if n.code == "base-not-followed"]
    for name in stations["station"]:
        assert name in told[0]
        assert not any(f"{name} by" in text for text in beside)
