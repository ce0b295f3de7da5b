"""Figures of the structure: ``python tests/benchmarks/structure.py``.

Sizes of modules and functions, complexity as ruff counts it (McCabe), the share of signatures that
are typed, tests beside code. The floors of DEVELOPERS.md are asserted in ``tests/test_house.py``.
"""

from __future__ import annotations

import ast
import json
import re
import statistics
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True)
class Function:
    """One function: where, code lines without docstring and remarks, whether it is typed."""

    name: str
    lines: int
    typed: bool


def modules(folder: str) -> list[Path]:
    """Return the Python files below a folder of the repository."""
    return sorted((ROOT / folder).rglob("*.py"))


def code_lines(text: str) -> int:
    """Return the lines that are neither blank nor a remark; docstrings count."""
    return sum(bool(line.strip()) and not line.strip().startswith("#") for line in text.split("\n"))


def functions(path: Path) -> list[Function]:
    """Return the functions and methods of a module."""
    text = path.read_text(encoding="utf-8")
    lines = text.split("\n")
    found = []
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            told = ast.get_docstring(node) is not None
            first = node.body[0].end_lineno if told else node.body[0].lineno - 1
            name = f"{path.relative_to(ROOT)}:{node.name}"
            body = "\n".join(lines[first : node.end_lineno])
            found.append(Function(name, code_lines(body), _typed(node)))
    return found


def _typed(node: ast.FunctionDef | ast.AsyncFunctionDef) -> bool:
    given = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
    more = [arg for arg in (node.args.vararg, node.args.kwarg) if arg is not None]
    named = [arg for arg in (*given, *more) if arg.arg not in ("self", "cls")]
    return node.returns is not None and all(arg.annotation is not None for arg in named)


def complexities(folder: str) -> list[tuple[int, str]]:
    """Return the complexity of each function of a folder that has a branch, the greatest first."""
    command = [
        sys.executable, "-m", "ruff", "check", str(ROOT / folder), "--isolated", "--select", "C901",
        "--config", "lint.mccabe.max-complexity=1", "--output-format", "json", "--exit-zero",
    ]  # fmt: skip
    told = json.loads(subprocess.run(command, capture_output=True, check=True).stdout)
    found = [(re.search(r"`(.*)` is too complex \((\d+)", row["message"]), row) for row in told]
    return sorted(
        (
            (int(hit[2]), f"{Path(row['filename']).relative_to(ROOT)}:{hit[1]}")
            for hit, row in found
            if hit is not None
        ),
        reverse=True,
    )


def main() -> None:
    """Print the table."""
    paths = modules("zoning")
    sizes = sorted(((len(p.read_text().split("\n")) - 1, p) for p in paths), reverse=True)
    every = sorted((f for p in paths for f in functions(p)), key=lambda f: -f.lines)
    counts = [f.lines for f in every]
    branches = complexities("zoning")
    code = sum(code_lines(p.read_text(encoding="utf-8")) for p in paths)
    checks = sum(code_lines(p.read_text(encoding="utf-8")) for p in modules("tests"))
    rows = [
        ("modules", f"{len(paths)}"),
        ("code lines", f"{code}"),
        ("longest module", f"{sizes[0][0]} lines, {sizes[0][1].relative_to(ROOT)}"),
        ("functions", f"{len(every)}"),
        ("longest function", f"{counts[0]} lines, {every[0].name}"),
        ("function, median", f"{statistics.median(counts):g} lines"),
        ("function, nine in ten", f"{counts[len(counts) // 10]} lines or fewer"),
        ("greatest complexity", f"{branches[0][0]}, {branches[0][1]}"),
        ("typed signatures", f"{100 * statistics.mean(f.typed for f in every):.1f} %"),
        ("test lines a code line", f"{checks / code:.2f}"),
    ]
    width = max(len(name) for name, _ in rows)
    print("\n".join(f"{name.ljust(width)}  {value}" for name, value in rows))


if __name__ == "__main__":
    main()
