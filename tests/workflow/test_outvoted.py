"""Pits that the readings about them outvote."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest

from zoning.model import FieldInputs
from zoning.workflow.decide import lay_ground


@pytest.fixture(scope="module")
def stations(sample_inputs: FieldInputs) -> pd.DataFrame:
    """Return the stations of the sample field, two pits dug beside stations of its body.

    One lies with the probe, the other's base is written twice as deep as any pan of the field.
    """
    sound = lay_ground(sample_inputs).read.stations
    read = sound[(sound["kind"] == "cone") & sound["used"] & (sound["part_used"] == "body")]
    read = read[read["pan_base_cm"].notna() & ~read["censored"]]
    middle = (read["pan_base_cm"] - read["pan_base_cm"].median()).abs().sort_values()
    chosen = read.loc[middle.index[:2], ["station", "x_m", "y_m", "lon", "lat", "pan_base_cm"]]
    dug = sample_inputs.pits.iloc[:2].assign(phase="before", pan="yes", part="", date="2026-09-01")
    for name in ("x_m", "y_m", "lon", "lat", "pan_base_cm"):
        dug[name] = chosen[name].to_numpy()
    dug = dug.assign(pit=["sound", "odd"], pan_base_cm=dug["pan_base_cm"] * [1, 2])
    pits = pd.concat([sample_inputs.pits, dug], ignore_index=True)
    found = lay_ground(replace(sample_inputs, pits=pits)).read.stations
    by_station = dict(zip(chosen["station"], dug["pit"], strict=True))
    return found.assign(beside=found["station"].map(by_station))


def test_the_probe_beside_a_pit_that_is_outvoted_is_heard(stations: pd.DataFrame) -> None:
    beside = stations.set_index("beside")
    assert beside.loc["odd", "used"]
    assert "Not used" not in beside.loc["odd", "reason"]
    assert beside.loc["sound", "used"]


def test_the_record_tells_how_much_such_a_pit_counts(stations: pd.DataFrame) -> None:
    pits = stations[stations["kind"] == "pit"].set_index("station")
    assert "Its base counts 0 %" in pits.loc["odd", "reason"]
    assert "counts" not in pits.loc["sound", "reason"]
