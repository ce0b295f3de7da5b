"""Whether a depth in a file of a plan is deeper than a hazard of the plan allows, and which."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray

from zoning.contracts.hazards import deepest_cm, keep_off_m
from zoning.errors import Fault
from zoning.outputs.verify.files import ReadBack, fault

Floats = NDArray[np.float64]


def hazards_passed(
    places: NDArray[np.object_], depth_cm: Floats, planned_cm: Floats, read: ReadBack
) -> list[str]:
    """Return the hazard that a depth passes and the plan keeps, at each place; blank without one.

    Parameters
    ----------
    places
        Points or areas in the working CRS, shape ``(n,)``.
    depth_cm, planned_cm
        Depth there as it is told and as it is planned, shape ``(n,)`` [cm].
    read
        The plan.
    """
    hazards = read.layers["hazards"]
    kind = hazards["kind"].to_numpy(dtype=np.str_)
    clear_m = keep_off_m(kind, hazards["clear_m"].to_numpy(dtype=np.float64), read.width_m)
    cap_cm = deepest_cm(kind, hazards["depth_cm"].to_numpy(dtype=np.float64))
    called = [f"{a} {b or ''}".strip() for a, b in zip(kind, hazards["name"], strict=True)]
    told = [""] * len(places)
    for at in np.argsort(-cap_cm, kind="stable"):  # the one that allows least is told
        passed = (depth_cm > cap_cm[at]) & (planned_cm <= cap_cm[at])
        near = shapely.dwithin(places, hazards.geometry.iloc[at], clear_m[at])
        for row in np.flatnonzero(np.asarray(near) & passed).tolist():
            told[row] = f"the {called[at]}"
    return told


def passed_faults(file: str, told: list[str], what: str) -> Iterator[Fault]:
    """Say how many of `what` in a file pass which hazard, where any do of `hazards_passed`."""
    counts = Counter(filter(None, told))
    if not counts:
        return
    named = " and ".join(
        f"{count} {what}{'' if count == 1 else 's'} deeper than {name} allows"
        for name, count in sorted(counts.items())
    )
    yield fault(file, f"Do not work by it: {named}.")
