"""``zoning review`` as a user starts it: what it says, what it opens, what it refuses."""

from __future__ import annotations

import re
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest
from click.testing import CliRunner
from review.small_desk import write_field

from zoning.cli import main

PROGRAM = "import zoning.cli; zoning.cli.main()"


def started(*words: str) -> subprocess.Popen[str]:
    command = [sys.executable, "-c", PROGRAM, "review", *words, "--port", "0"]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def lines(run: subprocess.Popen[str]) -> str:
    assert run.stdout is not None
    said = ""
    while "Stop with Ctrl-C." not in said:
        line = run.stdout.readline()
        assert line, run.stderr.read() if run.stderr else ""
        said += line
    return said


def test_it_names_its_address_and_answers_there(tmp_path: Path) -> None:
    run = started(str(write_field(tmp_path / "field")))
    said = lines(run)
    found = re.search(r"http://127\.0\.0\.1:\d+/", said)
    assert found is not None
    assert "Code" not in said
    with urllib.request.urlopen(found[0], timeout=20) as answer:  # noqa: S310
        assert b"Test Piece" in answer.read()
    run.terminate()
    run.wait(10)


def test_opening_it_to_the_network_says_so_and_asks_for_a_code(tmp_path: Path) -> None:
    run = started(str(write_field(tmp_path / "field")), "--listen", "0.0.0.0")  # noqa: S104
    said = lines(run)
    assert "opens the page to the network" in said
    assert "not encrypted" in said
    assert re.search(r"Code: [A-Z2-9]{8}\n", said)
    run.terminate()
    run.wait(10)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["nowhere"], "no such folder"),
        (["field", "--listen", "farm.example"], "numeric address"),
        (["field", "--listen", "192.0.2.7"], "no address of this computer"),
    ],
)
def test_what_cannot_be_served_is_refused_with_a_remedy(
    tmp_path: Path, words: list[str], told: str
) -> None:
    write_field(tmp_path / "field")
    name, *more = words
    shown = CliRunner().invoke(main, ["review", str(tmp_path / name), *more])
    assert shown.exit_code == 1
    assert told in shown.output
