"""Time and memory that a field takes."""

from __future__ import annotations

import contextlib
import time
from pathlib import Path

KB_PER_MB = 1024.0
_STATUS = Path("/proc/self/status")
_RESET = Path("/proc/self/clear_refs")
_RESET_PEAK = "5"  # see proc(5): resets the peak resident set size


class Meter:
    """Measures from the moment it is made."""

    def __init__(self) -> None:
        with contextlib.suppress(OSError):
            _RESET.write_text(_RESET_PEAK, encoding="ascii")
        self._start = time.perf_counter()

    def seconds(self) -> float:
        """Return the time since the start [s]."""
        return time.perf_counter() - self._start

    def peak_memory_mb(self) -> float | None:
        """Return the highest resident memory of this process since the start [MB].

        ``None`` where the system does not tell (it is read from ``/proc``, as Linux has it).
        """
        with contextlib.suppress(OSError):
            for line in _STATUS.read_text(encoding="ascii").splitlines():
                if line.startswith("VmHWM:"):
                    return float(line.split()[1]) / KB_PER_MB
        return None
