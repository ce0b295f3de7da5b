"""Pits that the readings about them outvote: they do not silence the probe beside them."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd

from zoning import profiles, surface
from zoning.contracts import constant
from zoning.model import FieldInputs, Notice
from zoning.workflow.interpret import Interpreted, interpret
from zoning.workflow.support import doubt_notices


def fit_pan(
    inputs: FieldInputs,
    parts: gpd.GeoDataFrame,
    read: Interpreted,
    *,
    heading_deg: float,
    shared: surface.SharedPrior | None,
) -> tuple[Interpreted, surface.PanModel]:
    """Fit the surface; where it sets a pit aside, the probe beside that pit is heard after all.

    A pit outranks the probe at its place. Set aside by what the readings about it say, it would
    leave that place without either, so the surface is fitted once more with the probe.

    Parameters
    ----------
    inputs, parts
        The field and its parts.
    read
        What the readings say, every pit outranking.

    Returns
    -------
    tuple
        What the readings say, the reason of a doubted pit telling how much it counts; the surface.
    """
    used = _used(read)
    model = surface.PanModel.fit(used, heading_deg=heading_deg, shared=shared)
    at = model.stations.rows[model.stations.base_row]
    rows = used.loc[at[model.base.best.outliers]]
    outvoted = frozenset(rows.loc[rows["kind"] == "pit", "station"])
    again = interpret(inputs, parts, outvoted=outvoted) if outvoted else read
    if again.stations["used"].sum() > read.stations["used"].sum():
        read, used = again, _used(again)
        model = surface.PanModel.fit(used, heading_deg=heading_deg, shared=shared)
    return replace(read, stations=_weighed(read.stations, model)), model


def _used(read: Interpreted) -> pd.DataFrame:
    return profiles.heard(read.stations)


def _weighed(stations: pd.DataFrame, model: surface.PanModel) -> pd.DataFrame:
    """Return the stations, the reason of each doubted pit telling how much its depth counts."""
    doubt = pd.Series(0.0, index=stations.index)
    at = model.stations.rows[model.stations.base_row]
    doubt.loc[at] = model.base.no_pan_probability()
    told = (stations["kind"] == "pit") & (doubt >= constant("plan_rules", "base_doubted"))
    words = [
        f" Its base counts {100 * (1 - share):.0f} %: the readings about it say otherwise."
        for share in doubt
    ]
    return stations.assign(reason=np.where(told, stations["reason"] + words, stations["reason"]))


def model_doubts(model: surface.PanModel, pits: Container[str]) -> tuple[Notice, ...]:
    """Return a note on the bases that the fit doubts; see `doubt_notices`."""
    names = [model.stations.names[row] for row in model.stations.base_row]
    told = zip(names, model.base.no_pan_probability().tolist(), strict=True)
    return doubt_notices(told, str(model.report.get("outliers") or ""), pits)
