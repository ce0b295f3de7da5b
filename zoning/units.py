"""Units: each quantity has one unit inside the program, named by the suffix.

Factors are exact by definition (inch 25.4 mm, pound-force per square inch from the
international pound and standard gravity; source ``si_brochure``, and the 1959
international yard and pound agreement).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

N = TypeVar("N", float, "NDArray[np.float64]")

CM_PER = {"cm": 1.0, "mm": 0.1, "in": 2.54, "m": 100.0}
MPA_PER = {"mpa": 1.0, "kpa": 1e-3, "psi": 6.894757293168361e-3}
M2_PER_HA = 10_000.0
CM_PER_M = 100.0
S_PER_MIN = 60.0
CM_PER_INCH = CM_PER["in"]
COMPASS = (
    "north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west",
)  # fmt: skip


def inches(value_cm: float) -> float:
    """Convert centimetres to inches."""
    return value_cm / CM_PER_INCH


def as_number(value: object) -> float:
    """Return what a cell of a table holds, which is a number, as one."""
    return float(value)  # type: ignore[arg-type]


def compass(way: NDArray[np.float64]) -> str:
    """Return the point of the compass that a direction (east, north) is nearest to."""
    turn_deg = math.degrees(math.atan2(way[0], way[1]))
    return COMPASS[round(turn_deg / 45.0) % len(COMPASS)]


def hectares(area_m2: float) -> str:
    """Return an area in words: hectares with two decimals, what rounds to none as little."""
    words = f"{area_m2 / M2_PER_HA:.2f}"
    return "less than 0.01 ha" if float(words) == 0 else f"{words} ha"


def off_half(value: N, decimals: int) -> N:
    """Return a number, or an array of them, that rounds half away from zero: 3.25 to 3.3.

    A half, and what float noise leaves just below one, is moved by a hundred-millionth of the last
    decimal. That is less than any check of a written number asks for, however large the number.
    """
    return value + (2 * (value >= 0) - 1) * 1e-8 * 10.0**-decimals


def tenths(value: float) -> str:
    """Return a number in words to a tenth, half away from zero: depths are read to 5 mm."""
    return f"{round(off_half(value, 1), 1) + 0.0:g}"


def least_to_most(values: Iterable[float]) -> str:
    """Return the least and the most of the known `values` in words to a tenth: ``23 to 26``."""
    known = [value for value in values if not math.isnan(value)]
    least, most = tenths(min(known)), tenths(max(known))
    return least if least == most else f"{least} to {most}"
