"""A browser without a network, and pages opened from disk in it."""

from __future__ import annotations

import dataclasses
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd
import pytest
import shapely
from outputs.conftest import build_plan
from pages.large_plan import large_plan

from zoning.model import Notice, Plan
from zoning.outputs.map_page.page import map_html

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")

FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--disable-webgl", "--disable-webgl2",
]  # fmt: skip


@dataclasses.dataclass
class Opened:
    """A page, and what it asked for and complained of."""

    page: Any
    asked: list[str]
    complaints: list[str]

    def text(self, selector: str) -> str:
        return str(self.page.locator(selector).inner_text())


@pytest.fixture(scope="session")
def small() -> Plan:
    return build_plan()


@pytest.fixture(scope="session")
def large() -> Plan:
    return large_plan(build_plan())


@pytest.fixture(scope="session")
def gated(small: Plan) -> Plan:
    """The small plan with a gateway in which nothing was read, in the corner of zone 1."""
    west, south, *_ = small.boundary.bounds
    gate = shapely.box(west + 180, south, west + 200, south + 20)
    rest = small.parts.assign(geometry=small.parts.geometry.difference(gate))
    row = {"part": ["gateway"], "kind": ["gateway"], "area_ha": [0.04]}
    parts = gpd.GeoDataFrame(row, geometry=[gate], crs=small.parts.crs)
    told = Notice("caution", "part-guessed", "Guessed, no station read there: gateway.")
    usual = Notice("caution", "slopes", "On slopes consider gradient.")
    return dataclasses.replace(
        small,
        parts=gpd.GeoDataFrame(pd.concat([rest, parts], ignore_index=True), crs=parts.crs),
        notices=(usual, told, *small.notices),
        zones=small.zones.assign(cleared="located"),
    )


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    program = shutil.which("chromium")
    if program is None:
        pytest.skip("chromium is not installed: apt-get install chromium")
    with playwright.sync_playwright() as running:
        started = running.chromium.launch(executable_path=program, args=FLAGS)
        yield started
        started.close()


@pytest.fixture
def opened(browser: Any, tmp_path: Path) -> Iterator[Callable[..., Opened]]:
    """Return a function that writes the map of a plan and opens it from disk, offline."""
    contexts = []

    def opening(plan: Plan, **device: Any) -> Opened:
        path = tmp_path / "map.html"
        path.write_text(map_html(plan), encoding="utf-8")
        shape = {"viewport": {"width": 1280, "height": 800}} | device
        context = browser.new_context(offline=True, **shape)
        contexts.append(context)
        page = context.new_page()
        held = Opened(page, [], [])
        page.on("request", lambda request: held.asked.append(request.url))
        page.on("console", lambda said: held.complaints.append(said.text))
        page.on("pageerror", lambda fault: held.complaints.append(str(fault)))
        page.goto(path.as_uri())
        if device.get("java_script_enabled", True):
            page.wait_for_function("document.documentElement.dataset.ready === 'yes'", polling=50)
        return held

    yield opening
    for context in contexts:
        context.close()


@pytest.fixture
def laid(browser: Any, tmp_path: Path) -> Iterator[Callable[..., Any]]:
    """Return a function that opens a page without scripts from disk, offline, at a size."""
    contexts = []

    def laying(html: str, width: int, height: int) -> Any:
        path = tmp_path / "page.html"
        path.write_text(html, encoding="utf-8")
        context = browser.new_context(
            offline=True, viewport={"width": width, "height": height}, bypass_csp=True
        )
        contexts.append(context)
        page = context.new_page()
        page.asked = []
        page.on("request", lambda asked: page.asked.append(asked.url))
        page.goto(path.as_uri())
        return page

    yield laying
    for context in contexts:
        context.close()


@pytest.fixture(scope="session")
def violations() -> Callable[[Any], list[tuple[str, list[str]]]]:
    """Return a function that says what axe-core 4 with all its rules finds on a page."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")

    def found(page: Any) -> list[tuple[str, list[str]]]:
        return [
            (one["id"], [node["html"][:120] for node in one["nodes"]])
            for one in axe.Axe().run(page).response["violations"]
        ]

    return found
