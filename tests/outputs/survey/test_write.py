from __future__ import annotations

import json
from pathlib import Path

import pytest
from survey_drawn import drawn_survey

from zoning.errors import OutputFailed
from zoning.outputs import SURVEY_FILES, write_survey
from zoning.outputs.survey.write import SURVEY_MARK

ALL = {*SURVEY_FILES, SURVEY_MARK}


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_every_file_is_written_and_the_same_again(tmp_path: Path) -> None:
    told: list[str] = []
    paths = write_survey(drawn_survey(), tmp_path / "one", progress=told.append)
    write_survey(drawn_survey(), tmp_path / "two")
    assert {path.name for path in paths} == ALL
    assert set(told) == set(SURVEY_FILES)
    assert contents(tmp_path / "one") == contents(tmp_path / "two")


def test_an_untouched_survey_is_replaced(tmp_path: Path) -> None:
    write_survey(drawn_survey(), tmp_path / "survey")
    write_survey(drawn_survey(name="Other"), tmp_path / "survey")
    assert json.loads((tmp_path / "survey" / SURVEY_MARK).read_bytes())["field"] == "Other"


@pytest.mark.parametrize("name", ["stations.csv", "pit_form.csv"])
def test_a_form_that_was_filled_in_is_never_lost(tmp_path: Path, name: str) -> None:
    folder = tmp_path / "survey"
    write_survey(drawn_survey(), folder)
    form = folder / name
    form.write_bytes(form.read_bytes().replace(b"S02", b"S99").replace(b"P01", b"P99"))
    before = contents(folder)
    with pytest.raises(OutputFailed, match=f"holds {name} changed"):
        write_survey(drawn_survey(), folder)
    assert contents(folder) == before


def test_other_files_are_never_lost(tmp_path: Path) -> None:
    folder = tmp_path / "survey"
    write_survey(drawn_survey(), folder)
    (folder / "cone.csv").write_text("station\n")
    with pytest.raises(OutputFailed, match=r"cone\.csv, which would be lost"):
        write_survey(drawn_survey(), folder)
    (tmp_path / "field").mkdir()
    (tmp_path / "field" / "field.toml").write_text("[field]\n")
    with pytest.raises(OutputFailed, match=r"no survey\.json"):
        write_survey(drawn_survey(), tmp_path / "field")


def test_a_mark_that_cannot_be_read_is_refused(tmp_path: Path) -> None:
    folder = tmp_path / "survey"
    write_survey(drawn_survey(), folder)
    (folder / SURVEY_MARK).write_text("{}")
    with pytest.raises(OutputFailed, match="cannot be told whether a form"):
        write_survey(drawn_survey(), folder)
