"""Names of new stations and pits that no earlier one carries."""

from __future__ import annotations

import re
from collections.abc import Iterable


def next_names(letter: str, taken: Iterable[str], count: int) -> list[str]:
    """Return `count` names such as ``S08``, going on from the highest number in use.

    Parameters
    ----------
    letter
        What the names begin with.
    taken
        Names in use.
    count
        Names wanted.
    """
    pattern = re.compile(rf"{re.escape(letter)}0*(\d+)", re.ASCII | re.IGNORECASE)
    used = [int(found[1]) for name in taken if (found := pattern.fullmatch(name.strip()))]
    first = max(used, default=0) + 1
    width = max(2, len(str(first + count - 1)))
    return [f"{letter}{number:0{width}d}" for number in range(first, first + count)]
