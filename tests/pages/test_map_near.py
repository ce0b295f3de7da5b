"""Hazards within the error of a position: told first, and never less by a rougher position."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import geopandas as gpd
import numpy as np
import pyproj
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from pages.standing import PHONE, WATCH, stand

from zoning.contracts import constant, deepest_cm
from zoning.model import Plan

Opening = Callable[..., Any]
ACCURACIES_M = (1.0, 2.0, 4.0, 8.0, 12.0, 20.0, 20.5, 25.0, 31.0, 45.0, 80.0)
CLEAR_M = 3.0
TOLD_M = constant("map_rules", "edge_told_m")
ROUGH_M = 20.0  # more than this tells no depth

LINES = """([lat, lon, all]) => all.map((accuracy) => {
  answer({coords: {latitude: lat, longitude: lon, accuracy}});
  const text = (id) => { const one = document.getElementById(id);
    return one.hidden ? '' : one.innerText; };
  return ['here-off', 'here-depth', 'here-more', 'told'].map(text); })"""


@pytest.fixture(scope="module")
def buried(small: Plan) -> Plan:
    """A gas pipe and a drain of unknown cover under ground that is worked at 32.5 cm."""
    west, south, east, _ = small.boundary.bounds
    hazards = gpd.GeoDataFrame(
        {
            "kind": ["drain", "service"],
            "name": ["main", "gas pipe"],
            "depth_cm": [np.nan, np.nan],
            "clear_m": [CLEAR_M, CLEAR_M],
        },
        geometry=[
            shapely.LineString([(west, south + 112), (east, south + 112)]),
            shapely.LineString([(west + 185, south), (west + 185, south + 150)]),
        ],
        crs=small.hazards.crs,
    )
    return dataclasses.replace(
        small, hazards=hazards, zones=small.zones.assign(cleared=["located"] * 3)
    )


def figure(large: str) -> float:
    """The depth that a large line lets one work at [cm]; nothing where it tells none."""
    if large in ("KEEP OFF", "LIFT", "Too rough"):
        return {"Too rough": -1.0}.get(large, 0.0)
    found = re.search(r"([\d.]+) cm", large)
    return float(found[1]) if found else np.inf


def test_a_rougher_position_never_warns_less(opened: Opening, buried: Plan) -> None:
    page = opened(buried, **PHONE).page
    page.evaluate(WATCH)
    page.click("#position")
    to_lonlat = pyproj.Transformer.from_crs(buried.working_crs, "EPSG:4326", always_xy=True)
    west, south, *_ = buried.boundary.bounds
    drain, pipe = buried.hazards.geometry
    cap_cm = deepest_cm("drain", np.nan)

    @settings(max_examples=25, deadline=None)
    @given(st.floats(-10, 210), st.floats(-10, 160))
    def holds(x: float, y: float) -> None:
        at = shapely.Point(west + x, south + y)
        lon, lat = to_lonlat.transform(at.x, at.y)
        lines = page.evaluate(LINES, [lat, lon, ACCURACIES_M])
        named = [set(re.findall(r"H\d", off)) for off, *_ in lines]
        assert all(less <= more for less, more in pairwise(named))
        figures = [figure(large) for _, large, *_ in lines]
        assert figures == sorted(figures, reverse=True)
        worked = buried.zones.loc[buried.zones.contains(at), "depth_cm"].max()
        for accuracy_m, (off, large, _, told) in zip(ACCURACIES_M, lines, strict=True):
            reach_m = accuracy_m + TOLD_M - 0.3 + CLEAR_M  # 0.3 m for places on a round earth
            fine = accuracy_m <= ROUGH_M
            if at.distance(pipe) < reach_m:
                assert off.upper().startswith("KEEP OFF H2 SERVICE, GAS PIPE")
                assert told.startswith(off)
                assert large == ("KEEP OFF" if fine else "Too rough")
            if at.distance(drain) < reach_m and worked > cap_cm:
                assert "H1 drain, main" in off
                assert off in told
                assert figure(large) <= cap_cm

    holds()


def test_what_lies_within_the_error_stands_before_the_planned_depth(
    opened: Opening, buried: Plan
) -> None:
    """By hand: the pipe at 185 m with 3 m each side, the drain at 112 m; 25 cm is hole 5."""
    page = opened(buried, **PHONE).page
    west, south, *_ = buried.boundary.bounds

    def lines(x: float, y: float, accuracy_m: float) -> list[str]:
        stand(page, buried, shapely.Point(west + x, south + y), accuracy_m)
        return [page.locator(f"#here-{one}").inner_text() for one in ("off", "depth", "more")]

    off, large, more = lines(179, 70, 2)
    assert off == "Keep off H2 service, gas pipe: its keep-off begins 3 m away"
    assert large == "KEEP OFF"
    assert more.startswith("planned beside it: 32.5 cm, pin 8, zone 2")
    assert page.locator("#told").inner_text().startswith(f"{off}. Planned beside it: Zone 2: 32.5")
    for accuracy_m in (4, 20, 45):
        told = lines(179, 70, accuracy_m)[0]
        assert told.startswith("Keep off H2 service, gas pipe: you may be in its keep-off")
    off, large, more = lines(30, 108, 4)
    assert off == "H1 drain, main: no deeper than 25 cm, you may be over it"
    assert large.split("\n") == ["no deeper than", "25 cm", "(pin 5)"]
    assert more.startswith("planned beside it: 32.5 cm, pin 8, zone 2")
    assert page.locator("#told").inner_text().startswith(f"{off}. No deeper than 25 cm (pin 5). ")
    assert lines(100, 55, 4)[1] == "32.5 cm"
    assert page.locator("#here-off").is_hidden()
    stand(page, buried, shapely.Point(west + 100, south + 34), 4)
    also = "within 4 m also 37.5 cm (pin 10)"
    assert also in page.locator("#told").inner_text()


@pytest.mark.parametrize(
    ("width", "height"), [(390, 844), (844, 390), (667, 375), (568, 320), (1440, 900)]
)
def test_the_box_never_covers_the_position(
    opened: Opening, buried: Plan, width: int, height: int
) -> None:
    page = opened(buried, viewport={"width": width, "height": height}).page
    west, south, *_ = buried.boundary.bounds
    for x, y in ((179, 70), (60, 90), (150, 109)):
        stand(page, buried, shapely.Point(west + x, south + y), 12)
        left, top, right, bottom = page.evaluate(
            "(() => { const b = positionLayer.getLayers()[1].getElement().getBoundingClientRect();"
            " return [b.left, b.top, b.right, b.bottom]; })()"
        )
        box, ground = (page.locator(one).bounding_box() for one in ("#here", "#map"))
        here = shapely.box(box["x"], box["y"], box["x"] + box["width"], box["y"] + box["height"])
        assert not here.intersects(shapely.box(left, top, right, bottom))
        assert ground["x"] <= left < right <= ground["x"] + ground["width"]
        assert ground["y"] <= top < bottom <= min(height, ground["y"] + ground["height"])
        assert page.evaluate(
            "['here', 'here-off', 'here-depth'].every((id) => { const one = "
            "document.getElementById(id); return one.scrollWidth <= one.clientWidth + 1; })"
        )
        stop = page.locator("#here-stop").bounding_box()
        assert stop["x"] + stop["width"] <= box["x"] + box["width"]
        page.click("#here-stop")
