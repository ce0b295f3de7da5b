"""The house rules that a linter does not check, and the words of the command line."""

from __future__ import annotations

import ast
import csv
import re
import statistics
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest
from click.testing import CliRunner

from zoning.cli import COMMANDS, main

ROOT = Path(__file__).parents[1]
MODULES = sorted((ROOT / "zoning").rglob("*.py"))
TABLES = sorted((ROOT / "shared" / "tables").glob("*.csv"))


def functions(path: Path) -> list[tuple[str, int]]:
    """Return each function of a module with its number of code lines."""
    source = path.read_text(encoding="utf-8")
    lines = source.splitlines()
    found = []
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.FunctionDef):
            continue
        first = node.body[0].lineno
        if ast.get_docstring(node) is not None:
            first = node.body[0].end_lineno + 1
        body = [
            line
            for line in lines[first - 1 : node.end_lineno]
            if line.strip() and not line.strip().startswith("#")
        ]
        found.append((f"{path.relative_to(ROOT)}:{node.name}", len(body)))
    return found


def test_modules_are_small() -> None:
    long = [
        (str(p.relative_to(ROOT)), n)
        for p in MODULES
        if (n := len(p.read_text().splitlines())) > 350
    ]
    assert long == []


def test_functions_are_short() -> None:
    lengths = [entry for path in MODULES for entry in functions(path)]
    counts = sorted(n for _, n in lengths)
    assert [entry for entry in lengths if entry[1] > 60] == []
    assert statistics.median(counts) <= 12
    assert counts[int(0.9 * len(counts))] <= 35


def test_every_package_and_module_says_what_it_is_for() -> None:
    silent = [
        str(p.relative_to(ROOT)) for p in MODULES if not ast.get_docstring(ast.parse(p.read_text()))
    ]
    assert silent == []


def rows(table: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(table.read_text(encoding="utf-8").splitlines()))


SOURCES = {row["source"] for row in rows(ROOT / "shared/tables/sources.csv")}


@pytest.mark.parametrize("table", TABLES, ids=lambda path: path.stem)
def test_every_value_of_a_table_names_a_source_that_exists(table: Path) -> None:
    held = rows(table)
    assert held
    assert {row["source"] for row in held} <= SOURCES
    assert not table.stem.endswith("_rules") or all(row["meaning"] for row in held)


@cache
def strings(tree: ast.AST) -> frozenset[str]:
    """Return the strings that stand in a module as they are."""
    found = (node.value for node in ast.walk(tree) if isinstance(node, ast.Constant))
    return frozenset(value for value in found if isinstance(value, str))


@cache
def templates(tree: ast.AST) -> tuple[re.Pattern[str], ...]:
    """Return a pattern of each f-string and of each string to be formatted, values as groups."""
    made = [
        "".join(str(p.value) if isinstance(p, ast.Constant) else "{}" for p in node.values)
        for node in ast.walk(tree)
        if isinstance(node, ast.JoinedStr)
    ]
    found = {text for text in [*made, *strings(tree)] if "{}" in text}
    pieces = [map(re.escape, text.split("{}")) for text in sorted(found)]
    return tuple(re.compile("([a-z0-9_]+)".join(each)) for each in pieces)


@cache
def modules_of_rules(tree: ast.Module) -> tuple[Path, ...]:
    """Return the modules from which a module takes the name of a table or what reads it."""
    return tuple(
        ROOT / f"{node.module.replace('.', '/')}.py"
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("zoning.")
        if any("rule" in each.name.lower() for each in node.names)
    )


def unread(table: Path, trees: dict[Path, ast.Module]) -> list[str]:
    """Return the rows of a table of rules that no module which names the table asks for.

    A name put together is read where each piece of it stands in some module as a string.
    """
    said = {path: strings(tree) for path, tree in trees.items()}
    every = frozenset[str]().union(*said.values())
    asking = [
        path
        for path, tree in trees.items()
        if any(table.stem in said.get(at, ()) for at in [path, *modules_of_rules(tree)])
    ]
    plain = frozenset[str]().union(*(said[path] for path in asking))
    made = [pattern for path in asking for pattern in templates(trees[path])]
    names = [row["name"] for row in rows(table)]
    return [
        name
        for name in names
        if name not in plain
        and not any((met := p.fullmatch(name)) and every.issuperset(met.groups()) for p in made)
    ]


NAMED = [table for table in TABLES if "name" in rows(table)[0]]


def test_every_rule_is_read_somewhere() -> None:
    trees = {path: ast.parse(path.read_text(encoding="utf-8")) for path in MODULES}
    found = {table.stem: unread(table, trees) for table in NAMED if table.stem.endswith("_rules")}
    assert {stem: names for stem, names in found.items() if names} == {}


def test_a_rule_that_nothing_asks_for_is_found(tmp_path: Path) -> None:
    table = tmp_path / "made_up_rules.csv"
    table.write_text("name\nroom_width\nroom_height\nwidth_room\n")
    code = "RULES = 'made_up_rules'\nways = ['room']\nread = [f'{way}_width' for way in ways]\n"
    assert unread(table, {tmp_path / "m.py": ast.parse(code)}) == ["room_height", "width_room"]


def test_every_source_is_named_by_a_value_or_a_formula() -> None:
    named = {row["source"] for table in TABLES if table.stem != "sources" for row in rows(table)}
    text = "".join(path.read_text(encoding="utf-8") for path in MODULES)
    assert {source for source in SOURCES - named if source not in text} == set()


def test_top_level_holds_what_was_agreed() -> None:
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if listed.returncode != 0:
        pytest.skip("not a git checkout")
    tops = {name.split("/")[0] for name in listed.stdout.splitlines()}
    agreed = {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "zoning",
        "sample_data",
        "tests",
        "docs",
        "shared",
    }
    assert {top for top in tops if not top.startswith(".")} <= agreed


def test_help_loads_no_heavy_library() -> None:
    code = (
        "import sys\nfrom zoning.cli import main\n"
        "try:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        "heavy = {'numpy', 'pandas', 'pydantic', 'shapely', 'scipy'} & set(sys.modules)\n"
        "assert not heavy, heavy"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_with_an_example_and_stands_in_the_docs(name: str) -> None:
    shown = CliRunner().invoke(main, [name, "--help"])
    assert shown.exit_code == 0
    assert "Example:" in shown.output
    assert f"zoning {name}" in (ROOT / "docs/reference/commands.rst").read_text(encoding="utf-8")


def test_an_unknown_command_names_the_nearest() -> None:
    shown = CliRunner().invoke(main, ["plann"])
    assert shown.exit_code == 2
    assert "'plan'" in shown.output
