"""Numbers as a text spells them: digits, a point, an exponent, nothing else."""

from __future__ import annotations

import math
import re

_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)


def plain_number(cell: str) -> float:
    """Return the finite number that `cell` spells with a decimal point, else NaN."""
    value = float(cell) if _NUMBER.fullmatch(cell) else math.nan
    return value if math.isfinite(value) else math.nan
