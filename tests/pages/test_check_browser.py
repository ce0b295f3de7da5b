"""The page of a check in a real browser, without a network: nothing asked for, axe-core content."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from outputs.small_check import small_check

from zoning.outputs.check.page import check_page

SIZES = {"desk": (1280, 800), "phone": (390, 844)}


@pytest.fixture(params=SIZES)
def page(request: pytest.FixtureRequest, laid: Callable[..., Any]) -> Any:
    return laid(check_page(small_check()), *SIZES[request.param])


def test_it_asks_for_nothing_and_fits_the_screen(page: Any) -> None:
    assert [url for url in page.asked if not url.startswith("file:")] == []
    assert len(page.asked) == 1
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_axe_finds_no_violation(page: Any, violations: Callable[[Any], list[Any]]) -> None:
    assert violations(page) == []


def test_the_map_fills_the_screen_and_a_caution_stays_in_sight(page: Any) -> None:
    width = page.viewport_size["width"]
    shown = [one for one in page.locator("section svg[role=img]").all() if one.is_visible()]
    box = shown[0].bounding_box()
    assert box["width"] >= 0.6 * width if width > 500 else box["width"] >= 0.9 * width
    line = page.locator("summary")
    for foot in (0, 100_000):
        page.evaluate(f"scrollTo(0, {foot})")
        seen = line.bounding_box()
        assert 0 <= seen["y"] < page.viewport_size["height"] / 4
        assert seen["height"] >= 44
    line.click()
    assert page.locator(".warn .all li").first.is_visible()
    cautions = sum(notice.level == "caution" for notice in small_check().notices)
    assert page.locator(".warn .all li").count() == cautions


def test_a_narrow_screen_can_have_the_larger_map(page: Any) -> None:
    if page.viewport_size["width"] > 640:
        assert page.locator("#larger").is_hidden()
        assert page.locator(".broad").is_visible()
        return
    assert page.locator(".broad").is_hidden()
    page.check("#larger")
    assert page.locator(".narrow").is_hidden()
    assert page.locator(".broad svg").bounding_box()["width"] > 2 * 390
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_paper_carries_every_caution(page: Any) -> None:
    page.emulate_media(media="print")
    listed = page.locator(".on-paper li")
    assert listed.count() == sum(n.level == "caution" for n in small_check().notices)
    assert listed.first.is_visible()
    assert page.locator("summary").is_hidden()
