"""The caution on guessed ground: parts in which no station or pit tells whether there is a pan."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from zoning.depths import Places
from zoning.model import Notice
from zoning.outputs.guessed import GUESSED, noted_otherwise, unread_parts

Floats = NDArray[np.float64]


def unread_notices(
    parts: pd.DataFrame, stations: pd.DataFrame, places: Places, depth_cm: Floats
) -> tuple[Notice, ...]:
    """Return a caution on the parts that nobody read, with the depth they are worked at.

    Parameters
    ----------
    parts, stations
        As `unread_parts` takes them.
    places
        Ground of each part in each piece.
    depth_cm
        Working depth of each place, 0 for legs lifted out [cm].
    """
    told, otherwise = [], False
    for part in unread_parts(parts, stations):
        here = places.part == part
        if here.any():
            worked = _worked(depth_cm[here], places.area_m2[here])
            beside = noted_otherwise(part, parts, stations)
            otherwise |= bool(beside)
            told.append(f"{part} ({'; '.join(filter(None, [worked, beside]))})")
    if not told:
        return ()
    belongs = "write its name under part, or leave that blank, where they belong to it; else "
    text = (
        f"{GUESSED.capitalize()}: {', '.join(told)}. The depth comes from the other parts and from "
        f"common experience of such ground alone: {belongs if otherwise else ''}probe or dig "
        "there, and plan again, before it is worked."
    )
    return (Notice("caution", "part-guessed", text),)


def _worked(depth_cm: Floats, area_m2: Floats) -> str:
    worked = depth_cm > 0
    if not worked.any():
        return "legs lifted out"
    shallow, deep = float(depth_cm[worked].min()), float(depth_cm[worked].max())
    mean = float(np.average(depth_cm[worked], weights=area_m2[worked]))
    if shallow == deep:
        return f"worked at {deep:g} cm"
    return f"worked at {shallow:g} to {deep:g} cm, {mean:.0f} cm on average"
