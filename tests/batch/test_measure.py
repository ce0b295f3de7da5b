"""Time and memory of a field."""

from __future__ import annotations

import sys
import time

import pytest

from zoning.batch.measure import Meter

LARGE_MB = 200


def test_time_counts_from_when_the_meter_was_made(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = iter((100.0, 102.5))
    monkeypatch.setattr(time, "perf_counter", lambda: next(clock))
    assert Meter().seconds() == 2.5


@pytest.mark.skipif(sys.platform != "linux", reason="read from /proc")
def test_the_peak_is_that_of_one_field_and_not_of_the_fields_before() -> None:
    low = Meter().peak_memory_mb()
    meter = Meter()
    block = bytearray(LARGE_MB * 2**20)
    block[::4096] = b"x" * len(block[::4096])
    high = meter.peak_memory_mb()
    del block
    after = Meter().peak_memory_mb()
    assert high - low == pytest.approx(LARGE_MB, rel=0.1)
    assert after < high - 0.8 * LARGE_MB
