"""The table of limits and the nearest-name remedy."""

from __future__ import annotations

import re

import pytest
from readings.small_field import ROOT

from zoning.contracts import rows
from zoning.readings.rules import listed, nearest, rule, suggest


def test_every_limit_in_the_code_stands_in_the_table_and_every_row_is_used() -> None:
    source = "".join(p.read_text(encoding="utf-8") for p in (ROOT / "zoning/readings").glob("*.py"))
    used = set(re.findall(r'rule\("(\w+)"\)', source))
    assert used == {row["name"] for row in rows("readings_rules")}


def test_an_unknown_limit_is_an_error() -> None:
    with pytest.raises(KeyError, match="no_such_limit"):
        rule("no_such_limit")


@pytest.mark.parametrize(
    ("name", "found"),
    [
        ("statoin", "station"),
        ("Station", "station"),
        ("LAT ", "lat"),
        ("Statoin (m)", "station"),
        ("zzz", None),
    ],
)
def test_the_nearest_name(name: str, found: str | None) -> None:
    assert nearest(name, ["lat", "lon", "station"]) == found


PIT = ("pit", "phase", "date", "lon", "lat", "easting", "northing", "part", "pan", "pan_top_cm",
       "pan_base_cm", "structure_score", "moisture", "loosened_at_leg_cm", "loosened_between_cm",
       "speed_km_h", "photo", "note")  # fmt: skip


@pytest.mark.parametrize(
    ("name", "found"),
    [
        ("base", "pan_base_cm"), ("Base (cm)", "pan_base_cm"), ("bottom", "pan_base_cm"),
        ("top", "pan_top_cm"), ("pan top", "pan_top_cm"), ("date", "date"), ("day", "date"),
        ("score", "structure_score"), ("speed", "speed_km_h"), ("leg", "loosened_at_leg_cm"),
        ("between", "loosened_between_cm"), ("remarks", "note"), ("pahse", "phase"),
        ("pti", "pit"), ("place", None), ("after", None), ("mpa", None), ("cm", None),
    ],
)  # fmt: skip
def test_a_short_word_of_the_trade_is_taken_for_the_column_that_holds_it(
    name: str, found: str | None
) -> None:
    assert nearest(name, PIT) == found


def test_of_columns_alike_the_one_in_the_units_of_the_project_is_named() -> None:
    columns = ["depth_in", "depth_mm", "depth_cm", "cone_index_psi", "cone_index_mpa"]
    assert nearest("depth", columns) == "depth_cm"
    assert nearest("cone index", columns) == "cone_index_mpa"


def test_without_a_near_name_all_are_listed() -> None:
    assert suggest("zzz", ["lon", "lat"]) == "Allowed: lat, lon."


def test_a_long_list_of_names_is_cut_and_counted() -> None:
    assert listed(["a", "b"]) == "a, b"
    assert listed([str(i) for i in range(40)]).endswith(" and 30 more")
