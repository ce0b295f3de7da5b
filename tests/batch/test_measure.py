"""Time and memory of a field."""

from __future__ import annotations

import sys
import time

import pytest

from zoning.batch.measure import Meter

LARGE_MB = 200


def test_time_is_that_of_the_clock() -> None:
    meter, before = Meter(), time.perf_counter()
    time.sleep(0.02)
    assert 0.02 <= meter.seconds() <= time.perf_counter() - before + 0.01


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
