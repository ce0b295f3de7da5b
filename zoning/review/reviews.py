"""One review a pit or zone: its identifier follows from what it is about."""

from __future__ import annotations

import uuid

_SPACE = uuid.UUID("d0b5f6f6-0f0e-5b3b-8a43-6f6a5d6f1c1d")


def review_id(season: int, about: str, about_id: str) -> str:
    """Return the record of the review of a pit or a zone."""
    return uuid.uuid5(_SPACE, f"{season}|{about}|{about_id}").hex
