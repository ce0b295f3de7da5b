"""The words on ground that is not cleared, and their silence where all of it is."""

from __future__ import annotations

import pandas as pd

from zoning.model import Settings
from zoning.model.settings import FieldSection, HazardsSection
from zoning.outputs.cleared import kept_back_words, not_cleared_line, not_cleared_words
from zoning.outputs.write import KNOWN

ZONES = pd.DataFrame(
    {"cleared": ["NOT CLEARED", "not deeper than notice depth"], "area_ha": [0.654, 2.0]}
)
SETTINGS = Settings(
    field=FieldSection(name="F", boundary="b.geojson"), hazards=HazardsSection(notice_depth_cm=37.5)
)


def test_the_band_names_the_notice_depth_of_the_field() -> None:
    line = not_cleared_line(ZONES, SETTINGS)
    assert line == "NOT CLEARED deeper than 37.5 cm: services not located"
    assert not_cleared_line(ZONES.iloc[1:], SETTINGS) == ""


def test_how_much_of_the_field_is_counted() -> None:
    words = not_cleared_words(ZONES, SETTINGS)
    assert words.startswith("NOT CLEARED: 1 of 2 zones, 0.65 ha. Deeper than 37.5 cm")
    assert not_cleared_words(ZONES.iloc[1:], SETTINGS) == ""


def test_what_holds_depths_without_the_words_is_named() -> None:
    words = kept_back_words(ZONES, SETTINGS)
    assert words.startswith(not_cleared_words(ZONES, SETTINGS))
    silent = [name for name in KNOWN if name.endswith((".csv", ".tif")) and name in words]
    assert sorted(silent) == ["depth_grid.csv", "depth_passes.csv", "pan_surface.tif"]
    assert kept_back_words(ZONES.iloc[1:], SETTINGS) == ""
