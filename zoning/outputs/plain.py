"""Values as JSON knows them: plain Python numbers, texts, lists and mappings; unknown is null."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any, NoReturn

import numpy as np
import pandas as pd

_DECIMALS = 6


def plain(value: object) -> Any:
    """Return `value` as JSON knows it, NaN and missing as ``None``, numbers to six decimals.

    Raises
    ------
    ValueError
        If a number is infinite or the type has no place in JSON.
    """
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple, np.ndarray)):
        return [plain(item) for item in value]
    if isinstance(value, (str, bool, int)):
        return value
    if isinstance(value, np.generic):
        return plain(value.item())
    if value is None or value is pd.NA or value is pd.NaT:
        return None
    if isinstance(value, float):
        return _number(value)
    raise ValueError(f"{type(value).__name__} has no place in JSON")


def _number(value: float) -> float | None:
    if math.isinf(value):
        raise ValueError("an infinite number has no place in JSON")
    return None if math.isnan(value) else round(value, _DECIMALS) + 0.0


def write_text(path: Path, text: str) -> None:
    """Write `text` as UTF-8 without a byte order mark, line ends as they stand in it."""
    path.write_bytes(text.encode("utf-8"))


def read_json(path: Path) -> Any:
    """Read JSON strictly: NaN and infinity are refused."""
    return json.loads(path.read_text(encoding="utf-8"), parse_constant=_refuse)


def siblings(path: Path) -> list[dict[str, str]]:
    """Return name and SHA-256 of every other file in the folder of `path`, by name."""
    return [
        {"name": file.name, "sha256": hashlib.sha256(file.read_bytes()).hexdigest()}
        for file in sorted(path.parent.iterdir())
        if file.name != path.name
    ]


def _refuse(name: str) -> NoReturn:
    raise ValueError(f"{name} is not JSON")
