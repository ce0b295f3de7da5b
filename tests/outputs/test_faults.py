"""A sample of `tests/benchmarks/faults.py`: what a killed writer and a limited disk leave."""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

import pytest
from benchmarks import faults

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs fork and signals")


def test_states_are_told_apart(tmp_path: Path) -> None:
    assert faults.state(tmp_path / "nothing") == "none"
    (tmp_path / "plan.json").write_text("{")
    assert faults.state(tmp_path) == "TORN"


def test_a_read_only_folder_is_refused_and_left_alone(tmp_path: Path) -> None:
    assert faults.read_only(tmp_path) == Counter({"refused": 1, "whole": 1})
