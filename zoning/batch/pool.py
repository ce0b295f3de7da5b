"""Fields planned by processes of this machine.

Each worker holds one field at a time and the parent knows which, so a field that ends its worker is
found out at once and no other suffers: the worker is replaced and the field given out again, until
it has ended as many as the rule allows. (A `concurrent.futures` pool breaks as a whole.)
"""

from __future__ import annotations

import time
from collections import Counter, deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing import get_context
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess

from zoning.batch.job import Job, Outcome
from zoning.batch.rules import rule
from zoning.batch.worker import serve
from zoning.units import S_PER_MIN

_STOP_S = 5.0
Serve = Callable[[Connection], None]


@dataclass(frozen=True, slots=True)
class Limits:
    """What a field may cost.

    Parameters
    ----------
    strikes
        Workers that a field may end before it is set aside.
    seconds
        Time after which a worker is ended and its field counts as failed [s].
    """

    strikes: int
    seconds: float

    @classmethod
    def usual(cls) -> Limits:
        """Return the limits of the table of rules."""
        return cls(int(rule("strikes")), rule("field_time_limit_min") * S_PER_MIN)


def too_long(job: Job, seconds: float) -> Outcome:
    """Return the outcome of a field that was ended after so many seconds."""
    what = f"It took longer than {seconds / S_PER_MIN:g} minutes and was ended."
    return Outcome(job.field, "failed", what)


@dataclass(slots=True, eq=False)
class _Worker:
    process: BaseProcess
    line: Connection
    job: Job | None = None
    until: float = 0.0

    def give(self, job: Job, seconds: float) -> None:
        self.job, self.until = job, time.monotonic() + seconds
        with suppress(ConnectionError):  # a worker that died meanwhile is found by its silence
            self.line.send(job)

    def end(self) -> int | None:
        """End the process if it still runs, and return its exit code."""
        self.line.close()
        if self.process.is_alive():
            self.process.kill()
        self.process.join(_STOP_S)
        return self.process.exitcode


def on_this_machine(
    jobs: Sequence[Job],
    *,
    processes: int,
    limits: Limits | None = None,
    work: Serve = serve,
) -> Iterator[Outcome]:
    """Plan `jobs` in `processes` worker processes and yield each outcome as it comes.

    Parameters
    ----------
    jobs
        Fields to plan, begun in this order.
    processes
        Worker processes; each uses one thread.
    limits
        What a field may cost; `Limits.usual` where not given.
    work
        What a worker does.
    """
    pool = _Pool(deque(jobs), limits if limits is not None else Limits.usual(), work)
    try:
        pool.start(min(processes, len(jobs)))
        while pool.workers:
            yield from pool.step()
    finally:
        pool.stop()


class _Pool:
    def __init__(self, waiting: deque[Job], limits: Limits, work: Serve) -> None:
        self.waiting = waiting
        self.limits = limits
        self.work = work
        self.workers: list[_Worker] = []
        self.strikes: Counter[str] = Counter()
        self.context = get_context("spawn")

    def start(self, count: int) -> None:
        """Start `count` workers, each with a job."""
        for _ in range(count):
            mine, theirs = self.context.Pipe()
            process = self.context.Process(target=self.work, args=(theirs,), daemon=True)
            process.start()
            theirs.close()
            worker = _Worker(process, mine)
            self.workers.append(worker)
            self._give(worker)

    def step(self) -> Iterator[Outcome]:
        """Wait for the next thing to happen and yield the outcomes that follow from it."""
        lines = {worker.line: worker for worker in self.workers}
        soonest = min(worker.until for worker in self.workers) - time.monotonic()
        for line in wait(list(lines), timeout=max(0.0, soonest)):
            yield from self._heard(lines[line])  # type: ignore[index]
        now = time.monotonic()
        for late in [worker for worker in self.workers if worker.until <= now]:
            yield self._too_long(late)

    def stop(self) -> None:
        """End every worker at once."""
        for worker in self.workers:
            worker.end()
        self.workers.clear()

    def _heard(self, worker: _Worker) -> Iterator[Outcome]:
        try:
            outcome: Outcome = worker.line.recv()
        except (EOFError, ConnectionError):
            yield from self._died(worker)
            return
        self._give(worker)
        yield outcome

    def _give(self, worker: _Worker) -> None:
        if self.waiting:
            worker.give(self.waiting.popleft(), self.limits.seconds)
            return
        self.workers.remove(worker)
        with suppress(ConnectionError):
            worker.line.send(None)
        worker.process.join(_STOP_S)
        worker.end()

    def _died(self, worker: _Worker) -> Iterator[Outcome]:
        job = self._take_from(worker)
        code = worker.end()
        self.strikes[job.field] += 1
        if self.strikes[job.field] >= self.limits.strikes:
            what = f"It ended its worker {self.limits.strikes} times (last exit code {code})"
            yield Outcome(job.field, "set_aside", f"{what}: too little memory, or a damaged file?")
        else:
            self.waiting.appendleft(job)
        self._replace()

    def _too_long(self, worker: _Worker) -> Outcome:
        job = self._take_from(worker)
        worker.end()
        self._replace()
        return too_long(job, self.limits.seconds)

    def _take_from(self, worker: _Worker) -> Job:
        self.workers.remove(worker)
        if worker.job is None:  # cannot be: a worker without a job has left the list
            raise RuntimeError("a worker without a job")
        return worker.job

    def _replace(self) -> None:
        if self.waiting:
            self.start(1)
