"""The overview of a batch in a real browser, without a network, on a desk and on a phone."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
import shapely

from zoning.batch.overview import overview_html

SIZES = {"desk": (1280, 900), "tablet": (820, 1180), "phone": (390, 844)}


def rows() -> list[dict[str, Any]]:
    """Three fields: one planned, one with an assumed machine and no fuel, one refused."""
    usual: dict[str, Any] = {
        "season": 2026, "plan_id": "a" * 64, "area_ha": 8.2, "stations": 37, "error": "",
        "worked_ha": 7.1, "lifted_h": 0.2, "lifted_fuel_l": 4.0, "cost": 321.5, "currency": "EUR",
        "priced": "fuel; labour", "machine": "Leg loosener",
        "depths": "0; 37.5; 40; 42.5; 45", "mean_depth_cm": 39.6, "loss_cm": 1.39,
        "single_depth_loss_cm": 1.67, "work_h": 4.1, "fuel_l": 230.0, "status": "planned",
        "cautions": "not-cleared; services-records", "seconds": 3.1, "peak_memory_mb": 300.0,
    }  # fmt: skip
    blank = dict.fromkeys(usual, None) | {"status": "refused", "cautions": "", "depths": ""}
    return [
        usual | {"field": "a", "name": "Long Meadow", "map": "a/plan/map.html"},
        usual | {"field": "b", "name": "Church Close", "map": "b/plan/map.html", "fuel_l": None,
                 "cautions": "assumed-machine", "mean_depth_cm": 36.0},
        blank | {"field": "c", "name": "", "map": "", "error": "cone.csv: row 7: depth is blank."},
    ]  # fmt: skip


@pytest.fixture(params=SIZES)
def page(request: pytest.FixtureRequest, laid: Callable[..., Any]) -> Any:
    outlines = [shapely.to_wkb(shapely.box(lon, 52.0, lon + 0.004, 52.002)) for lon in (0.1, 0.106)]
    return laid(overview_html(rows(), [*outlines, None]), *SIZES[request.param])


def test_it_asks_for_nothing_and_fits_the_screen(page: Any) -> None:
    assert len(page.asked) == 1
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    if page.viewport_size["width"] == 1280:
        assert page.evaluate(
            "(() => { const box = document.querySelector('.scroll'); "
            "return box.scrollWidth <= box.clientWidth; })()"
        )


def test_axe_finds_no_violation(page: Any, violations: Callable[[Any], list[Any]]) -> None:
    assert violations(page) == []


def test_a_finger_meets_every_link_and_the_caution_stays(page: Any) -> None:
    for link in page.locator("tbody a").all():
        box = link.bounding_box()
        assert min(box["width"], box["height"]) >= 44
    page.evaluate("scrollTo(0, 100000)")
    assert 0 <= page.locator(".warn").bounding_box()["y"] < 100


def test_on_a_phone_the_map_has_numbers_to_read_and_the_table_says_that_it_goes_on(
    page: Any,
) -> None:
    narrow = page.viewport_size["width"] < 640
    assert page.locator("svg .desk").first.is_visible() is not narrow
    number = page.locator("svg .phone").first
    assert number.is_visible() is narrow
    if narrow:
        assert number.bounding_box()["height"] >= 9
        mark = page.locator("td.stop strong").first.bounding_box()
        assert mark["x"] + mark["width"] <= 390
    assert page.locator(".more").is_visible() is (page.viewport_size["width"] < 960)
