from __future__ import annotations

import re
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from zoning import workflow
from zoning.cli import main
from zoning.cli.survey_summary import survey_summary

SAMPLE = Path(__file__).parents[2] / "sample_data" / "teasel_piece"


@pytest.fixture
def bare(tmp_path: Path) -> Path:
    folder = tmp_path / "field"
    shutil.copytree(
        SAMPLE, folder, ignore=shutil.ignore_patterns("truth", "plan", "records*", "survey")
    )
    text = (folder / "field.toml").read_text(encoding="utf-8")
    kept = [x for x in text.splitlines() if not x.startswith(("cone =", "pits ="))]
    (folder / "field.toml").write_text("\n".join(kept), encoding="utf-8")
    return folder


def run(*words: str) -> tuple[int, str]:
    shown = CliRunner().invoke(main, ["survey", *words])
    return shown.exit_code, shown.output


def test_a_first_survey_by_precision(bare: Path) -> None:
    status, text = run(str(bare), "--precision", "3")
    assert status == 0
    for words in ("first survey", "n = (t s / e)^2", "coefficient of variation", "field capacity"):
        assert words in text
    assert {"stations.csv", "stations.geojson", "stations.gpx", "pit_form.csv"} <= {
        path.name for path in (bare / "survey").iterdir()
    }


def test_next_stations_tell_their_worth(tmp_path: Path) -> None:
    status, text = run(str(SAMPLE), "--stations", "3", "--out", str(tmp_path / "s"))
    assert status == 0
    explained = ("1 cm ha is a centimetre of loss", "legs lifted out (0 cm)")
    for words in (
        *explained,
        "next stations (",
        " and 7 pits there already",
        "working depth changes on",
        "L of fuel",
        "EUR",
    ):
        assert words in text


def test_stations_that_change_nothing_are_told_as_such(tmp_path: Path) -> None:
    wish = workflow.Wish(stations=2, precision_cm=None, station_cost=None, seed=1)
    survey = workflow.propose_stations(workflow.read_for_survey(SAMPLE), wish)
    words = "No station is expected to change a depth"
    assert words not in survey_summary(survey, [], tmp_path)
    nothing = replace(survey, facts={**survey.facts, "change_area_ha": 0.004})
    assert words in survey_summary(nothing, [], tmp_path)


def test_a_tractor_too_weak_has_no_worth_in_money(tmp_path: Path) -> None:
    folder = tmp_path / "field"
    shutil.copytree(
        SAMPLE, folder, ignore=shutil.ignore_patterns("truth", "plan", "records*", "survey")
    )
    text = (folder / "field.toml").read_text(encoding="utf-8")
    weak = re.sub(r"(?m)^pto_power_kw *=.*$", "pto_power_kw = 60", text)
    assert weak != text
    (folder / "field.toml").write_text(weak, encoding="utf-8")
    status, told = run(str(folder), "--stations", "2")
    assert status == 0
    assert "nan" not in told.lower()
    assert re.search(r"no worth in money: the tractor is too weak for [\d., ]+ cm", told)
    assert "null" not in (folder / "survey" / "survey.json").read_text().partition("notices")[0]
    status, told = run(str(folder), "--stations", "2", "--station-cost", "4")
    assert status == 1
    assert "the tractor is too weak for" in told
    assert "Leave out --station-cost" in told


def test_every_station_there_is_counted_and_those_not_used_are_told(tmp_path: Path) -> None:
    wish = workflow.Wish(stations=2, precision_cm=None, station_cost=None, seed=1)
    inputs = workflow.read_for_survey(SAMPLE)
    survey = workflow.propose_stations(inputs, wish)
    used = int((survey.taken["kind"] == "cone").sum())
    read = inputs.cone["station"].nunique()
    idle = int(survey.facts["stations_not_used"])
    assert used + idle == read
    told = survey_summary(survey, [], tmp_path)
    assert f"next stations ({read} stations and 7 pits there already" in told
    assert (f"; {idle} of the stations not used: a pit outranks" in told) == (idle > 0)
    more = replace(survey, facts={**survey.facts, "stations_not_used": idle + 2})
    told = survey_summary(more, [], tmp_path)
    assert f"({read + 2} stations and 7 pits there already; {idle + 2} of the stations not" in told


def test_a_field_without_parts_is_told_what_that_means(bare: Path) -> None:
    text = (bare / "field.toml").read_text(encoding="utf-8")
    kept = text.split("[areas]")[0] + "[hazards]\n" + text.split("[hazards]\n")[1]
    assert "no headland" not in run(str(bare), "--stations", "8", "--out", str(bare / "a"))[1]
    (bare / "field.toml").write_text(kept, encoding="utf-8")
    assert "no headland" in run(str(bare), "--stations", "8", "--out", str(bare / "b"))[1]


def test_quiet_prints_nothing(bare: Path) -> None:
    assert run(str(bare), "--stations", "8", "--quiet") == (0, "")


@pytest.mark.parametrize(
    "words", [[], ["--stations", "5", "--precision", "2"], ["--stations", "0"], ["--seed", "x"]]
)
def test_wrong_usage_ends_with_two(bare: Path, words: list[str]) -> None:
    assert run(str(bare), *words)[0] == 2
    assert not (bare / "survey").exists()


def test_a_filled_in_form_is_refused_with_a_remedy(bare: Path) -> None:
    assert run(str(bare), "--stations", "8", "--quiet")[0] == 0
    form = bare / "survey" / "stations.csv"
    form.write_text(form.read_text(encoding="utf-8") + "x\n", encoding="utf-8")
    status, text = run(str(bare), "--stations", "8")
    assert status == 1
    assert "filled in" in text
    assert "--out" in text


def test_a_missing_folder_is_refused(tmp_path: Path) -> None:
    status, text = run(str(tmp_path / "none"), "--stations", "5")
    assert status == 1
    assert "no such folder" in text
