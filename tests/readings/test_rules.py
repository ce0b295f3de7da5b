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


def test_without_a_near_name_all_are_listed() -> None:
    assert suggest("zzz", ["lon", "lat"]) == "Allowed: lat, lon."


def test_a_long_list_of_names_is_cut_and_counted() -> None:
    assert listed(["a", "b"]) == "a, b"
    assert listed([str(i) for i in range(40)]).endswith(" and 30 more")
