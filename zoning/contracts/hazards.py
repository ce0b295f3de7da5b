"""Keep-off and depth bound of a hazard: what the plan goes by, and what every output says of it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from zoning.contracts.tables import constant

KINDS = ("drain", "service", "obstacle")


def keep_off_m(kind: ArrayLike, given_m: ArrayLike, machine_width_m: float) -> NDArray[np.float64]:
    """Return the keep-off each side of hazards [m]: as given, but never nothing, or a stand-in.

    The stand-in of a kind stands in ``shared/tables/part_rules.csv`` and is never less than half
    the machine's width.

    Parameters
    ----------
    kind
        ``drain``, ``service`` or ``obstacle``, of any shape.
    given_m
        The keep-off that was given, NaN where none was; of the same shape [m].
    machine_width_m
        Working width [m].
    """
    given = np.asarray(given_m, dtype=np.float64)
    usual = {name: constant("part_rules", f"{name}_clear_m") for name in KINDS}
    kinds = np.asarray(kind, dtype=np.str_)
    stand_in = np.select([kinds == name for name in KINDS], [*usual.values()], np.nan)
    clear = np.where(np.isfinite(given), given, np.maximum(stand_in, machine_width_m / 2.0))
    return np.asarray(np.maximum(clear, constant("part_rules", "least_clear_m")))


def deepest_cm(kind: ArrayLike, cover_cm: ArrayLike) -> NDArray[np.float64]:
    """Return the greatest working depth about hazards [cm]; 0 means legs lifted out.

    Over a drain that is its cover, taken as small where it is not known (NaN), less what is left
    above it; about a service or an obstacle the legs are lifted out, whatever its depth.
    """
    cover = np.asarray(cover_cm, dtype=np.float64)
    known = np.where(np.isfinite(cover), cover, constant("part_rules", "drain_cover_unknown_cm"))
    over = np.maximum(0.0, known - constant("part_rules", "drain_margin_cm"))
    return np.where(np.asarray(kind, dtype=np.str_) == "drain", over, 0.0)
