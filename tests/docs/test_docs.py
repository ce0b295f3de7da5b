"""The documentation says what is true: code runs, commands and links exist, messages come."""

from __future__ import annotations

import ast
import csv
import dataclasses
import importlib.util
import json
import re
import shlex
import shutil
from collections.abc import Callable, Iterator
from functools import lru_cache
from pathlib import Path
from types import ModuleType

import click
import numpy as np
import openpyxl
import pytest
from click.testing import CliRunner

import zoning
from zoning.cli import COMMANDS, main
from zoning.errors import InputRefused
from zoning.outputs import KNOWN
from zoning.workflow import check_work

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
SAMPLE = ROOT / "sample_data" / "teasel_piece"
PAGES = sorted(path for path in DOCS.rglob("*.rst") if "_made" not in path.parts)
README = ROOT / "README.md"


def text(path: Path) -> str:
    return path.read_text(encoding="utf-8")


def blocks(path: Path, language: str) -> list[str]:
    """Return the code blocks of one language, their indent taken off."""
    if path.suffix == ".md":
        return re.findall(rf"```{language}\n(.*?)```", text(path), flags=re.DOTALL)
    found = re.findall(
        rf"^\.\. code-block:: {language}\n\n((?:(?:   .*)?\n)+)", text(path), flags=re.MULTILINE
    )
    return [re.sub(r"^   ", "", block, flags=re.MULTILINE) for block in found]


