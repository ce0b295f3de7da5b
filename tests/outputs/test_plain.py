"""Values on their way to JSON and back."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from zoning.outputs.plain import plain, read_json, write_text


def test_numbers_texts_lists_and_mappings_become_plain() -> None:
    value = {
        "a": np.float64(1.23456789),
        "b": np.int64(3),
        "c": (np.bool_(True), None, "x"),
        4: [np.nan],
    }
    assert plain(value) == {"a": 1.234568, "b": 3, "c": [True, None, "x"], "4": [None]}
    assert json.loads(json.dumps(plain(value), allow_nan=False)) == plain(value)


@pytest.mark.parametrize("missing", [None, float("nan"), pd.NA, pd.NaT, np.float32("nan")])
def test_what_is_missing_is_null(missing: object) -> None:
    assert plain(missing) is None


def test_there_is_no_minus_nought() -> None:
    assert json.dumps(plain(-1e-12)) == "0.0"


@pytest.mark.parametrize("bad", [float("inf"), -np.inf, object(), Path()])
def test_what_json_cannot_hold_is_refused(bad: object) -> None:
    with pytest.raises(ValueError, match="no place in JSON"):
        plain(bad)


def test_text_is_utf8_without_mark_and_line_ends_stay(tmp_path: Path) -> None:
    write_text(tmp_path / "a", "é\r\nb\n")
    assert (tmp_path / "a").read_bytes() == b"\xc3\xa9\r\nb\n"


@pytest.mark.parametrize("text", ['{"a": NaN}', "[Infinity]", "{"])
def test_json_is_read_strictly(tmp_path: Path, text: str) -> None:
    (tmp_path / "a.json").write_text(text, encoding="utf-8")
    with pytest.raises(ValueError, match=r"not JSON|Expecting"):
        read_json(tmp_path / "a.json")
