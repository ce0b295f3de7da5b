"""Pits dug at stations of the probe."""

from __future__ import annotations

import numpy as np
import pandas as pd

NAN = float("nan")


def place(kind: str, name: str, x_m: float, base_cm: float, **given: object) -> dict[str, object]:
    """Return a station or pit; a base that is NaN says that there is no pan."""
    pan = not np.isnan(base_cm)
    return {
        "kind": kind, "station": name, "x_m": x_m, "y_m": 0.0, "part": "", "part_used": "body",
        "n_pan": int(pan), "n_known": 1, "verdict": "pan" if pan else "no_pan",
        "pan_base_cm": base_cm, "censored": False, "used": True, "date": "2026-09-01",
    } | given  # fmt: skip


def pairs(*bases: tuple[float, float], **given: object) -> pd.DataFrame:
    """Return pits at stations, each pair with the base of the probe and that of the pit [cm]."""
    rows = []
    for i, (probe, pit) in enumerate(bases, start=1):
        rows.append(place("cone", f"S{i}", 100.0 * i, probe, **given))
        rows.append(place("pit", f"P{i}", 100.0 * i + 1.0, pit))
    return pd.DataFrame(rows)
