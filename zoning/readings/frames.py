"""Columns and types of the frames that leave the reader."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

import pandas as pd

CONE_COLUMNS: Mapping[str, str] = MappingProxyType(
    {
        "insertion_id": "str",
        "station": "str",
        "insertion": "int64",
        "x_m": "float64",
        "y_m": "float64",
        "lon": "float64",
        "lat": "float64",
        "depth_cm": "float64",
        "cone_index_mpa": "float64",
        "date": "str",
        "moisture": "str",
        "part": "str",
        "refused": "str",
        "note": "str",
        "file": "str",
        "row": "int64",
    }
)
PIT_COLUMNS: Mapping[str, str] = MappingProxyType(
    {
        "pit": "str",
        "date": "str",
        "phase": "str",
        "x_m": "float64",
        "y_m": "float64",
        "lon": "float64",
        "lat": "float64",
        "part": "str",
        "pan": "str",
        "pan_top_cm": "float64",
        "pan_base_cm": "float64",
        "structure_score": "float64",
        "moisture": "str",
        "loosened_at_leg_cm": "float64",
        "loosened_between_cm": "float64",
        "speed_km_h": "float64",
        "photo": "str",
        "note": "str",
        "file": "str",
        "row": "int64",
    }
)
TRIAL_COLUMNS: Mapping[str, str] = MappingProxyType(
    {
        "run": "str",
        "speed_km_h": "float64",
        "depth_setting_cm": "float64",
        "loosened_at_leg_cm": "float64",
        "loosened_between_cm": "float64",
        "surface": "str",
        "note": "str",
        "file": "str",
        "row": "int64",
    }
)
CONE_ORDER = ("station", "insertion", "depth_cm", "file", "row")
PIT_ORDER = ("pit", "phase", "file", "row")
TRIAL_ORDER = ("run", "file", "row")


def framed(
    parts: Sequence[pd.DataFrame], columns: Mapping[str, str], order: Sequence[str]
) -> pd.DataFrame:
    """Return the rows of `parts` with exactly `columns`, typed and sorted by `order`."""
    if not parts:
        return pd.DataFrame({name: pd.Series(dtype=kind) for name, kind in columns.items()})
    frame = pd.concat(parts, ignore_index=True)[list(columns)].astype(dict(columns))
    return frame.sort_values(list(order), kind="stable").reset_index(drop=True)
