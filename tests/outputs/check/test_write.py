"""A check folder appears whole or not at all, the same bytes for the same check."""

from __future__ import annotations

import json
from pathlib import Path

import csvw
import pandas as pd
import pytest
from outputs.small_check import small_check

from zoning.errors import OutputFailed
from zoning.outputs.check import write as check_write
from zoning.outputs.check.write import CHECK_WRITERS, refuse_foreign_check, write_check


def test_two_runs_write_the_same_bytes(tmp_path: Path) -> None:
    for name in ("a", "b"):
        write_check(small_check(), tmp_path / name)
    assert sorted(p.name for p in (tmp_path / "a").iterdir()) == sorted(CHECK_WRITERS)
    for name in CHECK_WRITERS:
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes(), name


def test_the_csv_opens_by_its_own_description(tmp_path: Path) -> None:
    write_check(small_check(), tmp_path / "check")
    table = csvw.CSVW(str(tmp_path / "check" / "check.csv-metadata.json"), validate=True)
    assert table.is_valid
    frame = pd.read_csv(tmp_path / "check" / "check.csv")
    assert frame["verdict"].tolist() == ["leg_only", "cannot_tell", "lifted_out"]
    assert frame["more_pits"].tolist() == [0, 3, 0]


def test_an_earlier_check_is_replaced_and_other_folders_are_refused(tmp_path: Path) -> None:
    write_check(small_check(), tmp_path / "check")
    refuse_foreign_check(tmp_path / "check")
    write_check(small_check(ridge_cm=3.0), tmp_path / "check")
    document = json.loads((tmp_path / "check" / "check.json").read_text())
    assert document["groups"][0]["evenness"] == "even"
    other = tmp_path / "letters"
    other.mkdir()
    (other / "letter.txt").write_text("keep me")
    with pytest.raises(OutputFailed, match=r"no check\.json"):
        refuse_foreign_check(other)
    with pytest.raises(OutputFailed):
        write_check(small_check(), other)
    assert (other / "letter.txt").read_text() == "keep me"


def test_a_failure_leaves_the_earlier_check(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_check(small_check(), tmp_path / "check")
    before = (tmp_path / "check" / "check.json").read_bytes()

    def fails(_check: object, _path: Path) -> None:
        raise OSError("the disk is full")

    monkeypatch.setattr(check_write, "CHECK_WRITERS", {**CHECK_WRITERS, "check.geojson": fails})
    with pytest.raises(OutputFailed, match="the disk is full"):
        write_check(small_check(ridge_cm=3.0), tmp_path / "check")
    assert (tmp_path / "check" / "check.json").read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["check"]
