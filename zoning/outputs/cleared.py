"""The words on ground where buried services were not located, the same on every page."""

from __future__ import annotations

import pandas as pd

from zoning.contracts import NOT_CLEARED
from zoning.model import Settings


def not_cleared_line(zones: pd.DataFrame, settings: Settings) -> str:
    """Return the words of the black band; nothing where no zone is marked.

    Parameters
    ----------
    zones
        ``cleared, area_ha`` of each zone.
    settings
        The settings, for the notice depth.
    """
    if not (zones["cleared"] == NOT_CLEARED).any():
        return ""
    notice = settings.hazards.notice_depth_cm
    return f"{NOT_CLEARED} deeper than {notice:g} cm: services not located"


def not_cleared_words(zones: pd.DataFrame, settings: Settings) -> str:
    """Return how much of the field is not cleared; nothing where all of it is."""
    held = zones[zones["cleared"] == NOT_CLEARED]
    if held.empty:
        return ""
    notice = settings.hazards.notice_depth_cm
    return (
        f"{NOT_CLEARED}: {len(held)} of {len(zones)} zones, {held['area_ha'].sum():.2f} ha. "
        f"Deeper than {notice:g} cm, and buried services were not located on the ground: do not "
        "go that deep before they are."
    )


def kept_back_words(zones: pd.DataFrame, settings: Settings) -> str:
    """Return how much is not cleared and which files do not say so; nothing where all of it is."""
    words = not_cleared_words(zones, settings)
    return words and (
        f"{words} Until then keep back depth_grid.csv, depth_passes.csv and pan_surface.tif, and "
        "the depth cut out of it: they hold depths without these words."
    )
