"""Pictures that the user gave with a field: the one under the map, and those of pits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, eq=False)
class Backdrop:
    """The user's own picture of the field from above.

    Parameters
    ----------
    name
        Name of its file inside the field folder.
    rgb
        Red, green and blue, shape ``(rows, columns, 3)``.
    shown
        Which dots hold a picture, shape ``(rows, columns)``.
    crs
        Coordinate system of `affine`.
    affine
        ``x = a column + b row + c``, ``y = d column + e row + f``, counted from the upper left
        corner of the upper left dot.
    """

    name: str
    rgb: NDArray[np.uint8]
    shown: NDArray[np.bool_]
    crs: str
    affine: tuple[float, float, float, float, float, float]


@dataclass(frozen=True, slots=True)
class Photo:
    """One photograph of a pit, as its file holds it.

    Parameters
    ----------
    name
        As the pit table names it.
    media_type
        ``image/jpeg`` or ``image/png``.
    content
        The bytes of the file.
    """

    name: str
    media_type: str
    content: bytes
