"""``field.toml`` key by key."""

from __future__ import annotations

from pathlib import Path

import pytest
from readings.small_field import faults_of

from zoning.readings.toml_file import read_settings

GOOD = '[field]\nname = "A"\nboundary = "b.geojson"\n[readings]\ncone = "c.csv"\n'


def write(folder: Path, text: str, machine: str | None = None) -> Path:
    (folder / "field.toml").write_text(text, encoding="utf-8")
    if machine is not None:
        (folder / "machine.toml").write_text(machine, encoding="utf-8")
    return folder


def test_defaults_are_filled_in(tmp_path: Path) -> None:
    settings = read_settings(write(tmp_path, "\ufeff" + GOOD)).settings
    assert settings.field.name == "A"
    assert settings.depth.assurance == 0.8
    assert settings.areas.wheelings is None


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ("[depht]\n", "depht: This key is unknown. Did you mean 'depth'?"),
        ("limit_mp = 2\n", "readings.limit_mp: This key is unknown. Did you mean 'limit_mpa'?"),
        ('limit_mpa = "2"\n', 'readings.limit_mpa: Found "2". Needed: a number without quotes.'),
        ("limit_mpa = nan\n", "readings.limit_mpa: The value is not a finite number."),
        ("limit_mpa = 1e999\n", "readings.limit_mpa: The value is not a finite number."),
        ("limit_mpa = true\n", "readings.limit_mpa: Found true."),
        ("limit_mpa = 9\n", "Needed: a number at most 6"),
        (
            'cone_unit = "bar"\n',
            "readings.cone_unit: Found \"bar\". Needed: one of 'MPa', 'kPa' or 'psi'.",
        ),
        ("pits = 3\n", "readings.pits: Found 3. Needed: text in quotes."),
        ("pits = 2026-01-01\n", "readings.pits: Found"),
        ("[machine]\nlegs = 7.5\n", "machine.legs: Found 7.5. Needed: a whole number"),
        ("[machine]\nlegs = 0\n", "machine.legs: Found 0. Needed: a number at least 1."),
        (
            "[areas.wheelings]\nwidht_m = 3\n",
            "areas.wheelings.widht_m: This key is unknown. Did you mean 'width_m'?",
        ),
        ('[costs]\nmachine = "machine.toml"\n', "above the first [section]"),
        ("[readings]\n", "field.toml:6: This is not valid TOML"),
        ('cone = "d.csv"\n', "field.toml:6: This is not valid TOML"),
        ("pits = \n", "field.toml:6: This is not valid TOML"),
        ("limit_mpa = 2,5\n", "Write a decimal point: 2.5, not 2,5."),
        ("pits = \u201cd.csv\u201d\n", 'Write straight quotes: "text".'),
        ('pits = "a\\d.csv"\n', "Write / in the names of files"),
    ],
)
def test_a_fault_names_key_found_and_needed(tmp_path: Path, more: str, said: str) -> None:
    faults = faults_of(lambda: read_settings(write(tmp_path, GOOD + more)))
    assert len(faults) == 1
    assert said in faults[0]


def test_all_faults_come_at_once(tmp_path: Path) -> None:
    text = '[field]\nnam = "A"\n[machine]\nlegs = "7"\npoint = "round"\n'
    faults = faults_of(lambda: read_settings(write(tmp_path, text)))
    assert {f.split(": ")[1] for f in faults} == {
        "field.name", "field.nam", "field.boundary", "machine.legs", "machine.point",
    }  # fmt: skip


@pytest.mark.parametrize("machine", ["legs = 5\n", "[machine]\nlegs = 5\n"])
def test_a_machine_file_of_its_own(tmp_path: Path, machine: str) -> None:
    read = read_settings(write(tmp_path, 'machine = "machine.toml"\n' + GOOD, machine))
    assert read.settings.machine.legs == 5
    assert [f.role for f in read.files] == ["field", "machine"]


def test_faults_of_the_machine_file_bear_its_name(tmp_path: Path) -> None:
    folder = write(tmp_path, 'machine = "machine.toml"\n' + GOOD, "legs = 0\n")
    assert faults_of(lambda: read_settings(folder))[0].startswith("machine.toml: machine.legs")


def test_text_that_is_not_utf8_names_its_line(tmp_path: Path) -> None:
    (tmp_path / "field.toml").write_bytes(b'[field]\nname = "caf\xe9"\n')
    assert faults_of(lambda: read_settings(tmp_path))[0].startswith(
        "field.toml:2: The text is not UTF-8"
    )


def test_deep_nesting_is_refused(tmp_path: Path) -> None:
    faults = faults_of(lambda: read_settings(write(tmp_path, "a = " + "[" * 5000 + "]" * 5000)))
    assert len(faults) == 1
