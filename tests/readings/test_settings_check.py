"""Keys that are sound one by one but not together."""

from __future__ import annotations

from pathlib import Path

import pytest
from readings.small_field import faults_of

from zoning.readings.settings_check import settings_notices
from zoning.readings.toml_file import read_settings

GOOD = '[field]\nname = "A"\nboundary = "b.geojson"\n[readings]\ncone = "c.csv"\n'


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ("[machine]\ndepth_min_cm = 40\ndepth_max_cm = 30\n", "deeper than depth_max_cm"),
        (
            "[machine]\ndepth_min_cm = 32\ndepth_max_cm = 34\ndepth_step_cm = 10\n",
            "No depth on a step",
        ),
        ("[machine]\nfoot_width_cm = 50\n", "not below leg_spacing_cm"),
        ('[machine]\npoint = "winged"\nwing_width_cm = 3\n', "less than foot_width_cm"),
        ("[areas.wheelings]\n", "Neither lines nor heading_deg with spacing_m"),
        ("[areas.wheelings]\nheading_deg = 3\n", "Neither lines nor heading_deg with spacing_m"),
        (
            '[areas.wheelings]\nlines = "l.geojson"\nheading_deg = 3\nspacing_m = 24\n',
            "Both lines and a heading",
        ),
        ("[areas.wheelings]\nheading_deg = 3\nspacing_m = 2\n", "not below spacing_m"),
        ('cone_after = "c.csv"\n', "named as cone and as cone_after"),
        ('pits = ["p.csv", "p.csv"]\n', "is named twice"),
        ("pits = []\n", "The list is empty"),
        ('crs = "+proj=utm +zone=30 +nadgrids=/etc/passwd"\n', "names no coordinate system"),
        ('crs = "http://127.0.0.1/crs"\n', "names no coordinate system"),
    ],
)
def test_contradictions_are_refused(tmp_path: Path, more: str, said: str) -> None:
    (tmp_path / "field.toml").write_text(GOOD + more)
    assert any(said in fault for fault in faults_of(lambda: read_settings(tmp_path)))


@pytest.mark.parametrize(
    "more",
    [
        "[machine]\ndepth_min_cm = 38\ndepth_max_cm = 38\n",  # a machine of one depth
        "[areas.wheelings]\nheading_deg = -12.5\nspacing_m = 24\n",
        'crs = "EPSG:27700"\n',
    ],
)
def test_what_is_odd_but_possible_passes(tmp_path: Path, more: str) -> None:
    (tmp_path / "field.toml").write_text(GOOD + more)
    assert settings_notices(read_settings(tmp_path).settings) == []


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ('[machine]\npoint = "winged"\n', "wing-width-missing"),
        ("[machine]\nwing_width_cm = 25\n", "wing-width-unused"),
        ('[hazards]\nservices = "located"\n', "services-reference-missing"),
    ],
)
def test_what_should_be_known_is_told(tmp_path: Path, more: str, code: str) -> None:
    (tmp_path / "field.toml").write_text(GOOD + more)
    assert [n.code for n in settings_notices(read_settings(tmp_path).settings)] == [code]
