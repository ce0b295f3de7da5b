"""Only plain files inside the field folder are opened."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import pytest
from readings.small_field import faults_of

from zoning.readings.files import is_folder, read_file
from zoning.readings.toml_file import read_settings


def test_a_file_is_read_and_hashed(tmp_path: Path) -> None:
    (tmp_path / "sub").mkdir()
    (tmp_path / "sub" / "a.csv").write_bytes(b"abc")
    blob = read_file(tmp_path, "sub/a.csv", "cone", 1)
    assert blob.data == b"abc"
    assert blob.record.sha256 == hashlib.sha256(b"abc").hexdigest()


@pytest.mark.parametrize(
    "name",
    [
        "/etc/passwd",
        "../secret.csv",
        "sub/../../secret.csv",
        "http://127.0.0.1/a.geojson",
        "/vsicurl/http://x/a",
        "/vsizip/a.zip",
        "C:\\a.csv",
        "\\\\host\\a.csv",
        "~/a.csv",
        "a\x00.csv",
        "",
        ".",
        "sub",
        "missing.csv",
    ],
)
def test_names_that_leave_the_folder_or_name_no_file(tmp_path: Path, name: str) -> None:
    field = tmp_path / "field"
    (field / "sub").mkdir(parents=True)
    (tmp_path / "secret.csv").write_text("secret")
    faults = faults_of(lambda: read_file(field, name, "cone", 1))
    assert len(faults) == 1
    assert "secret" not in faults[0].replace("secret.csv", "")


def test_links_out_of_the_folder_are_not_followed(tmp_path: Path) -> None:
    field = tmp_path / "field"
    field.mkdir()
    (tmp_path / "secret.csv").write_text("secret")
    (field / "link.csv").symlink_to(tmp_path / "secret.csv")
    (field / "loop.csv").symlink_to(field / "loop.csv")
    assert (
        "leaves the field folder" in faults_of(lambda: read_file(field, "link.csv", "cone", 1))[0]
    )
    assert "was not found" in faults_of(lambda: read_file(field, "loop.csv", "cone", 1))[0]


def test_pipes_empty_and_large_files_are_refused_at_once(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.csv")
    (tmp_path / "empty.csv").touch()
    with (tmp_path / "large.csv").open("wb") as stream:
        stream.truncate(2_000_001)
    assert "not a plain file" in faults_of(lambda: read_file(tmp_path, "pipe.csv", "cone", 1))[0]
    assert "is empty" in faults_of(lambda: read_file(tmp_path, "empty.csv", "cone", 1))[0]
    assert "larger than 2 MB" in faults_of(lambda: read_file(tmp_path, "large.csv", "cone", 2))[0]


def test_a_missing_file_names_the_nearest(tmp_path: Path) -> None:
    (tmp_path / "boundary.geojson").write_text("{}")
    assert (
        "Did you mean 'boundary.geojson'?"
        in faults_of(lambda: read_file(tmp_path, "boundry.geojson", "boundary", 1))[0]
    )
    other = faults_of(lambda: read_file(tmp_path, "hazards.geojson", "hazards", 1))[0]
    assert "Did you mean" not in other
    assert "delete the line" in other


@pytest.mark.parametrize(
    ("held", "words"),
    [
        (
            (),
            "Write one: the least that works stands in 'Use your own readings' (docs/howto/own_re",
        ),
        (("cone.csv", "pits.csv"), "The folder holds: cone.csv, pits.csv."),
        (("field.toml.txt", "fields.csv"), "Is it 'field.toml.txt'? Rename it to field.toml."),
        (("Field.toml",), "Is it 'Field.toml'? Rename it to field.toml."),
        (("feild.toml",), "Is it 'feild.toml'? Rename it to field.toml."),
        (("fields.csv", "machine.toml"), "Write one: "),
    ],
)
def test_a_missing_field_file_is_to_be_written_or_renamed(
    tmp_path: Path, held: tuple[str, ...], words: str
) -> None:
    for name in held:
        (tmp_path / name).write_text("x")
    (told,) = faults_of(lambda: read_settings(tmp_path))
    assert told.startswith("field.toml: The field file was not found in the field folder.")
    assert words in told
    assert "delete the line" not in told
    assert "holds: ." not in told


@pytest.mark.parametrize("name", ["nothing", "x" * 400, "a\x00b"])
def test_a_folder_that_cannot_be_is_no_folder(tmp_path: Path, name: str) -> None:
    assert not is_folder(tmp_path / name)
    assert is_folder(tmp_path)
