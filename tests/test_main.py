"""``python -m zoning`` is the command line."""

from __future__ import annotations

import subprocess
import sys

import pytest

from zoning.cli import COMMANDS


@pytest.mark.parametrize(
    ("words", "status"), [(["--help"], 0), (["verify", "no_such_plan"], 1), (["no_such"], 2)]
)
def test_run_as_a_module_it_answers_and_ends_as_the_script_does(
    words: list[str], status: int
) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "zoning", *words], capture_output=True, text=True, check=False
    )
    assert done.returncode == status
    told = done.stdout + done.stderr
    assert "Traceback" not in told
    assert "zoning" in told
    assert status or all(name in done.stdout for name in COMMANDS)
