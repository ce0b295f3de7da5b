"""The style of the overview asks for nothing from elsewhere and shows where the keyboard is."""

from __future__ import annotations

from zoning.batch.style import STYLE


def test_nothing_is_fetched() -> None:
    assert "url(" not in STYLE
    assert "@import" not in STYLE


def test_braces_are_even_and_focus_is_shown() -> None:
    assert STYLE.count("{") == STYLE.count("}")
    assert ":focus-visible" in STYLE
    assert "@media print" in STYLE