@lru_cache
def module(name: str) -> ModuleType:
    """Return a module of the documentation folder, which is no package."""
    spec = importlib.util.spec_from_file_location(name, DOCS / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    return made


@pytest.fixture(scope="module")
def plan() -> zoning.model.Plan:
    return zoning.make_plan(zoning.read_field(SAMPLE))


# Code


def given() -> dict[str, object]:
    """Return what pages speak of without making it: ten readings and two places."""
    rng = np.random.default_rng(1)
    return {
        "xy_m": rng.uniform(0, 100, (10, 2)),
        "base_cm": rng.normal(32, 3, 10),
        "error_sd_cm": np.full(10, 1.5),
        "parts": ["body", "headland"] * 5,
        "places_m": np.array([[10.0, 10.0], [50.0, 50.0]]),
        "their_parts": ["body", "headland"],
    }


@pytest.mark.parametrize(
    "page", [page for page in PAGES if blocks(page, "python")], ids=lambda path: path.stem
)
def test_python_shown_runs(
    page: Path, plan: zoning.model.Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown = blocks(page, "python")
    (tmp_path / "sample_data").symlink_to(ROOT / "sample_data")
    if any("teasel_plan" in block for block in shown) and "write_plan" not in "".join(shown):
        zoning.write_plan(plan, tmp_path / "teasel_plan")
    monkeypatch.chdir(tmp_path)
    names = given()
    for block in shown:
        exec(compile(ast.parse(block), str(page), "exec"), names)  # noqa: S102 - our own pages
    said = "".join(shown)
    assert ("teasel_plan" in said) == (tmp_path / "teasel_plan" / "plan.json").exists()


def test_the_readme_shows_the_python_of_the_reference() -> None:
    assert blocks(README, "python")
    assert set(blocks(README, "python")) <= {
        block.rstrip("\n") + "\n" for block in blocks(DOCS / "reference/python.rst", "python")
    }


@pytest.mark.parametrize("page", [README, *PAGES], ids=lambda path: path.stem)
def test_toml_shown_is_accepted(page: Path, tmp_path: Path) -> None:
    import tomllib  # noqa: PLC0415

    schema = json.loads(text(ROOT / "shared/schemas/field.schema.json"))
    known = {
        f"{section}.{key}"
        for section, ref in schema["properties"].items()
        for key in _keys(schema, ref)
    }
    for block in blocks(page, "toml"):
        given = tomllib.loads(block)
        if not any(isinstance(value, dict) for value in given.values()):
            assert set(given) <= {name.partition(".")[2] for name in known} | {"machine"}
            continue
        for section, values in given.items():
            assert {f"{section}.{key}" for key in values} <= known


def _keys(schema: dict[str, object], ref: dict[str, object]) -> list[str]:
    target = ref.get("$ref") or next(
        one["$ref"]
        for one in ref["anyOf"]
        if "$ref" in one  # type: ignore[index]
    )
    return list(schema["$defs"][str(target).split("/")[-1]]["properties"])  # type: ignore[index]


# Commands


def commands_shown(path: Path) -> Iterator[list[str]]:
    """Return the arguments of every ``zoning ...`` in a page, in code blocks and in the text."""
    inline = re.findall(r"``?(zoning [^`]+)``?", text(path))
    for block in [*blocks(path, "sh"), *blocks(path, "text"), *inline]:
        for line in re.split(r"\n|&&|(?<!-)\|", block):
            match = re.match(r"\s*(?:\S*/)?zoning\s+(.+)", line)
            if match and "(" not in line and "[" not in line:
                yield shlex.split(match.group(1), comments=True)


@lru_cache
def help_of(name: str, word: str = "") -> str:
    """Return the help of a command and, where `word` names one, of its subcommand."""
    group = isinstance(main.get_command(click.Context(main), name), click.Group) if name else False
    path = [name, word] if group and not word.startswith("-") else [name]
    return CliRunner().invoke(main, [*filter(None, path), "--help"]).output


def test_commands_are_found_at_all() -> None:
    assert ["plan", "sample_data/teasel_piece"] in list(commands_shown(README))


@pytest.mark.parametrize("page", [README, *PAGES], ids=lambda path: path.stem)
def test_commands_shown_exist_with_their_options(page: Path) -> None:
    for words in commands_shown(page):
        name, options = words[0], {word for word in words[1:] if word.startswith("--")}
        if name.startswith("-"):
            options, name = {name}, ""
        else:
            assert name in {*COMMANDS, "COMMAND"}, words
        if name == "COMMAND":
            continue
        helped = help_of(name, *words[1:2])
        assert {o for o in options if o.partition("=")[0] not in helped} == set(), words


# Links and pictures


@pytest.mark.parametrize("page", PAGES, ids=lambda path: path.stem)
def test_pages_and_pictures_named_exist(page: Path) -> None:
    said = text(page)
    for target in re.findall(r":doc:`(?:[^`<]*<)?([^`<>]+)>?`", said):
        base = DOCS if target.startswith("/") else page.parent
        assert (base / f"{target.lstrip('/')}.rst").exists(), target
    for target in re.findall(r"^\.\. (?:figure|literalinclude):: (\S+)", said, flags=re.MULTILINE):
        base = DOCS if target.startswith("/") else page.parent
        assert (base / target.lstrip("/")).exists(), target


def test_links_of_the_readme_exist() -> None:
    targets = re.findall(r"\]\(([^)#]+)\)|src=\"([^\"]+)\"", text(README))
    names = [one or other for one, other in targets]
    assert "docs/pictures/plan.png" in names
    assert [name for name in names if not (ROOT / name).exists()] == []


def test_pictures_are_small() -> None:
    large = [p.name for p in (DOCS / "pictures").iterdir() if p.stat().st_size > 300_000]
    assert large == []


def test_tables_and_schemas_named_exist() -> None:
    reference = module("_reference")
    made = reference.tables_page(ROOT / "shared/tables")
    made += reference.schemas_page(ROOT / "shared/schemas")
    labels = set(re.findall(r"^\.\. _([\w-]+):", made, flags=re.MULTILINE))
    said = "".join(text(page) for page in PAGES)
    wanted = set(re.findall(r":ref:`(?:[^`<]*<)?((?:table|schema)-[\w-]+)>?`", said))
    assert wanted <= labels
    assert wanted


# Pages made from tables and schemas


def test_every_constant_and_every_column_is_told() -> None:
    reference = module("_reference")
    tables = reference.tables_page(ROOT / "shared/tables")
    schemas = reference.schemas_page(ROOT / "shared/schemas")
    assert "``pan_thickness_min_cm``" in tables
    assert "``base_shift_gateway_cm``" in tables
    for path in (ROOT / "shared/schemas").glob("*.schema.json"):
        for name in json.loads(text(path))["properties"]:
            assert f"``{name}``" in schemas, (path.name, name)


@pytest.mark.parametrize("words", ["a_b", "p|q", "2*3", "`x`", "back\\slash"])
def test_signs_of_markup_are_made_plain(words: str) -> None:
    plain = module("_reference").escaped(words)
    assert re.sub(r"\\(.)", r"\1", plain) == words
    assert plain != words


# What the pages quote


def test_the_tutorial_quotes_what_the_program_prints(plan: zoning.model.Plan) -> None:
    from zoning.cli.summary import summary  # noqa: PLC0415

    printed = summary(plan, [], Path("teasel_plan")).splitlines()
    quoted = text(DOCS / "tutorial/account.txt").splitlines()
    stale = [line for line in quoted if line not in printed and ", plan " not in line]
    assert stale == [], "run python docs/make_pictures.py --figures"
    assert len(quoted) > 20


def test_the_runs_of_a_plan_easy_to_drive_are_those_of_the_sample(plan: zoning.model.Plan) -> None:
    """The figures are told in tens."""
    page = " ".join(text(DOCS / "howto" / "hand_set_depths.rst").split())
    few, many, loss = re.findall(
        r"this leaves about (\d+) runs of (\d+), at an expected loss of ([\d.]+) cm", page
    )[0]
    inputs = zoning.read_field(SAMPLE)
    depth = dataclasses.replace(inputs.settings.depth, max_depths=2, min_run_m=60, lift_out=True)
    settings = dataclasses.replace(inputs.settings, depth=depth)
    easy = zoning.make_plan(dataclasses.replace(inputs, settings=settings))
    assert abs(len(easy.passes) - int(few)) <= 5
    assert abs(len(plan.passes) - int(many)) <= 5
    assert abs(float(easy.totals["loss_at_most_2_cm"]) - float(loss)) <= 0.1


def edit(file: str, pattern: str, by: str) -> Callable[[Path], None]:
    def change(folder: Path) -> None:
        path = folder / file
        changed, count = re.subn(pattern, by, text(path), count=1, flags=re.MULTILINE)
        assert count == 1
        path.write_text(changed, encoding="utf-8")

    return change


def instead(file: str, contents: str) -> Callable[[Path], None]:
    return lambda folder: (folder / file).write_text(contents, encoding="utf-8") and None


def book(key: str = "cone", /, **sheets: str) -> Callable[[Path], None]:
    """Return a change that names a spreadsheet under `key`; rows of one text in A are merged."""

    def change(folder: Path) -> None:
        made = openpyxl.Workbook()
        made.remove(made.active)
        for name, table in sheets.items():
            sheet = made.create_sheet(name)
            for row in csv.reader(table.splitlines()):
                sheet.append(row)
            if table == MERGED:
                sheet.merge_cells("A3:A10")
        made.save(folder / "readings.xlsx")
        edit("field.toml", f'"{key}.csv"', '"readings.xlsx"')(folder)

    return change


BOW = (
    '{"type": "Feature", "properties": {}, "geometry": {"type": "Polygon", "coordinates": [[[0.806,'
    " 52.715], [0.811, 52.719], [0.811, 52.715], [0.806, 52.719], [0.806, 52.715]]]}}"
)
HEADINGS = "station,lon,lat,depth_cm,cone_index_mpa\n"
WIDE = "station,lon,lat,10 cm,20 cm,30 cm,40 cm\nA,0.8085,52.7170,500,1500,2500,900\n"
LOG = HEADINGS + "A,0.8085,52.7170,10,0.5\nA,0.8085,52.7170,20,0.9\n"
MERGED = LOG + "A,0.8085,52.7170,30,0.9\n" * 8
NUMBERED = LOG.replace("station", "insertion,station").replace("\nA", "\n1,A")
NUMBERED += NUMBERED.partition("\n")[2].replace("1,A", "1,B")
EASTINGS = "station;easting;northing;depth_cm;cone_index_mpa\n" + "A;352.000;5843000;10;0,5\n" * 2
PARTED = LOG.replace("mpa", "kpa").replace(",0.5", ",950").replace(",0.9", ",1.200")
DATED = "\n03/09/2026,A"
PLANE = "station,easting,northing,depth_cm,cone_index_mpa\nA,352000,5843000,10,0.5\n"
MISTAKES = {
    "unknown key": edit("field.toml", "^limit_mpa", "limit_mp"),
    "out of range": edit("field.toml", "^assurance = 0.8", "assurance = 80"),
    "wrong word": edit("field.toml", '^services = "records"', 'services = "none"'),
    "decimal comma": edit("field.toml", "^width_m = 2.6", "width_m = 2,6"),
    "depths turned round": edit("field.toml", "^depth_max_cm = 50", "depth_max_cm = 12"),
    "path outside": edit("field.toml", '"pits.csv"', '"../pits.csv"'),
    "a title": instead("cone.csv", "Day one,,,,\n,,,,\n" + LOG),
    "a row of units": instead("cone.csv", LOG.replace("\n", "\n,deg,deg,cm,MPa\n", 1)),
    "a mean": instead("cone.csv", LOG + "Mean,,,,1\n"),
    "merged cells": book(cone=MERGED),
    "a title in a sheet": book(cone="Day one\n,\n" + LOG, legend="word,meaning\n"),
    "no sheet of pits": book("pits", cone=LOG, legend="word,meaning\n"),
    "a sheet copied": book(**{"cone": NUMBERED, "cone (2)": NUMBERED}),
    "a station typed twice": instead("cone.csv", LOG + LOG[len(HEADINGS) :].replace("085", "090")),
    "a blank column": instead(
        "cone.csv", LOG.replace("station", "insertion,station").replace("\nA", "\n,A")
    ),
    "points in places": instead("cone.csv", EASTINGS),
    "points in numbers": instead("cone.csv", PARTED),
    "two days": instead("cone.csv", LOG.replace("station", "date,station").replace("\nA", DATED)),
    "no unit": edit("cone.csv", "depth_cm,cone_index_mpa", "depth,cone_index_mpa"),
    "wide without unit": instead("cone.csv", WIDE),
    "wrong unit": edit("cone.csv", "cone_index_mpa", "cone_index_kpa"),
    "wrong depth unit": edit("cone.csv", "depth_cm", "depth_in"),
    "words": edit("cone.csv", r"^(S01,1,.*friable,gateway,10,)[0-9.]+", r"\1hard"),
    "unknown part": edit("cone.csv", ",gateway,", ",gatway,"),
    "headings only": instead("cone.csv", HEADINGS),
    "no readings": edit("field.toml", r"^cone = .*\n.*$", ""),
    "swapped": edit("cone.csv", "lon,lat", "lat,lon"),
    "no system": instead("cone.csv", PLANE),
    "crossed": instead("boundary.geojson", BOW),
    "kind of hazard": edit("hazards.geojson", '"drain"', '"pipe"'),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_messages_shown_are_those_that_come(mistake: str, tmp_path: Path) -> None:
    folder = tmp_path / "field"
    shutil.copytree(SAMPLE, folder, ignore=shutil.ignore_patterns("plan", "records*", "truth"))
    MISTAKES[mistake](folder)
    with pytest.raises(InputRefused) as refused:
        zoning.read_field(folder)
    shown = {block.strip() for block in blocks(DOCS / "reference/errors.rst", "text")}
    assert str(refused.value.faults[0]) in shown


def test_the_refusal_of_a_check_shown_is_the_one_that_comes() -> None:
    with pytest.raises(InputRefused) as refused:
        check_work(SAMPLE)
    shown = {block.strip() for block in blocks(DOCS / "reference/errors.rst", "text")}
    assert str(refused.value) in shown


def test_the_drawn_profiles_show_one_verdict_each() -> None:
    pytest.importorskip("PIL", reason="pillow is not installed")
    pytest.importorskip("playwright", reason="playwright is not installed")
    verdicts = list(module("make_pictures").interpreted()["verdict"])
    assert verdicts == [
        "pan", "no_pan", "base_not_reached", "refused", "hard_throughout", "unusable",
    ]  # fmt: skip


def test_the_contributors_guide_has_the_words_of_the_glossary() -> None:
    entry = re.compile(r"((?:^ {3}\S.*\n)+)((?:^ {6}\S.*\n?)+)", re.MULTILINE)
    held = text(DOCS / "reference/glossary.rst").partition(":sorted:")[2]
    meant = {}
    for terms, lines in entry.findall(held):
        meaning = re.sub(r":doc:`/([^`]*)`", r"docs/\1.rst", " ".join(lines.split()))
        meaning = re.sub(r":\w+:`([^`]*)`", r"\1", meaning).replace("``", "`")
        meant[", ".join(term.strip() for term in terms.splitlines())] = meaning
    guide = text(ROOT / "DEVELOPERS.md").partition("## Glossary")[2].partition("##")[0]
    rows = [line.strip("| ").split(" | ", 1) for line in guide.splitlines() if "|" in line][2:]
    assert len(rows) > 20
    assert [(word, told) for word, told in rows if meant.get(word) != told] == []


@pytest.mark.parametrize("page", [README, DOCS / "reference" / "files.rst"], ids=lambda p: p.name)
def test_every_file_of_a_plan_is_told(page: Path) -> None:
    told = set(re.findall(r"`([\w.*-]+\.[\w.-]+)`", text(page)))
    assert {re.sub(r"^\w+\.csv-", "*.csv-", name) for name in KNOWN} - told == set()


def test_the_schema_of_field_toml_is_made_from_the_settings() -> None:
    stored = text(ROOT / "shared" / "schemas" / "field.schema.json")
    assert stored == module("make_field_schema").field_schema()
