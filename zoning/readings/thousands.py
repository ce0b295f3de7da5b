"""Points between thousands, as a spreadsheet of another language writes them: ``5.784.030,5``."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable

from zoning.readings.number_text import plain_number

_CERTAIN = re.compile(
    r"[+-]?\d{1,3}((\.\d{3})+,\d*|(\.\d{3}){2,}|([ '\u2019\u00a0\u2009\u202f]\d{3})+([.,]\d*)?)",
    re.ASCII,
)
_LIKE = re.compile(r"[+-]?[1-9]\d{0,2}(\.\d{3})+", re.ASCII)


def parts_thousands(cell: str) -> bool:
    """Whether a cell can be no number but one with points, spaces or marks between thousands."""
    return _CERTAIN.fullmatch(cell) is not None


def seems_parted(cell: str) -> bool:
    """Whether the points of a cell may stand between thousands, as those of ``1.200``."""
    return _LIKE.fullmatch(cell) is not None


def all_seem_parted(cells: Iterable[str]) -> bool:
    """Whether numbers have points, and each may stand between thousands: ``0.4`` settles it."""
    numbers = [cell for cell in set(cells) if not math.isnan(without_points(cell))]
    pointed = [cell for cell in numbers if "." in cell]
    return bool(pointed) and all(map(seems_parted, pointed))


def without_points(cell: str) -> float:
    """Return the number that a cell spells once its points are taken out, else NaN."""
    return plain_number(cell.replace(".", ""))
