"""A gateway that the plan works less deep than the headland is told, since few are so."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from zoning.depths import Places
from zoning.model import Notice

Floats = NDArray[np.float64]


def gateway_notices(
    parts: pd.DataFrame,
    stations: pd.DataFrame,
    places: Places,
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
    places
        Ground of each part in each piece.
    depth_cm, base_cm
        Working depth and predicted pan base of each place [cm].
    step_cm
        Step of the machine's depth control [cm].
    """
    kinds = dict(zip(parts["part"], parts["kind"], strict=True))
    kind = np.array([str(kinds[part]) for part in places.part])
    headland = kind == "headland"
    if not headland.any():
        return ()
    return tuple(_told(parts, stations, places, headland, depth_cm, base_cm, step_cm))


def _told(
    parts: pd.DataFrame,
    stations: pd.DataFrame,
    places: Places,
    headland: NDArray[np.bool_],
    depth_cm: Floats,
    base_cm: Floats,
    step_cm: float,
) -> Iterator[Notice]:
    area = places.area_m2
    around = float(np.average(depth_cm[headland], weights=area[headland]))
    base = float(np.average(base_cm[headland], weights=area[headland]))
    for part in sorted(parts.loc[parts["kind"] == "gateway", "part"]):
        here = places.part == part
        if not here.any() or np.average(base_cm[here], weights=area[here]) >= base:
            continue
        depth = float(np.average(depth_cm[here], weights=area[here]))
        if around - depth < step_cm:
            continue
        count = int((stations["used"] & (stations["part"] == part)).sum())
        text = (
            f"The {part} is worked {depth:.0f} cm deep on average, the headland {around:.0f} cm: "
            f"the readings there ({count} station{'s'[: count != 1]}) show a shallower pan. Most "
            "gateways are packed deeper than the headland, so dig there before you trust it."
        )
        yield Notice("note", "gateway-shallower", text)
