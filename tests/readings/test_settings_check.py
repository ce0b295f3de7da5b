"""Keys that are sound one by one but not together."""

from __future__ import annotations

from pathlib import Path

import pytest
from readings.small_field import faults_of

from zoning.model import Notice
from zoning.model.settings import MachineSection
from zoning.readings.settings_check import machine_notices, settings_notices
from zoning.readings.toml_file import read_settings

GOOD = '[field]\nname = "A"\nboundary = "b.geojson"\n[readings]\ncone = "c.csv"\n'


def test_the_travel_heading_serves_wheelings_without_one_of_their_own(tmp_path: Path) -> None:
    more = "[machine]\ntravel_heading_deg = 14\n[areas.wheelings]\nspacing_m = 24\n"
    (tmp_path / "field.toml").write_text(GOOD + more)
    settings = read_settings(tmp_path).settings
    assert settings.areas.wheelings.heading_deg is None
    assert settings.machine.travel_heading_deg == 14


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ("[machine]\ndepth_min_cm = 40\ndepth_max_cm = 30\n", "deeper than depth_max_cm"),
        ("[machine]\nfoot_width_cm = 50\n", "not below leg_spacing_cm"),
        ('[machine]\npoint = "winged"\nwing_width_cm = 3\n', "less than foot_width_cm"),
        ("[areas.wheelings]\n", "Neither lines nor heading_deg with spacing_m"),
        ("[areas.wheelings]\nheading_deg = 3\n", "Neither lines nor heading_deg with spacing_m"),
        ("[areas.wheelings]\nspacing_m = 24\n", "travel_heading_deg under [machine]"),
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
        ("[machine]\nwing_width_cm = 25\n", "wing-width-unused"),
    ],
)
def test_what_should_be_known_is_told(tmp_path: Path, more: str, code: str) -> None:
    (tmp_path / "field.toml").write_text(GOOD + more)
    assert [n.code for n in settings_notices(read_settings(tmp_path).settings)] == [code]


WHOLE = (
    "legs = 5\nleg_spacing_cm = 50\nfoot_width_cm = 7\npoint = 'plain'\ndepth_min_cm = 20\n"
    "depth_max_cm = 40\ndepth_step_cm = 5\ndepth_control = 'pins'\nframe = 'v'\n"
    "row_gap_cm = 80\nspeed_km_h = 6\n"
)


def told_of(folder: Path, machine: str) -> list[Notice]:
    (folder / "field.toml").write_text(GOOD + f"[machine]\n{machine}", encoding="utf-8")
    read = read_settings(folder)
    return list(machine_notices(read.settings.machine, read.machine_keys))


def test_a_machine_given_in_part_names_what_is_left_out_and_what_is_assumed(tmp_path: Path) -> None:
    (told,) = told_of(tmp_path, WHOLE.replace("depth_step_cm = 5\n", "").replace("row_gap", "#"))
    assert (told.level, told.code) == ("caution", "assumed-in-part")
    assert "these are assumed: depth_step_cm (2.5), row_gap_cm (90)." in told.text
    assert told.keys == ("depth_step_cm", "row_gap_cm")
    (told,) = told_of(tmp_path, WHOLE.replace("speed_km_h = 6\n", ""))
    assert (told.level, "speed_km_h (8)" in told.text) == ("note", True)
    winged = WHOLE.replace("'plain'", "'winged'")
    (told,) = told_of(tmp_path, winged)
    assert (told.level, told.keys) == ("note", ("wing_width_cm",))
    assert "these are assumed: wing_width_cm (the foot alone)." in told.text
    assert told.text.endswith(
        "under [machine]: draft, power and the ridge between legs rest on them."
    )
    assert told_of(tmp_path, winged + "wing_width_cm = 20\n") == []
    (told,) = told_of(tmp_path, "name = 'mine'\n")
    assert all(f"{key} (" in told.text for key in ("legs", "depth_min_cm", "depth_control"))


def test_a_machine_given_whole_or_not_at_all_is_not_told_in_part(tmp_path: Path) -> None:
    assert told_of(tmp_path, WHOLE) == []
    assert told_of(tmp_path, WHOLE.replace("'v'", "'straight'").replace("row_gap", "#")) == []
    assert told_of(tmp_path, "travel_heading_deg = 12\n") == []
    assert list(machine_notices(MachineSection(), frozenset())) == []


def test_a_machine_file_of_its_own_is_told_in_part_too(tmp_path: Path) -> None:
    (tmp_path / "field.toml").write_text('machine = "m.toml"\n' + GOOD, encoding="utf-8")
    (tmp_path / "m.toml").write_text(WHOLE.replace("legs = 5\n", ""), encoding="utf-8")
    read = read_settings(tmp_path)
    (told,) = machine_notices(read.settings.machine, read.machine_keys)
    assert "legs (7)" in told.text
