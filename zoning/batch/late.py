"""Fields on a cluster that take too long: their worker is ended, as it is on this machine."""

from __future__ import annotations

import threading
import time
from contextlib import suppress
from types import TracebackType
from typing import Any, Self

_LOOK_S = 1.0
_STOP_S = 5.0


class Watch:
    """Ends the worker of each field that takes too long, from a thread of its own.

    Parameters
    ----------
    client
        Of the cluster.
    seconds
        Time a field may take [s], counted while a worker holds it. The nanny of the worker starts
        another; a worker without one cannot be ended and stays where it is.
    """

    def __init__(self, client: Any, seconds: float) -> None:
        self._client = client
        self._seconds = seconds
        self._until: dict[Any, tuple[Any, float]] = {}
        self._late: set[Any] = set()
        self._lock = threading.Lock()
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._look, daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._over.set()

    def begin(self, future: Any) -> None:
        """Count the time of a field from now on."""
        with self._lock:
            self._until[future.key] = (future, time.monotonic() + self._seconds)

    def end(self, future: Any) -> bool:
        """Count no more, and return whether the field was ended because it took too long."""
        with self._lock:
            self._until.pop(future.key, None)
            return future.key in self._late

    def _look(self) -> None:
        while not self._over.wait(_LOOK_S):
            now = time.monotonic()
            with self._lock:
                due = [future for future, until in self._until.values() if until <= now]
            for future in due:
                # A client that is closing fails in many ways, and a scheduler that went away is
                # found by whoever waits for the fields; the others must still be looked at.
                with suppress(Exception):
                    self._stop(future)

    def _stop(self, future: Any) -> None:
        held = self._client.processing()
        workers = [address for address, keys in held.items() if future.key in keys]
        with self._lock:
            if self._until.pop(future.key, None) is None:  # done meanwhile
                return
            if not workers:  # it waits for one
                self._until[future.key] = (future, time.monotonic() + self._seconds)
                return
            self._late.add(future.key)
        self._client.cancel([future], force=True)
        with suppress(ValueError):  # no nanny
            self._client.restart_workers(workers, timeout=_STOP_S, raise_for_error=False)
