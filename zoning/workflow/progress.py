"""How long work tells where it is."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[str], None]


def silent(_step: str) -> None:
    """Tell nobody."""
