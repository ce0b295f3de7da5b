"""The page of a check in a real browser, without a network: nothing asked for, axe-core content."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from outputs.small_check import small_check

from zoning.outputs.check.page import check_page

SIZES = {"desk": (1280, 800), "phone": (390, 844)}


@pytest.fixture(params=SIZES)
def page(request: pytest.FixtureRequest, browser: Any, tmp_path: Path) -> Iterator[Any]:
    path = tmp_path / "map.html"
    path.write_text(check_page(small_check()), encoding="utf-8")
    width, height = SIZES[request.param]
    context = browser.new_context(
        offline=True, viewport={"width": width, "height": height}, bypass_csp=True
    )
    opened = context.new_page()
    opened.asked = []
    opened.on("request", lambda asked: opened.asked.append(asked.url))
    opened.goto(path.as_uri())
    yield opened
    context.close()


def test_it_asks_for_nothing_and_fits_the_screen(page: Any) -> None:
    assert [url for url in page.asked if not url.startswith("file:")] == []
    assert len(page.asked) == 1
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_axe_finds_no_violation(page: Any) -> None:
    """axe-core 4 with all its rules, WCAG and best practice."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    told = [
        (found["id"], [node["html"][:120] for node in found["nodes"]])
        for found in axe.Axe().run(page).response["violations"]
    ]
    assert told == []
