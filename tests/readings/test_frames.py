"""Frames that leave the reader."""

from __future__ import annotations

import pandas as pd

from zoning.readings.frames import TRIAL_COLUMNS, TRIAL_ORDER, framed


def test_an_empty_frame_has_its_columns_and_types() -> None:
    frame = framed([], TRIAL_COLUMNS, TRIAL_ORDER)
    assert {name: str(kind) for name, kind in frame.dtypes.items()} == dict(TRIAL_COLUMNS)


def test_rows_are_sorted_and_other_columns_dropped() -> None:
    row = {
        "speed_km_h": 8,
        "depth_setting_cm": 30,
        "loosened_at_leg_cm": 30,
        "loosened_between_cm": 25,
        "surface": "",
        "note": "",
        "file": "t.csv",
        "extra": 1,
    }
    parts = [pd.DataFrame([{**row, "run": name, "row": i}]) for i, name in enumerate("CAB")]
    frame = framed(parts, TRIAL_COLUMNS, TRIAL_ORDER)
    assert frame["run"].tolist() == ["A", "B", "C"]
    assert list(frame.columns) == list(TRIAL_COLUMNS)
    assert str(frame["speed_km_h"].dtype) == "float64"
