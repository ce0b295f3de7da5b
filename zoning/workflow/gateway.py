"""A gateway that the plan works less deep than the headland is told, since few are so."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from zoning.model import Notice

Floats = NDArray[np.float64]


def gateway_notices(
    parts: pd.DataFrame,
    stations: pd.DataFrame,
    cell_part: NDArray[np.str_],
    depth_cm: Floats,
    base_cm: Floats,
    *,
    step_cm: float,
) -> tuple[Notice, ...]:
    """Return a note for each gateway worked a step or more shallower than the headland.

    Parameters
    ----------
    parts, stations
        ``part, kind`` of each part; ``part, used`` of each station.
    cell_part, depth_cm, base_cm
        Part, working depth and predicted pan base of each cell [cm].
    step_cm
        Step of the machine's depth control [cm].
    """
    kinds = dict(zip(parts["part"], parts["kind"], strict=True))
    kind = np.array([str(kinds[part]) for part in cell_part])
    headland = kind == "headland"
    if not headland.any():
        return ()
    return tuple(_told(parts, stations, cell_part, headland, depth_cm, base_cm, step_cm))


def _told(
    parts: pd.DataFrame,
    stations: pd.DataFrame,
    cell_part: NDArray[np.str_],
    headland: NDArray[np.bool_],
    depth_cm: Floats,
    base_cm: Floats,
    step_cm: float,
) -> Iterator[Notice]:
    around = float(depth_cm[headland].mean())
    for part in sorted(parts.loc[parts["kind"] == "gateway", "part"]):
        here = cell_part == part
        if not here.any() or base_cm[here].mean() >= base_cm[headland].mean():
            continue
        depth = float(depth_cm[here].mean())
        if around - depth < step_cm:
            continue
        count = int((stations["used"] & (stations["part"] == part)).sum())
        text = (
            f"The {part} is worked {depth:.0f} cm deep on average, the headland {around:.0f} cm: "
            f"the readings there ({count} station{'s'[: count != 1]}) show a shallower pan. Most "
            "gateways are packed deeper than the headland, so dig there before you trust it."
        )
        yield Notice("note", "gateway-shallower", text)
