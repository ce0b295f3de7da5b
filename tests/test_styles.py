"""The styles of the pages ask for nothing from elsewhere and show where the keyboard is."""

from __future__ import annotations

from importlib.resources import files

import pytest

from zoning.batch import style as batch
from zoning.outputs.check import style as check

ROOT = files("zoning")
STYLES = {
    "batch": batch.STYLE,
    "check": check.STYLE,
    "map page": ROOT.joinpath("outputs/map_page/assets/map.css").read_text(encoding="utf-8"),
    "review": ROOT.joinpath("review/static/review.css").read_text(encoding="utf-8"),
}


@pytest.mark.parametrize("page", STYLES)
def test_nothing_is_fetched_braces_are_even_and_focus_is_shown(page: str) -> None:
    style = STYLES[page]
    assert "url(" not in style
    assert "@import" not in style
    assert style.count("{") == style.count("}") > 0
    assert ":focus-visible" in style
    assert "@media print" in style
